"""Taking a back-up: all rows of all tables as they stood at one moment, while people go on working."""

import os
import tempfile
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import sqlalchemy as sa
from sqlalchemy import Connection, Engine

from labsys import __version__
from labsys.backup import archive, schema
from labsys.backup.archive import Column, Kind, Manifest
from labsys.database import Base, UtcDateTime
from labsys.records.models import Lab, RecordHead

_AT_ONCE = 500
_KINDS: tuple[tuple[type[sa.types.TypeEngine[Any]], Kind], ...] = (
    (UtcDateTime, Kind.INSTANT),
    (sa.Date, Kind.DAY),
    (sa.LargeBinary, Kind.BYTES),
    (sa.Boolean, Kind.BOOLEAN),
    (sa.Integer, Kind.INTEGER),
    (sa.String, Kind.TEXT),
)
TYPE_OF: dict[Kind, type[sa.types.TypeEngine[Any]]] = {
    **{kind: type_ for type_, kind in _KINDS},
    Kind.INTEGER: sa.BigInteger,
}


class BackupRefused(Exception):
    """No back-up can be taken so; the message says why and what to do."""


class NoKind(TypeError):
    """A column has a type that archives do not know how to write yet."""


def back_up(engine: Engine, *, path: Path, migrations: Path, now: datetime) -> Manifest:
    """Write the whole lab into a new file, readable by its owner alone.

    Everything is read in one transaction (SQLite: a read of the write-ahead log; PostgreSQL: REPEATABLE READ), so the
    file holds one moment. It gets its name only once it is whole. Raises BackupRefused.
    """
    if path.exists():
        raise BackupRefused(f"{path} exists. A back-up is never written over another: choose a new name.")
    if not path.parent.is_dir():
        raise BackupRefused(f"There is no folder {path.parent}.")
    descriptor, unfinished = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
    try:
        with os.fdopen(descriptor, "wb") as file:
            with _reading(engine) as connection, archive.Writer(file) as writer:
                manifest = _write(connection, writer, migrations=migrations, now=now)
            file.flush()
            os.fsync(file.fileno())
        if path.exists():
            raise BackupRefused(f"{path} appeared meanwhile. Choose another name.")
        Path(unfinished).rename(path)
    except BaseException:
        Path(unfinished).unlink(missing_ok=True)
        raise
    return manifest


def kind_of(column: sa.Column[Any]) -> Kind:
    """How a column is written into an archive. Raises NoKind."""
    for type_, kind in _KINDS:
        if isinstance(column.type, type_):
            return kind
    raise NoKind(f"{column}: {column.type!r}")


def _reading(engine: Engine) -> Connection:
    connection = engine.connect()
    if engine.dialect.name == "postgresql":
        connection.execution_options(isolation_level="REPEATABLE READ", postgresql_readonly=True)
    return connection


def _write(connection: Connection, writer: archive.Writer, *, migrations: Path, now: datetime) -> Manifest:
    revision, newest = schema.current(connection), schema.newest(migrations)
    if revision != newest:
        raise BackupRefused(
            f"The database is at version {revision} and this labsys at {newest}. Run `labsys migrate` first."
        )
    lab_name = connection.execute(sa.select(Lab.name)).scalar_one_or_none()
    if lab_name is None:
        raise BackupRefused("There is no lab in this instance yet. Run `labsys init`.")
    head = connection.execute(sa.select(RecordHead.number, RecordHead.hash)).one()
    for table in Base.metadata.sorted_tables:
        columns = [Column(column.name, kind_of(column)) for column in table.columns]
        writer.add_table(table.name, columns, _rows(connection, table, columns))
    return writer.finish(
        labsys=__version__, revision=newest, made_at=now, lab=lab_name, head_number=head.number, head_hash=head.hash
    )


def _rows(connection: Connection, table: sa.Table, columns: list[Column]) -> Iterator[archive.Row]:
    """The rows by primary key: rows of one table name only earlier ones, so they can be put back in this order."""
    query = sa.select(*(sa.type_coerce(table.c[column.name], TYPE_OF[column.kind]()) for column in columns))
    collate = connection.dialect.name == "postgresql"  # as SQLite sorts, so that equal labs make equal files
    keys = [key.collate("C") if collate and kind_of(key) is Kind.TEXT else key for key in table.primary_key]
    with connection.execution_options(yield_per=_AT_ONCE).execute(query.order_by(*keys)) as rows:
        for row in rows:
            yield tuple(row)
