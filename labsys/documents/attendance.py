"""The attendance register of a course on paper, and the card for its door with the code that students scan."""

from collections.abc import Iterator
from dataclasses import dataclass

from flask import url_for
from reportlab.lib.units import mm
from reportlab.platypus import Flowable, PageBreak

from labsys.courses import grid, pages, queries
from labsys.database import DbSession
from labsys.documents import blocks
from labsys.documents.blocks import Column, gap, masthead, ruled_table, words
from labsys.documents.document import Document
from labsys.documents.occasion import Occasion
from labsys.documents.page import Issue, bind, text_width
from labsys.drawing.qr import qr_code
from labsys.people.permissions import Permission

CLOSING = "Coming confirms no induction: that is signed for at the end, by each person."
DOOR_CODE = 100 * mm
ACROSS = 12  # meetings on one sheet beside the names
_MARKS = {"in": "stayed", "half": "early", "came": "came", "out": "–", "to": ""}


@dataclass(frozen=True, slots=True)
class OfCourse:
    course_id: int


@dataclass(frozen=True, slots=True)
class AttendanceData:
    """All that the register prints: a head for each meeting, and a row for each person."""

    issue: Issue
    course: str
    taught_by: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    hours: str
    door_address: str


def collect(session: DbSession, asked: OfCourse, occasion: Occasion) -> AttendanceData:
    """Read the register of a course. Raises NotFound."""
    course = queries.course_or_raise(session, asked.course_id)
    views = pages.meeting_views(course, zone=occasion.zone, now=occasion.now)
    standing = [view for view in views if view.stands]
    lines = grid.rows(
        queries.enrolled(session, course_id=course.id),
        meetings=views,
        attendances=queries.attendances(session, meeting_ids=[view.id for view in standing]),
        answers=(),
    )
    return AttendanceData(
        issue=occasion.issue(f"/courses/{course.id}", scan_code="the live register"),
        course=f"{course.name}, {course.term}",
        taught_by=", ".join(person.name for person in course.instructors),
        heads=tuple(f"{view.number}: {view.day.partition(' ')[2]}" for view in standing),
        rows=tuple((line.name, *(_MARKS[mark.look] for mark in line.marks)) for line in lines),
        hours=f"{pages.hours_in_words(course)}, {course.station.name}",
        door_address=f"{occasion.public_url}/courses/{course.id}/here",
    )


def draw(data: AttendanceData) -> bytes:
    """Return the register as a PDF on its long side; equal data gives equal bytes."""
    width = text_width(data.issue.paper, landscape=True)
    story = _story(data, width)
    return bind(story, title="Attendance register", issue=data.issue, closing=CLOSING, landscape=True)


def _story(data: AttendanceData, width: float) -> Iterator[Flowable]:
    lead = f"{data.course}, taught by {data.taught_by}."
    yield masthead(title="Attendance register", lead=lead, issue=data.issue, width=width)
    yield gap(3)
    yield from _register(data, width)
    yield PageBreak()
    yield from _door_card(data, width)


def _register(data: AttendanceData, width: float) -> Iterator[Flowable]:
    if not data.rows:
        yield words("Nobody is on the roster.")
        return
    yield blocks.notice("Initials of each person in the square of the day. Write who leaves early.", width=width)
    for begin in range(0, max(len(data.heads), 1), ACROSS):
        heads = data.heads[begin : begin + ACROSS]
        yield gap(3)
        yield from ruled_table(
            (Column("Name", 3.4), *(Column(head, 1.2) for head in heads)),
            [(row[0], *row[1 + begin : 1 + begin + ACROSS]) for row in data.rows],
            width=width,
        )


def _door_card(data: AttendanceData, width: float) -> Iterator[Flowable]:
    """One code for the whole term: it leads to the meeting that is on."""
    code = blocks.Figure(qr_code(data.door_address, title="Leads to the meeting that is on"), width=DOOR_CODE)
    told = [
        words("Scan when you come", blocks.TITLE),
        gap(3),
        words(data.course, blocks.LEAD),
        gap(1),
        words(f"{data.hours}. Taught by {data.taught_by}."),
        gap(6),
        words("Scan, sign in, and press: I am here. Without a phone, have your name ticked by who teaches."),
        gap(3),
        words(CLOSING),
    ]
    yield blocks.side_by_side([code], told, width=width, between=10 * mm)


ATTENDANCE = Document(
    kind="attendance register",
    path="attendance/<int:course_id>",
    may_see=Permission.BOOK_FOR_OTHERS,
    may_issue=Permission.BOOK_FOR_OTHERS,
    read=lambda form, course_id: OfCourse(course_id),
    written=lambda asked, data: {"course": asked.course_id},
    collect=collect,
    title=lambda data: f"Attendance register, {data.course}"[:200],
    draw=draw,
    has_page=False,
    back=lambda form, asked: url_for("courses.show", course_id=asked.course_id),
)
