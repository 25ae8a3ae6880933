"""Alembic's entry point: it runs the migrations on the connection that the store hands over, in its transaction."""

from __future__ import annotations

from alembic import context

context.configure(
    connection=context.config.attributes["connection"],
    render_as_batch=True,  # SQLite changes a table by copying it
    transaction_per_migration=False,
)
context.run_migrations()
