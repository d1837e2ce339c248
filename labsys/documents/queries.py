"""What is read of issued documents, and the levels that the waste log asks for."""

import json
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import and_, func, or_, select
from sqlalchemy.orm import undefer

from labsys.database import DbSession
from labsys.documents.rules import OWN_MAY_BE_SEEN, DocumentKind
from labsys.ledger.models import Movement, Posting
from labsys.people.models import Person
from labsys.records import chain
from labsys.records.errors import NotFound
from labsys.records.models import IssuedDocument, RecordEntry

_ENTRIES_LOOKED_AT = 1_000  # other acts may come onto the record between a document's drawing and its own entry


@dataclass(frozen=True)
class Issued:
    """An issued document without its bytes, and who issued it."""

    document: IssuedDocument
    by: str


def document_or_raise(session: DbSession, document_id: int) -> IssuedDocument:
    """Read one issued document with its bytes. Raises NotFound."""
    document = session.get(IssuedDocument, document_id, options=[undefer(IssuedDocument.content)])
    if document is None:
        raise NotFound("document", document_id)
    return document


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
    session: DbSession, *, kinds: Collection[DocumentKind], own_of: int, before_id: int | None = None, limit: int
) -> list[Issued]:
    """Issued documents of some kinds and a person's own, newest first, from the one before `before_id`."""
    own = and_(IssuedDocument.kind.in_(OWN_MAY_BE_SEEN), IssuedDocument.issued_by_id == own_of)
    chosen = (
        select(IssuedDocument, Person.name)
        .join(Person, Person.id == IssuedDocument.issued_by_id)
        .where(or_(IssuedDocument.kind.in_(kinds), own))
        .order_by(IssuedDocument.id.desc())
        .limit(limit)
    )
    if before_id is not None:
        chosen = chosen.where(IssuedDocument.id < before_id)
    return [Issued(document, name) for document, name in session.execute(chosen)]


def issued_of(session: DbSession, *, kind: DocumentKind, parameters: Mapping[str, Any], limit: int) -> list[Issued]:
    """Documents issued of just this, newest first."""
    chosen = (
        select(IssuedDocument, Person.name)
        .join(Person, Person.id == IssuedDocument.issued_by_id)
        .where(IssuedDocument.kind == kind, IssuedDocument.parameters == chain.canonical(parameters))
        .order_by(IssuedDocument.id.desc())
        .limit(limit)
    )
    return [Issued(document, name) for document, name in session.execute(chosen)]


def levels_at(session: DbSession, vessel_ids: Collection[int], *, end: datetime) -> dict[int, int]:
    """What stood in each vessel at an instant, by the sum of its postings until then."""
    rows = session.execute(
        select(Posting.vessel_id, func.sum(Posting.amount))
        .join(Movement)
        .where(Posting.vessel_id.in_(vessel_ids), Movement.happened_at < end)
        .group_by(Posting.vessel_id)
    )
    return {vessel_id: int(amount) for vessel_id, amount in rows if vessel_id is not None}
