"""Earlier issues of a document, as its page form lists them."""

from collections.abc import Mapping
from typing import Any

from flask import g, url_for

from labsys.database import db
from labsys.documents import queries
from labsys.documents.collect import moment
from labsys.documents.rules import DocumentKind

ISSUES_SHOWN = 10


def issued_before(kind: DocumentKind, parameters: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Documents issued of just this, newest first, each with number, when, by whom and where it is."""
    found = queries.issued_of(db.session, kind=kind, parameters=parameters, limit=ISSUES_SHOWN)
    return [
        {
            "number": one.document.id,
            "when": moment(one.document.issued_at, zone=g.zone),
            "by": one.by,
            "href": url_for("documents.show", document_id=one.document.id),
        }
        for one in found
    ]
