"""The sheet on the board, seen in a photo."""
