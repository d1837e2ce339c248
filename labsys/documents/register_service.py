"""Issuing the papers of the register: summary, first-aid card, label sheets, contact list. Each is one act."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from labsys.documents import contact_list, first_aid_card, label_sheet, register_summary
from labsys.documents.collect_register import collect_first_aid, collect_labels, collect_register
from labsys.documents.contact_list import collect_contact_list
from labsys.documents.keeping import keep_document
from labsys.documents.label_sheet import Layout
from labsys.documents.rules import DocumentKind, DocumentRefused
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require
from labsys.records import queries as records
from labsys.records.models import IssuedDocument
from labsys.records.queries import Head
from labsys.register.contact import Sought

WHOLE: Mapping[str, Any] = {}  # the register and the card are made of the lab as it stands, and nothing else


@act
def issue_register(act: Act, *, public_url: str) -> IssuedDocument:
    """Issue the chemical register as it stands now. Raises NotPermitted."""
    require(act.actor, Permission.ISSUE_REGISTER)
    head = records.head(act.session)
    data = collect_register(act.session, issued_by=act.actor, head=head, public_url=public_url, now=act.now)
    return _keep(
        act,
        kind=DocumentKind.REGISTER,
        title="Chemical register",
        parameters=WHOLE,
        content=register_summary.draw(data),
        head=head,
    )


@act
def issue_first_aid(act: Act, *, public_url: str) -> IssuedDocument:
    """Issue the first-aid card. Raises NotPermitted or DocumentRefused."""
    require(act.actor, Permission.ISSUE_REGISTER)
    head = records.head(act.session)
    data = collect_first_aid(act.session, issued_by=act.actor, head=head, public_url=public_url, now=act.now)
    try:
        content = first_aid_card.draw(data)
    except first_aid_card.CardOverflow as overflow:
        raise DocumentRefused("The card does not fit a page. Print this page instead.") from overflow
    return _keep(act, kind=DocumentKind.FIRST_AID, title="First-aid card", parameters=WHOLE, content=content, head=head)


@act
def issue_labels(act: Act, *, keys: Sequence[str], layout: Layout, first: int, public_url: str) -> IssuedDocument:
    """Issue a sheet of labels, begun at a place of the sheet. Raises NotPermitted or DocumentRefused."""
    require(act.actor, Permission.ISSUE_REGISTER)
    head = records.head(act.session)
    data = collect_labels(
        act.session,
        keys=keys,
        layout=layout,
        first=first,
        issued_by=act.actor,
        head=head,
        public_url=public_url,
        now=act.now,
    )
    if not data.labels:
        raise DocumentRefused("Choose at least one label.", field="label")
    places = label_sheet.GRIDS[data.issue.paper, layout].places
    if not 1 <= first <= places:
        raise DocumentRefused(f"A sheet of {layout} has places 1 to {places}. Choose one of them.", field="first")
    try:
        content = label_sheet.draw(data)
    except label_sheet.LabelTooSmall as small:
        raise DocumentRefused(f"The label of {small.code} does not fit {layout}. Choose a larger size.") from small
    return _keep(
        act,
        kind=DocumentKind.LABEL_SHEET,
        title=f"Labels {layout}",
        parameters=label_parameters(keys, layout=layout, first=first),
        content=content,
        head=head,
    )


def label_parameters(keys: Sequence[str], *, layout: Layout, first: int) -> Mapping[str, Any]:
    """What a label sheet is made of, besides the moment."""
    return {"labels": ",".join(keys), "size": layout.value, "first": first}


@act
def issue_contact_list(act: Act, *, sought: Sought, called: str, since: date, public_url: str) -> IssuedDocument:
    """Issue who was in contact with a substance since a day: that somebody looked is then on the record.

    Raises NotPermitted.
    """
    require(act.actor, Permission.SEE_CONTACT)
    head = records.head(act.session)
    data = collect_contact_list(
        act.session,
        sought=sought,
        called=called,
        since=since,
        issued_by=act.actor,
        head=head,
        public_url=public_url,
        now=act.now,
    )
    return _keep(
        act,
        kind=DocumentKind.CONTACT_LIST,
        title=f"Contact with {called}, since {since:%-d %B %Y}"[:200],
        parameters=contact_parameters(sought, since=since),
        content=contact_list.draw(data),
        head=head,
    )


def contact_parameters(sought: Sought, *, since: date) -> Mapping[str, Any]:
    """What a contact list is made of, besides the moment."""
    return {"cas": sought.cas or "", "product": sought.product_id or 0, "since": since.isoformat()}


def _keep(
    act: Act, *, kind: DocumentKind, title: str, parameters: Mapping[str, Any], content: bytes, head: Head
) -> IssuedDocument:
    return keep_document(act, kind=kind, title=title, parameters=parameters, content=content, head=head)
