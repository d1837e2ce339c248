"""The attendance register of a course on paper: a row a person, a square a meeting, and room to sign."""

from collections.abc import Iterator
from dataclasses import dataclass

from flask import url_for
from reportlab.platypus import Flowable

from labsys.courses import grid, pages, queries
from labsys.database import DbSession
from labsys.documents import blocks
from labsys.documents.blocks import Column, gap, masthead, ruled_table, words
from labsys.documents.document import Document
from labsys.documents.occasion import Occasion
from labsys.documents.page import Issue, bind, text_width
from labsys.people.permissions import Permission

CLOSING = "Coming confirms no induction: that is signed for at the end, by each person."
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
