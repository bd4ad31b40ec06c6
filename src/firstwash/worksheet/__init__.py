"""What the worksheet can do with a painting: no web and no store, only the work itself."""
