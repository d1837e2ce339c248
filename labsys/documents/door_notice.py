"""The notice for the door while work is recalled: also for those who logged nothing."""

from collections.abc import Iterator
from dataclasses import dataclass

from flask import url_for
from reportlab.platypus import Flowable

from labsys.baths.recall import queries, telling
from labsys.database import DbSession
from labsys.documents import blocks
from labsys.documents.blocks import caution, gap, masthead, style, words
from labsys.documents.document import Document
from labsys.documents.fonts import BOLD, REGULAR
from labsys.documents.occasion import Occasion
from labsys.documents.page import Issue, bind, text_width
from labsys.documents.rules import DocumentRefused
from labsys.people.permissions import Permission

UNLOGGED = "Did you work there and log nothing? Then this is for you as well. Tell the technician."
_HEAD, _TEXT = style(BOLD, 16, leading=1.2), style(REGULAR, 13, leading=1.3)


@dataclass(frozen=True, slots=True)
class DoorNoticeData:
    """All that the notice prints: which baths since when, what was wrong, and what to do with each material."""

    issue: Issue
    what: str
    baths: tuple[tuple[str, str], ...]
    to_do: tuple[tuple[str, str, str], ...]
    gloves: str = telling.GLOVES


@dataclass(frozen=True, slots=True)
class OfRecall:
    """The recall that the notice speaks of."""

    recall_id: int


def collect(session: DbSession, asked: OfRecall, occasion: Occasion) -> DoorNoticeData:
    """Read an open recall. Raises NotFound, or DocumentRefused for one that is closed."""
    recall = queries.recall_or_raise(session, asked.recall_id)
    if recall.closed_at is not None:
        raise DocumentRefused("The recall is closed: its notice comes down.")
    return DoorNoticeData(
        issue=occasion.issue(f"/recalls/{recall.id}", scan_code="what to do, live"),
        what=f"{recall.fault.capitalize()}. {recall.why}",
        baths=tuple(
            (f"{named.bath.name} {named.bath.code}, {named.bath.line.name}", occasion.moment(named.since))
            for named in recall.baths
        ),
        to_do=tuple((each.named, each.mend.do, each.mend.source) for each in telling.what_to_do(recall)),
    )


def draw(data: DoorNoticeData) -> bytes:
    """Return the notice as a PDF; equal data gives equal bytes."""
    return bind(_story(data, text_width(data.issue.paper)), title="Door notice", issue=data.issue, closing=UNLOGGED)


def _story(data: DoorNoticeData, width: float) -> Iterator[Flowable]:
    yield masthead(title="Look at your work", lead=data.what, issue=data.issue, width=width)
    yield gap(4)
    for name, since in data.baths:
        yield caution(head=name, body=f"Whatever went through it since {since} is doubtful.", width=width, size=15)
        yield gap(3)
    for what, do, source in data.to_do:
        yield words(what, _HEAD)
        yield words(do, _TEXT)
        if source:
            yield words(source, blocks.NOTE)
        yield gap(3)
    yield blocks.notice(data.gloves, width=width)
    yield gap(3)
    yield words(UNLOGGED, _HEAD)


DOOR_NOTICE = Document(
    kind="door notice",
    path="door-notice/<int:recall_id>",
    may_see=Permission.SEE_LAB,
    may_issue=Permission.TEST_BATH,
    read=lambda form, recall_id: OfRecall(recall_id),
    written=lambda asked, data: {"recall": asked.recall_id},
    collect=collect,
    title=lambda data: f"Door notice: {data.baths[0][0] if data.baths else data.what}",
    draw=draw,
    shows={"unlogged": UNLOGGED},
    back=lambda form, asked: url_for("baths.recall", recall_id=asked.recall_id) if asked else url_for("baths.recalls"),
)
