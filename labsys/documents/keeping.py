"""Keeping an issued document: its bytes with the head of the record that it prints, and their digest on the record."""

import hashlib
from collections.abc import Mapping
from typing import Any

from labsys.people.acts import Act
from labsys.records import chain
from labsys.records.models import IssuedDocument
from labsys.records.queries import Head


def keep_document(
    act: Act, *, kind: str, title: str, parameters: Mapping[str, Any], content: bytes, head: Head
) -> IssuedDocument:
    """Step: keep a drawn document and tell its digest."""
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
