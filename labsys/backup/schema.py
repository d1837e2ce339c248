"""Where a database stands among the migrations, and moving it within a transaction that is already open."""

from pathlib import Path

from alembic.config import Config
from alembic.runtime.environment import EnvironmentContext
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import Connection


def current(connection: Connection) -> str | None:
    """The migration a database stands at, None for one without tables."""
    return MigrationContext.configure(connection).get_current_revision()


def newest(migrations: Path) -> str:
    """The newest migration this labsys has."""
    head = ScriptDirectory(str(migrations)).get_current_head()
    assert head is not None  # noqa: S101 - a labsys without migrations cannot be built
    return head


def known(migrations: Path) -> frozenset[str]:
    return frozenset(script.revision for script in ScriptDirectory(str(migrations)).walk_revisions())


def move(connection: Connection, *, migrations: Path, to: str) -> None:
    """Take the tables up to a migration, or down to "base", in the connection's own transaction.

    `flask db upgrade` opens a connection of its own; here rows and tables must stand or fall together.
    """
    script = ScriptDirectory(str(migrations))
    steps = script._downgrade_revs if to == "base" else script._upgrade_revs
    with EnvironmentContext(Config(), script, fn=lambda revision, _: steps(to, revision)) as environment:
        environment.configure(connection=connection, render_as_batch=connection.dialect.name == "sqlite")
        environment.run_migrations()
