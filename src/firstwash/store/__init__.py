"""The painter's paintings, kept on his own computer: every accepted change, and its files."""

__all__: list[str] = []
