"""The light in a picture: local colour told from the light that falls on it."""
