"""Issuing a session sheet: one act, as those of `service`."""

from datetime import datetime

from labsys.database import DbSession
from labsys.documents import session_sheet
from labsys.documents.collect_sheet import collect_session_sheet
from labsys.documents.rules import DocumentKind, DocumentRefused
from labsys.people.models import Person
from labsys.people.permissions import Permission, require
from labsys.planning.asked import Asked
from labsys.records import queries as records
from labsys.records import service as record
from labsys.records.acts import act
from labsys.records.models import IssuedDocument


@act
def issue_session_sheet(
    session: DbSession,
    *,
    actor: Person,
    asked: Asked,
    public_url: str,
    now: datetime,
    submission_key: str | None = None,
) -> IssuedDocument:
    """Issue the sheet of a session as it is planned now.

    Raises NotPermitted, NotFound, DocumentRefused, and what refuses the plan.
    """
    require(actor, Permission.SEE_LAB)
    head = records.head(session)
    data = collect_session_sheet(session, asked=asked, issued_by=actor, head=head, public_url=public_url, now=now)
    try:
        content = session_sheet.draw(data)
    except session_sheet.SheetOverflow as overflow:
        raise DocumentRefused(
            f"{overflow.process} has more to say than one page holds. Print the page of the plan instead, or shorten "
            "the notes of its steps."
        ) from overflow
    return record.keep_document(
        session,
        kind=DocumentKind.SESSION_SHEET,
        title=data.title,
        parameters=asked.address,
        content=content,
        head=(head.number, head.hash),
        actor=actor,
        at=now,
    )
