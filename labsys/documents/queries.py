"""What is read of issued documents."""

import json
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, and_, or_, select
from sqlalchemy.orm import undefer

from labsys.database import DbSession
from labsys.people.models import Person
from labsys.records import chain
from labsys.records.models import IssuedDocument, RecordEntry
from labsys.records.queries import get_or_raise

_ENTRIES_LOOKED_AT = 1_000  # other acts may come onto the record between a document's drawing and its own entry


@dataclass(frozen=True)
class Issued:
    """An issued document without its bytes, and who issued it."""

    document: IssuedDocument
    by: str


def document_or_raise(session: DbSession, document_id: int) -> IssuedDocument:
    """Read one issued document with its bytes. Raises NotFound."""
    return get_or_raise(session, IssuedDocument, document_id, "document", options=[undefer(IssuedDocument.content)])


def digest_on_record(session: DbSession, document: IssuedDocument) -> str | None:
    """The digest that the record keeps of a document; None where that entry's content was erased."""
    first = document.head_number + 1
    payloads = session.execute(
        select(RecordEntry.payload)
        .where(RecordEntry.number >= first, RecordEntry.number < first + _ENTRIES_LOOKED_AT)
        .where(RecordEntry.payload.like('%"act":"document.issued"%'))
        .order_by(RecordEntry.number)
    ).scalars()
    for payload in payloads:
        content = json.loads(payload or "{}")
        if content.get("about") == [IssuedDocument.__tablename__, document.id]:
            return str(content["facts"]["digest"])
    return None


def issued(
    session: DbSession,
    *,
    kinds: Collection[str],
    own_kinds: Collection[str],
    own_of: int,
    before_id: int | None = None,
    limit: int,
) -> list[Issued]:
    """Issued documents of some kinds and a person's own of others, newest first, from the one before `before_id`."""
    own = and_(IssuedDocument.kind.in_(own_kinds), IssuedDocument.issued_by_id == own_of)
    seen = [or_(IssuedDocument.kind.in_(kinds), own)]
    if before_id is not None:
        seen.append(IssuedDocument.id < before_id)
    return _newest(session, *seen, limit=limit)


def issued_of(session: DbSession, *, kind: str, parameters: Mapping[str, Any], limit: int) -> list[Issued]:
    """Documents issued of just this, newest first."""
    of_this = IssuedDocument.parameters == chain.canonical(parameters)
    return _newest(session, IssuedDocument.kind == kind, of_this, limit=limit)


def _newest(session: DbSession, *conditions: ColumnElement[bool], limit: int) -> list[Issued]:
    statement = (
        select(IssuedDocument, Person.name)
        .join(Person, Person.id == IssuedDocument.issued_by_id)
        .where(*conditions)
        .order_by(IssuedDocument.id.desc())
        .limit(limit)
    )
    return [Issued(document, name) for document, name in session.execute(statement)]
