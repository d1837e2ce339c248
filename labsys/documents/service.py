"""Issuing a document, whatever its kind: collect, draw, keep the bytes with their digest on the record."""

import hashlib
from collections.abc import Mapping
from typing import Any

from labsys.documents.document import D, Document, P
from labsys.documents.occasion import occasion_of
from labsys.people.acts import Act, act
from labsys.people.permissions import require
from labsys.records import chain
from labsys.records.models import IssuedDocument
from labsys.records.queries import Head
from labsys.records.service import label_settled


@act
def issue_document(act: Act, document: Document[P, D], asked: P, *, public_url: str) -> IssuedDocument:
    """Issue a document as things stand now.

    Raises NotPermitted, NotFound, DocumentRefused, and what refuses the plan of a session sheet.
    """
    require(act.actor, document.may_issue)
    document.check(act.session, asked)
    occasion = occasion_of(act.session, person=act.actor, now=act.now, public_url=public_url)
    data = document.collect(act.session, asked, occasion)
    label_settled(act.session, document.labels(data))
    return keep_document(
        act,
        kind=document.kind,
        title=document.title(data),
        parameters=document.written(asked, data),
        content=document.draw(data),
        head=occasion.head,
    )


def keep_document(
    act: Act, *, kind: str, title: str, parameters: Mapping[str, Any], content: bytes, head: Head
) -> IssuedDocument:
    """Step: keep a drawn document with the head of the record that it prints, and tell its digest."""
    document = IssuedDocument(
        kind=kind,
        title=title,
        parameters=chain.canonical(parameters),
        issued_at=act.now,
        issued_by_id=act.actor.id,
        head_number=head.number,
        head_hash=head.hash,
        digest=hashlib.sha256(content).hexdigest(),
        content=content,
    )
    act.session.add(document)
    act.session.flush()
    facts = {"kind": kind, "parameters": dict(parameters), "digest": document.digest}
    act.tell("document.issued", about=document, facts=facts)
    return document
