"""Starting firstwash from the computer's own list of programs."""
