"""The register of a whole term as a grid: a row for each person, a mark for each meeting that stands."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from labsys.courses.foresight import MayStart
from labsys.courses.models import Attendance, Outcome
from labsys.courses.pages import MeetingView
from labsys.courses.queries import Enrolled


@dataclass(frozen=True)
class Mark:
    look: str  # in, half, came, out, to
    words: str
    is_next: bool = False


@dataclass(frozen=True)
class Line:
    """One person's row: a mark for each meeting, and what keeps them from starting at the next."""

    name: str
    marks: tuple[Mark, ...]
    why: str


def rows(
    roster: Sequence[Enrolled],
    *,
    meetings: Sequence[MeetingView],
    attendances: Sequence[Attendance],
    answers: Sequence[MayStart],
) -> list[Line]:
    """One line for each person on the roster, in its order."""
    came = {(row.meeting_id, row.student_id): row for row in attendances}
    why = {answer.enrolled.student.id: answer.why for answer in answers if not answer.is_clear}
    standing = [meeting for meeting in meetings if meeting.stands]
    return [
        Line(
            name=row.person.name if row.person else row.student.name,
            marks=tuple(_mark(meeting, came.get((meeting.id, row.student.id))) for meeting in standing),
            why=why.get(row.student.id, ""),
        )
        for row in roster
    ]


def counts(attendances: Sequence[Attendance]) -> Mapping[int, int]:
    """How many came, by meeting."""
    return Counter(row.meeting_id for row in attendances)


def _mark(meeting: MeetingView, attendance: Attendance | None) -> Mark:
    is_next = meeting.state == "next"
    if attendance is None:
        return Mark("out", "absent") if meeting.state == "over" else Mark("to", "to come", is_next)
    if attendance.outcome is None:
        return Mark("came", "came", is_next)
    return Mark("in" if attendance.outcome is Outcome.STAYED else "half", str(attendance.outcome), is_next)
