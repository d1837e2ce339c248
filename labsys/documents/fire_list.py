"""Who is in the building, on paper for the fire warden: a name a row, and a square to tick at the meeting point."""

from collections.abc import Iterator
from dataclasses import dataclass

from flask import url_for
from reportlab.platypus import Flowable

from labsys.database import DbSession
from labsys.documents import blocks
from labsys.documents.blocks import Column, gap, masthead, ruled_table
from labsys.documents.document import Document, WholeLab
from labsys.documents.occasion import Occasion
from labsys.documents.page import Issue, bind, text_width
from labsys.duty import queries as duty
from labsys.duty.pages import on_duty_now
from labsys.people.permissions import Permission
from labsys.presence import pages, queries

CLOSING = "Whoever came since, or said nothing, is not on it: ask. Nobody goes back in to look."


@dataclass(frozen=True, slots=True)
class FireListData:
    """All that the list prints: who is known to be in, and who is on duty."""

    issue: Issue
    said: str
    as_of: str
    on_duty: tuple[tuple[str, str], ...]
    rows: tuple[tuple[str, ...], ...]
    has_contacts: bool


def collect(session: DbSession, _: WholeLab, occasion: Occasion) -> FireListData:
    """Read who is known to be in."""
    after = duty.settings(session).overdue_after
    heads = queries.heads(session)
    contacts = queries.contacts(session, heads)
    views = pages.head_views(heads, now=occasion.now, after=after, zone=occasion.zone, contacts=contacts)
    on_duty = on_duty_now(session, occasion.now, occasion.zone)
    return FireListData(
        issue=occasion.issue("/building", scan_code="who is in now"),
        said=pages.in_a_sentence(pages.how_many(heads)),
        as_of=occasion.moment(occasion.now),
        on_duty=tuple(on_duty.facts) if on_duty else (),
        rows=tuple(
            (view.name, view.what, view.to_call, view.since, "overdue" if view.is_overdue else view.until, "")
            for view in views
        ),
        has_contacts=bool(contacts),
    )


def draw(data: FireListData) -> bytes:
    """Return the list as a PDF; equal data gives equal bytes."""
    return bind(_story(data, text_width(data.issue.paper)), title="Fire list", issue=data.issue, closing=CLOSING)


def _story(data: FireListData, width: float) -> Iterator[Flowable]:
    yield masthead(title="Who is in", lead=f"{data.said} As of {data.as_of}.", issue=data.issue, width=width)
    yield gap(3)
    if data.on_duty:
        yield blocks.notice("; ".join(f"{kind}: {who}" for kind, who in data.on_duty), width=width)
        yield gap(3)
    # Empty rows at the end, for whoever turns out to be there as well.
    rows = (*data.rows, *(("\u00a0", "", "", "", "", "") for _ in range(4)))
    columns: tuple[Column, ...] = (
        Column("Name", 4),
        Column("Where", 4),
        Column("In an emergency", 3.4),
        Column("In since", 1.6),
        Column("Until", 1.6),
        Column("Out, seen", 2),
    )
    if not data.has_contacts:
        columns, rows = columns[:2] + columns[3:], tuple(row[:2] + row[3:] for row in rows)
    yield from ruled_table(columns, rows, width=width)


FIRE_LIST = Document(
    kind="fire list",
    path="fire-list",
    may_see=Permission.BOOK_FOR_OTHERS,
    may_issue=Permission.BOOK_FOR_OTHERS,
    read=lambda form: WholeLab(),
    written=lambda asked, data: {},
    collect=collect,
    title=lambda data: f"Who is in, {data.as_of}",
    draw=draw,
    has_page=False,
    back=lambda form, asked: url_for("presence.index"),
)
