"""Putting a back-up into an empty database: whole and proved, or not at all."""

from collections.abc import Iterator
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy import Connection, Engine
from sqlalchemy.exc import DBAPIError
from sqlalchemy.orm import Session

from labsys.backup import schema
from labsys.backup.archive import ArchiveRefused, Manifest, Reader, Table
from labsys.backup.taking import TYPE_OF
from labsys.database import BEGIN_OPTION
from labsys.desk.verifying import first_fault
from labsys.records import queries as records

_AT_ONCE = 500
_VERSIONS = "alembic_version"


def restore(engine: Engine, *, path: Path, migrations: Path) -> Manifest:
    """Fill an empty database from an archive, bring it to this version's form, and check record and ledger.

    Tables and rows stand or fall in one transaction. Raises ArchiveRefused; nothing has changed then.
    """
    with Reader(path) as reader:
        manifest = reader.manifest
        if manifest.revision not in schema.known(migrations):
            raise ArchiveRefused(
                f"The back-up was made by labsys {manifest.labsys}, which is newer than this one (database version "
                f"{manifest.revision}). Install that version, then restore."
            )
        with engine.connect().execution_options(**{BEGIN_OPTION: "IMMEDIATE"}) as connection, connection.begin():
            _refuse_unless_empty(connection)
            _make_tables(connection, migrations=migrations, revision=manifest.revision)
            _fill(connection, reader)
            schema.move(connection, migrations=migrations, to="head")
            _check(connection, manifest)
    return manifest


def _refuse_unless_empty(connection: Connection) -> None:
    names = set(sa.inspect(connection).get_table_names()) - {_VERSIONS}
    if names and schema.current(connection) is None:
        raise ArchiveRefused("This database holds tables that are not of labsys. Restore into an empty one.")
    for name in sorted(names):
        if connection.execute(sa.select(1).select_from(sa.table(name)).limit(1)).first() is not None:
            raise ArchiveRefused("This database holds a lab. Restore into an empty one: name it, or a new instance.")


def _make_tables(connection: Connection, *, migrations: Path, revision: str) -> None:
    present = schema.current(connection)
    if present is not None and present not in schema.known(migrations):
        raise ArchiveRefused(f"This database was prepared by a newer labsys (version {present}). Restore with that.")
    if present not in (None, revision):
        schema.move(connection, migrations=migrations, to="base")
    schema.move(connection, migrations=migrations, to=revision)


def _fill(connection: Connection, reader: Reader) -> None:
    tables = reader.manifest.tables
    made = set(sa.inspect(connection).get_table_names()) - {_VERSIONS}
    if odd := made ^ {table.name for table in tables}:
        raise ArchiveRefused(f"The back-up does not fit its own version: {', '.join(sorted(odd))}.")
    for table in tables:
        columns = [sa.column(column.name, TYPE_OF[column.kind]()) for column in table.columns]
        insert = sa.insert(sa.table(table.name, *columns))
        try:
            for rows in _batches(reader, table):
                connection.execute(insert, rows)
        except DBAPIError as error:
            raise ArchiveRefused(f"The rows of {table.name} do not fit together: {error.orig}.") from error
        if connection.dialect.name == "postgresql":
            _go_on_numbering(connection, table)


def _batches(reader: Reader, table: Table) -> Iterator[list[dict[str, object]]]:
    names = [column.name for column in table.columns]
    batch: list[dict[str, object]] = []
    for row in reader.rows(table):
        batch.append(dict(zip(names, row, strict=True)))
        if len(batch) == _AT_ONCE:
            yield batch
            batch = []
    if batch:
        yield batch


def _go_on_numbering(connection: Connection, table: Table) -> None:
    """Let PostgreSQL's sequence go on after the newest row; SQLite does so by itself."""
    if not table.rows or "id" not in {column.name for column in table.columns}:
        return
    sequence = sa.func.pg_get_serial_sequence(table.name, "id")
    if (name := connection.execute(sa.select(sequence)).scalar_one()) is not None:
        newest = sa.select(sa.func.max(sa.column("id"))).select_from(sa.table(table.name)).scalar_subquery()
        connection.execute(sa.select(sa.func.setval(name, newest)))


def _check(connection: Connection, manifest: Manifest) -> None:
    with Session(connection) as session:
        head = records.head(session)
        if (head.number, head.hash) != (manifest.head_number, manifest.head_hash):
            raise ArchiveRefused("The head of the record is not the one the manifest names.")
        if fault := first_fault(session):
            raise ArchiveRefused(fault)
