"""Issuing documents: collect, draw, keep the bytes with their digest on the record. Each is one act."""

from collections.abc import Mapping
from typing import Any

from labsys.baths import queries as baths
from labsys.documents import bath_label, waste_log
from labsys.documents.collect_label import collect_bath_label
from labsys.documents.collect_log import Period, collect_waste_log
from labsys.documents.keeping import keep_document
from labsys.documents.rules import DocumentKind, DocumentRefused
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require
from labsys.records import queries as records
from labsys.records.models import IssuedDocument


@act
def issue_bath_label(act: Act, *, bath_id: int, public_url: str) -> IssuedDocument:
    """Issue the label of a bath as it stands now. Raises NotPermitted, NotFound or DocumentRefused."""
    require(act.actor, Permission.KEEP_BATHS)
    bath = baths.bath_or_raise(act.session, bath_id)
    if bath.dumped_at is not None:
        raise DocumentRefused(f"{bath.name} {bath.code} was dumped. Take its label off; a dumped bath gets no new one.")
    head = records.head(act.session)
    data = collect_bath_label(
        act.session, bath_id=bath_id, issued_by=act.actor, head=head, public_url=public_url, now=act.now
    )
    try:
        content = bath_label.draw(data)
    except bath_label.LabelOverflow as overflow:
        raise DocumentRefused(
            f"The label of {overflow.code} does not fit a sheet. Print this page instead, and shorten the product's "
            "names and ingredients."
        ) from overflow
    return keep_document(
        act,
        kind=DocumentKind.BATH_LABEL,
        title=f"Bath label {bath.code}",
        parameters=bath_label_parameters(bath_id),
        content=content,
        head=head,
    )


def bath_label_parameters(bath_id: int) -> Mapping[str, Any]:
    """What a bath's label is made of, besides the moment."""
    return {"bath": bath_id}


@act
def issue_waste_log(act: Act, *, period: Period, public_url: str) -> IssuedDocument:
    """Issue the waste log of a period as it stands now. Raises NotPermitted."""
    require(act.actor, Permission.SEE_WASTE_LOG)
    head = records.head(act.session)
    data = collect_waste_log(
        act.session, period=period, issued_by=act.actor, head=head, public_url=public_url, now=act.now
    )
    return keep_document(
        act,
        kind=DocumentKind.WASTE_LOG,
        title=f"Waste log, {period}",
        parameters=waste_log_parameters(period),
        content=waste_log.draw(data),
        head=head,
    )


def waste_log_parameters(period: Period) -> Mapping[str, Any]:
    """What a waste log is made of, besides the moment."""
    return {"from": period.first.isoformat(), "to": period.last.isoformat()}
