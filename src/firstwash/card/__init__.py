"""The swatch card: what is painted where, the printed frame, and reading a photo of it."""
