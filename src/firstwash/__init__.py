"""firstwash plans a transparent watercolour, from the first pale wash to the last dark."""
