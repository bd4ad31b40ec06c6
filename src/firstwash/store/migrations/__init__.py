"""Migrations of the database, run by `store.migrate`; one script per version."""

__all__: list[str] = []
