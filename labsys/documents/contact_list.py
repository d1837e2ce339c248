"""Who was in contact with a substance, as a document for the safety adviser."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from reportlab.platypus import Flowable

from labsys.database import DbSession
from labsys.documents import blocks
from labsys.documents.blocks import Column, gap, masthead, ruled_table, words
from labsys.documents.collect import day, issue_of
from labsys.documents.page import Issue, bind, text_width
from labsys.people.models import Person
from labsys.records import queries as records
from labsys.records.queries import Head
from labsys.register.contact import ESTIMATE, Sought, people_in_contact

CLOSING = f"{ESTIMATE} For the safety adviser: keep it where nobody else reads it."


@dataclass(frozen=True, slots=True)
class ContactRow:
    """One kind of thing one person did, every text ready to print."""

    person: str
    did: str
    times: str
    first: str
    last: str


@dataclass(frozen=True, slots=True)
class ContactListData:
    """All that the list prints; `called` is the substance or the product."""

    issue: Issue
    called: str
    since: str
    rows: tuple[ContactRow, ...] = ()


def collect_contact_list(
    session: DbSession,
    *,
    sought: Sought,
    called: str,
    since: date,
    issued_by: Person,
    head: Head,
    public_url: str,
    now: datetime,
) -> ContactListData:
    """Read who was in contact, all of them."""
    lab = records.the_lab(session)
    zone = ZoneInfo(lab.timezone)
    asked = urlencode({"cas": sought.cas or "", "product": sought.product_id or 0, "since": since.isoformat()})
    return ContactListData(
        issue=issue_of(
            lab,
            issued_by=issued_by,
            now=now,
            head=head,
            scan_address=f"{public_url}/register/contact?{asked}",
            scan_code="the live list",
        ),
        called=called,
        since=f"{since:%-d %B %Y}",
        rows=tuple(
            ContactRow(
                person.name if not number else "",
                one.kind,
                str(one.times),
                day(one.first_at, zone=zone),
                day(one.last_at, zone=zone),
            )
            for person in people_in_contact(session, sought)
            for number, one in enumerate(person.contacts)
        ),
    )


def draw(data: ContactListData) -> bytes:
    """Return the list as a PDF; equal data gives equal bytes."""
    return bind(
        _story(data, text_width(data.issue.paper)), title="Contact with a substance", issue=data.issue, closing=CLOSING
    )


def _story(data: ContactListData, width: float) -> Iterator[Flowable]:
    lead = f"{data.called}, since {data.since}."
    yield masthead(title="Contact with a substance", lead=lead, issue=data.issue, width=width)
    yield gap(3)
    yield blocks.notice(ESTIMATE, width=width)
    yield gap(3)
    if not data.rows:
        yield words("Nobody, as far as it was recorded.")
        return
    yield from ruled_table(
        (
            Column("Person", 4),
            Column("Did", 4),
            Column("Times", 1.4, figures=True),
            Column("First", 2.6),
            Column("Last", 2.6),
        ),
        [(row.person, row.did, row.times, row.first, row.last) for row in data.rows],
        width=width,
    )
