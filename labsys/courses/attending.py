"""The attendance register of a meeting: who came, who stayed, and what they were taught. Coming confirms nothing."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from labsys.bookings import service as bookings
from labsys.bookings.comings_and_goings import follow
from labsys.bookings.models import Booking
from labsys.courses import queries, rules
from labsys.courses.models import Attendance, Meeting, Outcome
from labsys.courses.queries import Enrolled
from labsys.courses.rules import CourseRefused
from labsys.devices import queries as devices
from labsys.inductions import gate, signing
from labsys.inductions import rules as induction_rules
from labsys.inductions.rules import InductionState
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require
from labsys.records import queries as records
from labsys.records import rules as codes
from labsys.records.errors import Refused


@dataclass(frozen=True)
class Ended:
    """How a meeting ended: who was signed off, and who could not be since they have no account."""

    meeting: Meeting
    signed_off: int
    without_account: tuple[str, ...]


@act
def take_register(act: Act, *, meeting_id: int, here: Collection[int], shown_here: Collection[int]) -> Meeting:
    """Note who of a roster is here; whoever was shown as here and is so no more was ticked by mistake.

    Raises NotPermitted, NotFound or CourseRefused.
    """
    require(act.actor, Permission.BOOK_CLASS)
    meeting, booking = _open(act, meeting_id)
    there = {row.student_id: row for row in queries.attendances(act.session, meeting_ids=[meeting_id])}
    enrolled = [row.student.id for row in queries.enrolled(act.session, course_id=meeting.course_id)]
    came = [student_id for student_id in enrolled if student_id in here and student_id not in there]
    gone = [student_id for student_id in shown_here if student_id in there and student_id not in here]
    for student_id in came:
        _arrive(act, meeting, booking, student_id)
    for student_id in gone:
        act.session.delete(there[student_id])
    if came or gone:
        act.tell("meeting.register_taken", about=meeting, facts={"came": came, "not_here": gone})
    return meeting


@act
def scan(act: Act, *, meeting_id: int, code: str) -> Attendance:
    """Note an arrival by the code of somebody's card. Raises NotPermitted, NotFound or CourseRefused."""
    require(act.actor, Permission.BOOK_CLASS)
    meeting, booking = _open(act, meeting_id)
    try:
        read = codes.read_code(code, prefix=records.the_lab(act.session).code_prefix)
    except codes.CodeRefused as refusal:
        raise CourseRefused(str(refusal), field="code") from refusal
    card = devices.valid_card(act.session, code=read.code, now=act.now)
    if card is None:
        raise CourseRefused("This card is not known. Tick the name instead.", field="code")
    return _come(act, meeting, booking, person_id=card.person_id, who=card.person.name)


@act
def come(act: Act, *, meeting_id: int) -> Attendance:
    """Note, as a student, that one is here oneself. Raises NotFound or CourseRefused."""
    require(act.actor, Permission.SEE_LAB)
    meeting, booking = _open(act, meeting_id)
    return _come(act, meeting, booking, person_id=act.actor.id, who="You")


@act
def end_meeting(
    act: Act, *, meeting_id: int, stayed: Collection[int], not_shown: Collection[int], induction_ids: Collection[int]
) -> Ended:
    """Confirm who stayed to the end, and that each of them but `not_shown` showed the practical items.

    Only those are signed off who came, stayed, have an account and do not hold it already; each confirms it
    personally. Raises NotPermitted, NotFound, CourseRefused or InductionRefused.
    """
    require(act.actor, Permission.BOOK_CLASS)
    meeting = queries.meeting_or_raise(act.session, meeting_id, lock=True)
    booking = booking_of(meeting)
    rules.check_can_end(starts_at=booking.starts_at, ended_at=meeting.ended_at, now=act.now)
    course = queries.course_or_raise(act.session, meeting.course_id)
    if unknown := set(induction_ids) - {induction.id for induction in course.inductions}:
        raise CourseRefused(f"This course does not teach {unknown}.", field="inductions")
    for attendance in queries.attendances(act.session, meeting_ids=[meeting_id]):
        attendance.outcome = Outcome.STAYED if attendance.student_id in stayed else Outcome.LEFT_EARLY
    came = {row.student_id for row in queries.attendances(act.session, meeting_ids=[meeting_id])}
    taught = [
        row
        for row in queries.enrolled(act.session, course_id=meeting.course_id)
        if row.student.id in came & set(stayed) and row.student.id not in not_shown
    ]
    meeting.ended_at, meeting.ended_by_id = act.now, act.actor.id
    act.tell("meeting.ended", about=meeting, facts={"stayed": sorted(came & set(stayed)), "came": sorted(came)})
    signed = sum(_sign_off(act, taught, induction_id) for induction_id in sorted(set(induction_ids)))
    without = tuple(row.student.name for row in taught if row.person is None) if induction_ids else ()
    return Ended(meeting, signed, without)


def booking_of(meeting: Meeting) -> Booking:
    """The booking of a meeting that stands. Raises CourseRefused."""
    if meeting.booking is None or meeting.booking.cancelled_at is not None:
        raise CourseRefused("This meeting does not take place. Book another day for it first.")
    return meeting.booking


def _open(act: Act, meeting_id: int) -> tuple[Meeting, Booking]:
    meeting = queries.meeting_or_raise(act.session, meeting_id, lock=True)
    booking = booking_of(meeting)
    rules.check_register_open(
        starts_at=booking.starts_at, ends_at=booking.ends_at, ended_at=meeting.ended_at, now=act.now
    )
    return meeting, booking


def _come(act: Act, meeting: Meeting, booking: Booking, *, person_id: int, who: str) -> Attendance:
    """Step: note that somebody came who is on the roster; the second time nothing changes."""
    roster = queries.enrolled(act.session, course_id=meeting.course_id)
    student = next((row.student for row in roster if row.person and row.person.id == person_id), None)
    if student is None:
        verb = "are" if who == "You" else "is"
        raise CourseRefused(f"{who} {verb} not on the roster. Add them to it, or speak to who teaches.", field="code")
    there = queries.attendances(act.session, meeting_ids=[meeting.id])
    earlier = next((row for row in there if row.student_id == student.id), None)
    if earlier is not None:
        return earlier
    attendance = _arrive(act, meeting, booking, student.id)
    act.tell("meeting.register_taken", about=meeting, facts={"came": [student.id], "not_here": []})
    return attendance


def _arrive(act: Act, meeting: Meeting, booking: Booking, student_id: int) -> Attendance:
    """Step: somebody is here, which is counted in any case; with the first of them the class begins, where it may."""
    attendance = Attendance(meeting_id=meeting.id, student_id=student_id, arrived_at=act.now, noted_by_id=act.actor.id)
    act.session.add(attendance)
    is_to_begin = booking.arrived_at is None and booking.missed_at is None and act.now < booking.ends_at
    if is_to_begin and not why_not_begun(act, booking):
        booking.arrived_at = act.now
        follow(act)
    act.session.flush()
    return attendance


def why_not_begun(act: Act, booking: Booking) -> str:
    """Step: why a class may not begin now, by all that is asked of any booking; empty where it may."""
    try:
        bookings.require_may_begin(act, booking, person=booking.person)
    except Refused as refusal:
        return str(refusal)
    return ""


def go(act: Act, attendance: Attendance, *, at: datetime) -> None:
    """Step: somebody of a class has left the building, at an instant that may be past."""
    attendance.left_at = max(at, attendance.arrived_at)
    act.tell("meeting.left", about=attendance.meeting, facts={"student": attendance.student_id})


def _sign_off(act: Act, taught: Collection[Enrolled], induction_id: int) -> int:
    """Step: sign those off who do not hold an induction and have nothing of it to confirm. Returns how many."""
    person_ids = [row.person.id for row in taught if row.person is not None and row.person.is_active]
    held = induction_rules.standings(
        person_ids,
        induction_ids=[induction_id],
        editions=gate.editions(act.session, induction_ids=[induction_id]),
        sign_offs=gate.sign_offs(act.session, person_ids=person_ids, induction_ids=[induction_id]),
        at=act.now,
    )
    had = (InductionState.CURRENT, InductionState.WAITING)
    lacking = [person_id for person_id in person_ids if held[person_id, induction_id].standing not in had]
    lacking = [person_id for person_id in lacking if person_id != act.actor.id]
    if not lacking:
        return 0
    signed = signing.sign_off_class(
        act, person_ids=lacking, induction_ids=[induction_id], taught_at=act.now, saw_practice=True
    )
    return len(signed)
