"""Issuing the label of a guest bottle: one act, as those of `service`."""

from collections.abc import Mapping
from typing import Any

from labsys.documents import guest_label
from labsys.documents.collect_guest_label import collect_guest_label
from labsys.documents.keeping import keep_document
from labsys.documents.rules import DocumentKind, DocumentRefused
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require
from labsys.records import queries as records
from labsys.records.models import IssuedDocument


@act
def issue_guest_label(act: Act, *, declaration_id: int, public_url: str) -> IssuedDocument:
    """Issue the label of a guest bottle. Raises NotPermitted, NotFound or DocumentRefused."""
    require(act.actor, Permission.DECIDE_CHEMICAL)
    head = records.head(act.session)
    data = collect_guest_label(
        act.session, declaration_id=declaration_id, issued_by=act.actor, head=head, public_url=public_url, now=act.now
    )
    try:
        content = guest_label.draw(data)
    except guest_label.GuestLabelOverflow as overflow:
        raise DocumentRefused("The label has more to say than a sheet holds. Print this page instead.") from overflow
    return keep_document(
        act,
        kind=DocumentKind.GUEST_LABEL,
        title=f"Guest bottle label {data.issue.scan_code}",
        parameters=guest_label_parameters(declaration_id),
        content=content,
        head=head,
    )


def guest_label_parameters(declaration_id: int) -> Mapping[str, Any]:
    """What the label is made of, besides the moment."""
    return {"declaration": declaration_id}
