"""Whether the database answers, which engine it is, and whether its tables are those this version wants."""

from dataclasses import dataclass, field
from functools import cache

from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory

from labsys.database import DbSession

_FIRST_WITHOUT_WAL_RESET = (3, 51, 3)


@dataclass(frozen=True)
class Health:
    """What the health page tells; `notes` are for whoever hosts the lab."""

    engine: str
    engine_version: str
    migration: str | None
    migration_wanted: str | None
    database: str = "reachable"
    notes: list[str] = field(default_factory=list)


def health(session: DbSession, *, migrations: str) -> Health:
    """Ask the database. Raises SQLAlchemyError where it does not answer."""
    connection = session.connection()
    engine = connection.dialect.name
    version = connection.dialect.server_version_info or ()
    migration = MigrationContext.configure(connection).get_current_revision()
    wanted = _newest(migrations)
    notes = [
        note for note in (sqlite_note(version) if engine == "sqlite" else "", migration_note(migration, wanted)) if note
    ]
    return Health(engine, ".".join(map(str, version)), migration, wanted, notes=notes)


def sqlite_note(version: tuple[int | str, ...]) -> str:
    """Say what is known against a version of SQLite, or an empty text.

    Source: SQLite's own account of the fault, "The WAL-Reset Bug", sqlite.org/wal.html (from memory).

    >>> sqlite_note((3, 51, 3))
    ''
    """
    if tuple(map(int, version)) >= _FIRST_WITHOUT_WAL_RESET:
        return ""
    return (
        "This SQLite is older than 3.51.3. SQLite documents a rare fault there that can damage a database in "
        "write-ahead mode when two connections write or checkpoint at the same moment. Upgrade SQLite when you can, "
        "and keep back-ups."
    )


def migration_note(migration: str | None, wanted: str | None) -> str:
    """Say when the tables are not those this version of labsys wants, or an empty text."""
    if migration == wanted:
        return ""
    return f"The tables are at step {migration or 'none'}; this version of labsys wants {wanted}. Upgrade the database."


@cache
def _newest(migrations: str) -> str | None:
    return ScriptDirectory(migrations).get_current_head()
