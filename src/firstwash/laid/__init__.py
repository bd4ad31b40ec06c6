"""What has been laid so far: told from a photo of the unfinished painting."""
