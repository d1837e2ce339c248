"""Issuing the label of a guest bottle: one act, as those of `service`."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from labsys.database import DbSession
from labsys.documents import guest_label
from labsys.documents.collect_guest_label import collect_guest_label
from labsys.documents.rules import DocumentKind, DocumentRefused
from labsys.people.models import Person
from labsys.people.permissions import Permission, require
from labsys.records import queries as records
from labsys.records import service as record
from labsys.records.acts import act
from labsys.records.models import IssuedDocument


@act
def issue_guest_label(
    session: DbSession,
    *,
    actor: Person,
    declaration_id: int,
    public_url: str,
    now: datetime,
    submission_key: str | None = None,
) -> IssuedDocument:
    """Issue the label of a guest bottle. Raises NotPermitted, NotFound or DocumentRefused."""
    require(actor, Permission.DECIDE_CHEMICAL)
    head = records.head(session)
    data = collect_guest_label(
        session, declaration_id=declaration_id, issued_by=actor, head=head, public_url=public_url, now=now
    )
    try:
        content = guest_label.draw(data)
    except guest_label.GuestLabelOverflow as overflow:
        raise DocumentRefused("The label has more to say than a sheet holds. Print this page instead.") from overflow
    return record.keep_document(
        session,
        kind=DocumentKind.GUEST_LABEL,
        title=f"Guest bottle label {data.issue.scan_code}",
        parameters=guest_label_parameters(declaration_id),
        content=content,
        head=(head.number, head.hash),
        actor=actor,
        at=now,
    )


def guest_label_parameters(declaration_id: int) -> Mapping[str, Any]:
    """What the label is made of, besides the moment."""
    return {"declaration": declaration_id}
