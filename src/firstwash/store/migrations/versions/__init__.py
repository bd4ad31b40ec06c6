"""One script per version of the database, oldest first."""

__all__: list[str] = []
