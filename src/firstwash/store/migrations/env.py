"""What Alembic runs to migrate: on the connection it is given, inside its transaction."""

from alembic import context

from firstwash.store.schema import metadata

__all__: list[str] = []

# render_as_batch: SQLite changes a column by copying the table.
context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    render_as_batch=True,
)
context.run_migrations()
