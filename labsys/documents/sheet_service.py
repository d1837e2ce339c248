"""Issuing a session sheet: one act, as those of `service`."""

from labsys.documents import session_sheet
from labsys.documents.collect_sheet import collect_session_sheet
from labsys.documents.keeping import keep_document
from labsys.documents.rules import DocumentKind, DocumentRefused
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require
from labsys.planning.asked import Asked
from labsys.records import queries as records
from labsys.records.models import IssuedDocument


@act
def issue_session_sheet(act: Act, *, asked: Asked, public_url: str) -> IssuedDocument:
    """Issue the sheet of a session as it is planned now.

    Raises NotPermitted, NotFound, DocumentRefused, and what refuses the plan.
    """
    require(act.actor, Permission.SEE_LAB)
    head = records.head(act.session)
    data = collect_session_sheet(
        act.session, asked=asked, issued_by=act.actor, head=head, public_url=public_url, now=act.now
    )
    try:
        content = session_sheet.draw(data)
    except session_sheet.SheetOverflow as overflow:
        raise DocumentRefused(
            f"{overflow.process} has more to say than one page holds. Print the page of the plan instead, or shorten "
            "the notes of its steps."
        ) from overflow
    return keep_document(
        act,
        kind=DocumentKind.SESSION_SHEET,
        title=data.title,
        parameters=asked.address,
        content=content,
        head=head,
    )
