"""The database: base class, column types, and how transactions begin on SQLite and PostgreSQL."""

import enum
import sqlite3
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from flask_sqlalchemy import SQLAlchemy
from sqlalchemy import BigInteger, Dialect, Enum, Integer, MetaData, String, Text, event
from sqlalchemy.dialects import postgresql
from sqlalchemy.engine import Connection, Engine
from sqlalchemy.exc import DBAPIError, IntegrityError
from sqlalchemy.orm import DeclarativeBase, Session, registry, scoped_session
from sqlalchemy.types import TypeDecorator, TypeEngine

DbSession = Session | scoped_session[Any]

LARGEST_ROW = 2**63 - 1
BEGIN_OPTION = "labsys_begin"
_LOCK_CONFLICTS = {"40P01", "40001"}  # PostgreSQL: deadlock, serialisation failure


_WORDS = Enum(enum.Enum, native_enum=False, length=40, values_callable=lambda kind: [member.value for member in kind])


_NAMES = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}


class Base(DeclarativeBase):
    registry = registry(metadata=MetaData(naming_convention=_NAMES), type_annotation_map={enum.Enum: _WORDS})


db = SQLAlchemy(model_class=Base)

if TYPE_CHECKING:
    Model = Base
else:
    Model = db.Model

BigId = BigInteger().with_variant(Integer, "sqlite")  # SQLite numbers rows by itself only for its own INTEGER


def made_text(usual: int) -> TypeEngine[str]:
    """The type of a sentence that the house makes of names people typed: nobody can say how long it comes out.

    PostgreSQL refuses what is longer than a column says, SQLite does not ask.
    """
    return String(usual).with_variant(Text(), "postgresql")


class UtcDateTime(TypeDecorator[datetime]):
    """An instant: timestamptz on PostgreSQL, fixed-format UTC text on SQLite, where text order is then time order."""

    impl = String(27)
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> TypeEngine[Any]:
        if dialect.name == "postgresql":
            return dialect.type_descriptor(postgresql.TIMESTAMP(timezone=True))
        return dialect.type_descriptor(String(27))

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> Any:
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("an instant carries a zone")
        utc = value.astimezone(UTC)
        return utc if dialect.name == "postgresql" else utc.strftime("%Y-%m-%dT%H:%M:%S.%fZ")

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        if isinstance(value, datetime):
            return value.astimezone(UTC)
        return datetime.fromisoformat(value)  # reads this format fifty times as fast as strptime


def prepare_engine(engine: Engine) -> None:
    """Make SQLite keep its word: write-ahead log, full sync, foreign keys, and transactions begun by us.

    Python's driver begins transactions late and only before writes; two readers that both go on to write then meet
    "database is locked". Here what writes says BEGIN IMMEDIATE before its first query (`labsys.records.transactions`).
    """
    if engine.dialect.name != "sqlite":
        return

    @event.listens_for(engine, "connect")
    def set_pragmas(connection: sqlite3.Connection, _record: object) -> None:
        connection.isolation_level = None
        for pragma in (
            "busy_timeout=5000",
            "journal_mode=WAL",
            "synchronous=FULL",
            "foreign_keys=ON",
            "recursive_triggers=ON",  # else INSERT OR REPLACE slips past a trigger that refuses deletes
        ):
            connection.execute(f"PRAGMA {pragma}")

    @event.listens_for(engine, "begin")
    def begin(connection: Connection) -> None:
        connection.exec_driver_sql(f"BEGIN {connection.get_execution_options().get(BEGIN_OPTION, 'DEFERRED')}")


def violates(error: DBAPIError, constraint: str, *, columns: str | None = None) -> bool:
    """Whether this database error comes from the named constraint, or from the trigger that stands in for it.

    SQLite names the columns of a broken unique constraint, not the constraint: give them as "table.column".
    """
    diagnosis = getattr(error.orig, "diag", None)
    if diagnosis is not None:
        return bool(diagnosis.constraint_name == constraint)
    return (columns or constraint) in str(error.orig)


def flush_or_refuse(session: DbSession, refusal: Exception, *, constraint: str, columns: str) -> None:
    """Write; the database has the last word where two people enter the same thing at once: the refusal is raised."""
    try:
        session.flush()
    except IntegrityError as error:
        if violates(error, constraint, columns=columns):
            raise refusal from error
        raise


def is_lock_conflict(error: DBAPIError) -> bool:
    """Whether trying again may succeed: PostgreSQL gave up this transaction for the sake of another."""
    return getattr(error.orig, "sqlstate", None) in _LOCK_CONFLICTS
