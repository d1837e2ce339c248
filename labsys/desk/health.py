"""Whether the database answers, which engine it is, whether its tables are those wanted, and whether jobs are done."""

from collections.abc import Collection
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import cache

from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory

from labsys.database import DbSession
from labsys.jobs import queries as jobs
from labsys.jobs.rules import LONG_WAIT

_FIRST_WITHOUT_WAL_RESET = (3, 51, 3)


@dataclass(frozen=True)
class Health:
    """What the health page tells; `notes` are for whoever hosts the lab.

    Attributes:
        oldest_due_job_s: How long the job that has been due for longest has waited; 0 where none waits. [s]
    """

    engine: str
    engine_version: str
    migration: str | None
    migration_wanted: str | None
    database: str = "reachable"
    oldest_due_job_s: int = 0
    notes: list[str] = field(default_factory=list)


def health(session: DbSession, *, migrations: str, kinds: Collection[str], now: datetime) -> Health:
    """Ask the database. Raises SQLAlchemyError where it does not answer."""
    connection = session.connection()
    engine = connection.dialect.name
    version = connection.dialect.server_version_info or ()
    migration = MigrationContext.configure(connection).get_current_revision()
    wanted = _newest(migrations)
    due_since = jobs.due_since(session, kinds=kinds, now=now) if migration == wanted else None
    waited = now - due_since if due_since else timedelta(0)
    notes = [sqlite_note(version) if engine == "sqlite" else "", migration_note(migration, wanted), jobs_note(waited)]
    return Health(
        engine,
        ".".join(map(str, version)),
        migration,
        wanted,
        oldest_due_job_s=int(waited.total_seconds()),
        notes=[note for note in notes if note],
    )


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


def jobs_note(waited: timedelta) -> str:
    """Say when nobody seems to do the jobs that are due, or an empty text.

    >>> jobs_note(timedelta(minutes=10))
    ''
    """
    if waited <= LONG_WAIT:
        return ""
    minutes = int(waited.total_seconds() // 60)
    return f"A job has been due for {minutes} minutes. Is `labsys serve` running, or `labsys run-jobs` in cron?"


@cache
def _newest(migrations: str) -> str | None:
    return ScriptDirectory(migrations).get_current_head()
