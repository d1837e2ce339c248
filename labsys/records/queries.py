"""What is read from the record: the lab, its head, a code, and whether the chain holds."""

import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TypeVar
from zoneinfo import ZoneInfo

from sqlalchemy import inspect, select
from sqlalchemy.orm.interfaces import ORMOption

from labsys.database import Base, DbSession
from labsys.records import chain
from labsys.records.errors import NotFound
from labsys.records.models import Code, CodeKind, IssuedDocument, Lab, RecordEntry, RecordHead, WaitingLabel

_BATCH = 1_000
AnyRow = TypeVar("AnyRow", bound=Base)


def get_or_raise(
    session: DbSession,
    table: type[AnyRow],
    key: object,
    kind: str,
    *,
    lock: bool = False,
    options: Sequence[ORMOption] = (),
) -> AnyRow:
    """Load a row by its key, with what the options add. Raises NotFound, which calls it by its kind.

    A locked row is read anew, and only it is locked, not what the options join to it.
    """
    if not options:
        row = session.get(table, key, with_for_update={"of": table} if lock else None, populate_existing=lock)
    else:  # `get` would pass a row the session holds already, without its options
        (primary,) = inspect(table).primary_key
        query = select(table).where(primary == key).options(*options)
        if lock:
            query = query.with_for_update(of=table).execution_options(populate_existing=True)
        row = session.execute(query).unique().scalar_one_or_none()
    if row is None:
        raise NotFound(kind, key)
    return row


@dataclass(frozen=True)
class Head:
    number: int
    hash: str

    @property
    def short_hash(self) -> str:
        return chain.short_hash(self.hash)


def lab_or_none(session: DbSession) -> Lab | None:
    return session.execute(select(Lab)).scalar_one_or_none()


def the_lab(session: DbSession) -> Lab:
    """The lab. The session holds on to its row, so that asking often costs one query."""
    lab = session.info["lab"] = session.get_one(Lab, 1)
    return lab


def nation(session: DbSession) -> str:
    """The nation the lab lies in."""
    lab = session.info["lab"] = session.get(Lab, 1)
    return lab.nation if lab else ""


def zone(session: DbSession) -> ZoneInfo:
    """The zone the lab lies in."""
    return ZoneInfo(the_lab(session).timezone)


def head(session: DbSession) -> Head:
    row = session.execute(select(RecordHead.number, RecordHead.hash)).one()
    return Head(row.number, row.hash)


def waiting_labels(session: DbSession) -> list[str]:
    """The codes whose labels wait to be printed, the longest waiting first."""
    waiting = select(WaitingLabel.code).order_by(WaitingLabel.waits_since, WaitingLabel.id)
    return list(session.execute(waiting).scalars())


def code_or_none(session: DbSession, code: str) -> Code | None:
    return session.get(Code, code)


def code_of(session: DbSession, *, kind: CodeKind, row_id: int) -> str | None:
    """The code that a row was given, where it has one."""
    return session.execute(select(Code.code).where(Code.kind == kind, Code.row_id == row_id)).scalar_one_or_none()


def document_or_none(session: DbSession, document_id: int) -> IssuedDocument | None:
    return session.get(IssuedDocument, document_id)


def find_fault(session: DbSession, *, tell: Callable[[int, int], None] = lambda _done, _of: None) -> chain.Fault | None:
    """Walk the whole record, a batch at a time, and return the first fault. `tell` hears how many entries of how many.

    On PostgreSQL it needs a transaction that stands still where others write meanwhile.
    """
    erasures = select(RecordEntry.payload).where(RecordEntry.payload.like('%"act":"record.erased"%'))
    erased = frozenset(
        number
        for (payload,) in session.execute(erasures)
        if payload and (content := json.loads(payload))["act"] == "record.erased"
        for number in content["facts"]["numbers"]
    )
    newest = head(session)

    def links() -> Iterator[chain.Link]:
        for link in _links(session):
            yield link
            if link.number % _BATCH == 0:
                tell(link.number, newest.number)

    return chain.find_fault(links(), head_number=newest.number, head_hash=newest.hash, erased=erased)


def entry_hash(session: DbSession, number: int) -> str | None:
    return session.execute(select(RecordEntry.hash).where(RecordEntry.number == number)).scalar_one_or_none()


def _links(session: DbSession) -> Iterator[chain.Link]:
    last = -1
    while True:
        columns = (
            RecordEntry.number,
            RecordEntry.at,
            RecordEntry.salt,
            RecordEntry.payload,
            RecordEntry.digest,
            RecordEntry.previous_hash,
            RecordEntry.hash,
        )
        rows = session.execute(
            select(*columns).where(RecordEntry.number > last).order_by(RecordEntry.number).limit(_BATCH)
        ).all()
        if not rows:
            return
        for row in rows:
            yield chain.Link._make(row)
        last = rows[-1].number
