"""Steps acts use: append to the record, give out a code. None of them commits."""

import secrets
from collections.abc import Collection, Mapping, Sequence
from datetime import datetime
from typing import Any, NamedTuple, Protocol

from sqlalchemy import delete, select, text

from labsys.database import DbSession
from labsys.records import chain, rules
from labsys.records.models import Code, CodeKind, Lab, RecordEntry, RecordHead, WaitingLabel

_NEXT_NUMBER = text(
    "INSERT INTO code_counters (kind, last) VALUES (:kind, 1) "
    "ON CONFLICT (kind) DO UPDATE SET last = code_counters.last + 1 RETURNING last"
)


class Actor(Protocol):
    """Who acts: anything with an id and a name."""

    @property
    def id(self) -> int: ...
    @property
    def name(self) -> str: ...


class About(Protocol):
    """What an entry is about: any table row with an id."""

    __tablename__: str

    @property
    def id(self) -> int: ...


class Told(NamedTuple):
    """One thing an act did: its name, the row it is about, what else the record keeps of it, and who did it."""

    name: str
    about: About
    facts: Mapping[str, Any]
    by: Actor | None

    @property
    def payload(self) -> dict[str, Any]:
        """As the entry keeps it; nobody acts where the lab itself does (a command, a timer)."""
        return {
            "act": self.name,
            "about": [self.about.__tablename__, self.about.id],
            "by": [self.by.id, self.by.name] if self.by else None,
            "facts": self.facts,
        }


def append(session: DbSession, *, told: Sequence[Told], at: datetime, through: int | None = None) -> RecordEntry:
    """Append one entry to the record: what an act did first, and under "also" whatever else it did.

    The last step of an act, so that the head is locked for as short as can be. `through` is the shared tablet.
    """
    session.flush()
    head = session.execute(select(RecordHead).with_for_update().execution_options(populate_existing=True)).scalar_one()
    content = told[0].payload
    if further := [each.payload for each in told[1:]]:
        content["also"] = further
    if through is not None:
        content["through"] = ["enrolled_devices", through]
    payload = chain.canonical(content)
    salt = secrets.token_hex(16)
    digest = chain.payload_digest(salt=salt, payload=payload)
    number = head.number + 1
    entry = RecordEntry(
        number=number,
        at=at,
        salt=salt,
        payload=payload,
        digest=digest,
        previous_hash=head.hash,
        hash=chain.link_hash(number=number, at=at, digest=digest, previous_hash=head.hash),
    )
    session.add(entry)
    head.number, head.hash = number, entry.hash
    session.flush()
    return entry


def begin_record(session: DbSession) -> None:
    """Write the row that every record starts from: an empty head."""
    session.add(RecordHead(id=1, number=0, hash=chain.GENESIS))
    session.flush()


def give_code(session: DbSession, *, kind: CodeKind, row_id: int) -> str:
    """Give a row its code. Numbers run without gaps within a kind."""
    prefix = session.execute(select(Lab.code_prefix)).scalar_one()
    number = session.execute(_NEXT_NUMBER, {"kind": kind.value}).scalar_one()
    code = rules.write_code(prefix=prefix, kind=kind, number=number)
    session.add(Code(code=code, kind=kind, row_id=row_id))
    session.flush()
    return code


def await_label(session: DbSession, code: str, *, since: datetime) -> None:
    """Let the label of what bears a code wait to be printed; asked again, it waits as before."""
    if session.execute(select(WaitingLabel.id).where(WaitingLabel.code == code)).first() is None:
        session.add(WaitingLabel(code=code, waits_since=since))
        session.flush()


def label_settled(session: DbSession, codes: Collection[str]) -> None:
    """Take labels out of the queue: they were printed, or what they were for is gone."""
    session.execute(delete(WaitingLabel).where(WaitingLabel.code.in_(codes)))
