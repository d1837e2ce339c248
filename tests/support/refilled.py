"""A PostgreSQL database that is made once and filled anew for each test: a new one costs some fifty times as much."""

from collections.abc import Callable

import psycopg

from tests.support.postgresql import drop_database, make_database

_NUMBERING = "SELECT quote_ident(sequencename), last_value FROM pg_sequences ORDER BY 1"
_TABLES = "SELECT quote_ident(tablename) FROM pg_tables WHERE schemaname = 'public' ORDER BY 1"
_OTHERS = (
    "SELECT count(*) FROM pg_stat_activity"
    " WHERE datname = current_database() AND pid <> pg_backend_pid() AND state <> 'idle'"
)
# Whatever changes tables, columns, rules or triggers adds rows here, takes some away or writes newer ones.
_SHAPE = " UNION ALL ".join(
    f"SELECT count(*), max(xmin::text::bigint) FROM {catalogue}"
    for catalogue in ("pg_class", "pg_attribute", "pg_constraint", "pg_trigger", "pg_proc")
)


class RefilledDatabase:
    """Holds, each time it is asked for, what its template holds and nothing else.

    Every row goes, those of the template come back, and what numbers rows starts where it stood. Connections may stay
    open in between. Where a test changed the tables themselves, or left something running, the database is made anew
    from the template under another name; so it is each time on a server where we may not hold back triggers.
    """

    def __init__(self, address: str, template: str, *, new_name: Callable[[], str]):
        self._address, self._template, self._new_name = address, template, new_name
        self._connection: psycopg.Connection | None = None

    def fill(self) -> str:
        """Fill it anew and give its address."""
        if self._connection is None or not self._may_stay(self._connection):
            self.drop()
            self._make()
        else:
            self._refill(self._connection)
        return self._url

    def drop(self) -> None:
        if self._connection is not None:
            self._connection.close()
            drop_database(self._address, self._name)
            self._connection = None

    def _make(self) -> None:
        self._name = self._new_name()
        self._url = make_database(self._address, self._name, template=self._template)
        self._connection = connection = psycopg.connect(self._url)
        tables = [name for (name,) in connection.execute(_TABLES)]
        self._rows = {table: rows for table in tables if (rows := _copy_out(connection, table))}
        self._empty = "; ".join(f"DELETE FROM {table}" for table in tables)
        self._number_anew = "SELECT " + ", ".join(
            f"setval('{name}', {last or 1}, {last is not None})" for name, last in connection.execute(_NUMBERING)
        )
        self._shape = connection.execute(_SHAPE).fetchall()
        connection.commit()

    def _may_stay(self, connection: psycopg.Connection) -> bool:
        (others,) = connection.execute(_OTHERS).fetchone() or (0,)
        same = others == 0 and connection.execute(_SHAPE).fetchall() == self._shape
        return same and connection.info.parameter_status("is_superuser") == "on"

    def _refill(self, connection: psycopg.Connection) -> None:
        connection.execute("SET LOCAL session_replication_role = replica")  # no triggers: some refuse to delete
        connection.execute(self._empty)
        with connection.cursor() as cursor:
            for table, rows in self._rows.items():
                with cursor.copy(f"COPY {table} FROM STDIN") as copy:
                    copy.write(rows)
        connection.execute(self._number_anew)
        connection.commit()


def _copy_out(connection: psycopg.Connection, table: str) -> bytes:
    with connection.cursor() as cursor, cursor.copy(f"COPY {table} TO STDOUT") as copy:
        return b"".join(bytes(piece) for piece in copy)
