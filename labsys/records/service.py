"""Steps every act uses: append to the record, give out a code, keep an issued document. None of them commits."""

import hashlib
import secrets
from collections.abc import Mapping
from datetime import datetime
from typing import Any, Protocol

from sqlalchemy import select, text, update

from labsys.database import DbSession
from labsys.records import chain, rules
from labsys.records.models import Code, CodeKind, IssuedDocument, Lab, RecordEntry, RecordHead

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


def append(
    session: DbSession,
    *,
    act: str,
    about: About,
    at: datetime,
    actor: Actor | None,
    facts: Mapping[str, Any] | None = None,
) -> RecordEntry:
    """Append one entry to the record: the last step of an act, so that the head is locked for as short as can be.

    `actor` is None for the lab itself (a command, a timer). `facts` must be plain JSON values.
    """
    session.flush()
    head = session.execute(select(RecordHead).with_for_update().execution_options(populate_existing=True)).scalar_one()
    payload = chain.canonical(
        {
            "act": act,
            "about": [about.__tablename__, about.id],
            "by": [actor.id, actor.name] if actor else None,
            "facts": dict(facts or {}),
        }
    )
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


def erase_contents(session: DbSession, *, numbers: frozenset[int], actor: Actor, at: datetime, lab: Lab) -> None:
    """Erase payload and salt of entries, as the law may ask; the erasure is an entry of its own."""
    session.execute(update(RecordEntry).where(RecordEntry.number.in_(numbers)).values(payload=None, salt=None))
    append(session, act="record.erased", about=lab, at=at, actor=actor, facts={"numbers": sorted(numbers)})


def give_code(session: DbSession, *, kind: CodeKind, row_id: int) -> str:
    """Give a row its code. Numbers run without gaps within a kind."""
    prefix = session.execute(select(Lab.code_prefix)).scalar_one()
    number = session.execute(_NEXT_NUMBER, {"kind": kind.value}).scalar_one()
    code = rules.write_code(prefix=prefix, kind=kind, number=number)
    session.add(Code(code=code, kind=kind, row_id=row_id))
    session.flush()
    return code


def keep_document(
    session: DbSession,
    *,
    kind: str,
    title: str,
    parameters: Mapping[str, Any],
    content: bytes,
    head: tuple[int, str],
    actor: Actor,
    at: datetime,
) -> IssuedDocument:
    """Keep a drawn document with the head of the record that it prints, and put its digest on the record."""
    document = IssuedDocument(
        kind=kind,
        title=title,
        parameters=chain.canonical(parameters),
        issued_at=at,
        issued_by_id=actor.id,
        head_number=head[0],
        head_hash=head[1],
        digest=hashlib.sha256(content).hexdigest(),
        content=content,
    )
    session.add(document)
    session.flush()
    facts = {"kind": kind, "parameters": dict(parameters), "digest": document.digest}
    append(session, act="document.issued", about=document, at=at, actor=actor, facts=facts)
    return document
