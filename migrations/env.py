"""Runs migrations against the application's database, on SQLite and PostgreSQL alike."""

from alembic import context
from flask import current_app
from sqlalchemy import Connection

extension = current_app.extensions["migrate"]
database = extension.db


def run(connection: Connection) -> None:
    context.configure(
        connection=connection,
        target_metadata=database.metadata,
        render_as_batch=connection.dialect.name == "sqlite",
        compare_type=True,
    )
    with context.begin_transaction():
        context.run_migrations()


with database.engine.connect() as connection:
    run(connection)
