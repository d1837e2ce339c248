"""What will go wrong at a meeting, said days ahead: who may not start then, and why."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from labsys.bookings.models import Booking
from labsys.bookings.supervision import why_not_in_class
from labsys.courses.models import Course
from labsys.courses.queries import Enrolled
from labsys.courses.words import counted
from labsys.database import DbSession
from labsys.inductions import gate
from labsys.inductions.rules import InductionState, Missing, joined
from labsys.membership.ages import who_is_under_18
from labsys.places import queries as places
from labsys.records import queries as records
from labsys.timetable.local_time import to_local

NO_ACCOUNT = "no account yet"


@dataclass(frozen=True)
class MayStart:
    """Whether somebody on the roster may start at a meeting: what they lack, or why nobody can say."""

    enrolled: Enrolled
    missing: tuple[Missing, ...] = ()
    unsupervised: tuple[str, ...] = ()  # of who is under 18: what stands against it, in sentences

    @property
    def is_clear(self) -> bool:
        person = self.enrolled.person
        return person is not None and person.is_active and not self.missing and not self.unsupervised

    @property
    def why(self) -> str:
        """What stands between, in a few words."""
        if self.enrolled.person is None:
            return NO_ACCOUNT
        if not self.enrolled.person.is_active:
            return "left the lab"
        lacking = (
            f"{lacked.name} to confirm" if lacked.standing is InductionState.WAITING else lacked.name
            for lacked in self.missing
        )
        return ", ".join((*lacking, *(sentence.rstrip(".") for sentence in self.unsupervised)))


def who_may_start(
    session: DbSession, *, course: Course, booking: Booking, roster: Sequence[Enrolled], now: datetime
) -> list[MayStart]:
    """Ask the gate about everybody on a roster: for a meeting's time and place, and all processes of the course."""
    stations = [booking.station, *(row.brings for row in places.station_or_raise(session, booking.station_id).brings)]
    by_process = gate.work_by_process(session)
    works = [by_process[process.id] for process in course.processes]
    every_work = () if works else by_process.values()
    subjects = [*gate.subjects_of(stations=stations, process=None, every_work=every_work), *works]
    person_ids = [row.person.id for row in roster if row.person is not None]
    answers = gate.clearances(session, person_ids=person_ids, subjects=subjects, at=max(booking.ends_at, now), now=now)
    day = to_local(booking.starts_at, zone=records.zone(session)).date()
    young = who_is_under_18(session, person_ids, on=day)
    return [
        MayStart(
            row,
            joined(lacked for subject in subjects for lacked in answers[row.person.id, subject].missing)
            if row.person is not None
            else (),
            tuple(
                why_not_in_class(
                    session,
                    row.person,
                    booking,
                    stations=stations,
                    processes=course.processes,
                    instructors=course.instructors,
                    now=now,
                )
            )
            if row.person is not None and row.person.id in young
            else (),
        )
        for row in roster
    ]


def in_a_sentence(answers: Sequence[MayStart]) -> str:
    """How many may not start, or an empty text where everybody may.

    >>> in_a_sentence([])
    ''
    """
    barred = sum(not answer.is_clear for answer in answers)
    if not barred:
        return ""
    return f"{counted(barred).capitalize()} of {counted(len(answers))} may not start."
