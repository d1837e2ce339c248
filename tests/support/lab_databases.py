"""The database behind the application that all tests share: before each test it holds the small lab, and only that.

It can be asked to keep what it holds at some moment, and to begin with that another time.
"""

import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any, NamedTuple, Protocol, TypeVar

import psycopg

from tests.support.postgresql import drop_database, make_database

Kept = TypeVar("Kept")


class LabDatabase(Protocol[Kept]):
    def fill(self, kept: Kept | None = None) -> str:
        """Hold the small lab again, or what was kept, and nothing else. Gives the address."""

    def keep(self) -> Kept:
        """What it holds now."""

    def is_touched(self) -> bool:
        """Whether anything was written since it was filled or kept. In doubt it was."""

    def drop(self) -> None: ...


class CopiedDatabase:
    """On SQLite: each time a new copy of a file."""

    def __init__(self, template: Path, folder: Path, *, new_name: Callable[[], str]):
        self._template, self._folder, self._new_name = template, folder, new_name
        self._path: Path | None = None

    def fill(self, kept: Path | None = None) -> str:
        self.drop()
        self._path = self._folder / f"{self._new_name()}.sqlite3"
        shutil.copy(kept or self._template, self._path)
        self._watch = sqlite3.connect(self._path)
        self._version = self._data_version()
        return f"sqlite:///{self._path}"

    def keep(self) -> Path:
        kept = self._folder / f"kept-{self._new_name()}.sqlite3"
        with closing(sqlite3.connect(kept)) as copy:
            self._watch.backup(copy)
        self._version = self._data_version()
        return kept

    def is_touched(self) -> bool:
        return self._data_version() != self._version

    def drop(self) -> None:
        if self._path is not None:
            self._watch.close()
            for file in self._folder.glob(f"{self._path.name}*"):
                file.unlink()
            self._path = None

    def _data_version(self) -> int:
        """Changes when another connection has written."""
        return int(self._watch.execute("PRAGMA data_version").fetchone()[0])


_NUMBERING = "SELECT quote_ident(sequencename), last_value FROM pg_sequences ORDER BY 1"
_TABLES = "SELECT quote_ident(tablename) FROM pg_tables WHERE schemaname = 'public' ORDER BY 1"
_OTHERS = (
    "SELECT count(*) FROM pg_stat_activity"
    " WHERE datname = current_database() AND pid <> pg_backend_pid() AND state <> 'idle'"
)
_WRITERS = "SELECT pg_snapshot_xmax(pg_current_snapshot())::text"
# Whatever changes tables, columns, rules or triggers adds rows here, takes some away or writes newer ones.
_SHAPE = " UNION ALL ".join(
    f"SELECT count(*), max(xmin::text::bigint) FROM {catalogue}"
    for catalogue in ("pg_class", "pg_attribute", "pg_constraint", "pg_trigger", "pg_proc")
)


class Rows(NamedTuple):
    """What a PostgreSQL database holds: rows by table, and the statement that sets what numbers rows."""

    of: dict[str, bytes]
    numbering: str


class RefilledDatabase:
    """On PostgreSQL: made once and filled anew each time, for a new one costs some fifty times as much.

    Every row goes, those wanted come back, and what numbers rows starts where it stood. Connections may stay open in
    between. Where a test changed the tables themselves, or left something running, the database is made anew from the
    template under another name; so it is each time on a server where we may not hold back triggers.
    """

    def __init__(self, address: str, template: str, *, new_name: Callable[[], str]):
        self._address, self._template, self._new_name = address, template, new_name
        self._connection: Any = None

    def fill(self, kept: Rows | None = None) -> str:
        if self._connection is None or not self._may_stay():
            self.drop()
            self._make()
        if self._is_ours:
            self._refill(kept or self._first)
        self._writers = self._ask(_WRITERS)
        return self._url

    def keep(self) -> Rows:
        rows = {table: rows for table in self._tables if (rows := self._copy_out(table))}
        numbering = ", ".join(
            f"setval('{name}', {last or 1}, {last is not None})" for name, last in self._ask(_NUMBERING)
        )
        self._writers = self._ask(_WRITERS)
        return Rows(rows, f"SELECT {numbering}")

    def is_touched(self) -> bool:
        return not self._is_ours or self._ask(_WRITERS) != self._writers

    def drop(self) -> None:
        if self._connection is not None:
            self._connection.close()
            drop_database(self._address, self._name)
            self._connection = None

    def _make(self) -> None:
        self._name = self._new_name()
        self._url = make_database(self._address, self._name, template=self._template)
        self._connection = psycopg.connect(self._url)
        self._is_ours = self._connection.info.parameter_status("is_superuser") == "on"
        self._tables = [name for (name,) in self._ask(_TABLES)]
        self._empty = "; ".join(f"DELETE FROM {table}" for table in self._tables)
        self._shape = self._ask(_SHAPE)
        self._first = self.keep()

    def _may_stay(self) -> bool:
        return self._is_ours and self._ask(_OTHERS) == [(0,)] and self._ask(_SHAPE) == self._shape

    def _refill(self, wanted: Rows) -> None:
        with self._connection.transaction(), self._connection.cursor() as cursor:
            cursor.execute("SET LOCAL session_replication_role = replica")  # no triggers: some refuse to delete
            cursor.execute(self._empty)
            for table, rows in wanted.of.items():
                with cursor.copy(f"COPY {table} FROM STDIN") as copy:
                    copy.write(rows)
            cursor.execute(wanted.numbering)

    def _copy_out(self, table: str) -> bytes:
        cursor = self._connection.cursor()
        with self._connection.transaction(), cursor.copy(f"COPY {table} TO STDOUT") as copy:
            return b"".join(bytes(piece) for piece in copy)

    def _ask(self, query: str) -> list[tuple[Any, ...]]:
        with self._connection.transaction():
            return self._connection.execute(query).fetchall()
