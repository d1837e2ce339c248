"""What people do with courses: set one up with its whole term, move a meeting, leave one out, keep the roster."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from labsys.bookings import queries as booking_queries
from labsys.bookings import service as bookings
from labsys.bookings import terms
from labsys.bookings.models import Booking
from labsys.bookings.rules import Plan
from labsys.bookings.terms import ClassWanted
from labsys.courses import queries, rules, words
from labsys.courses.dates import Decided
from labsys.courses.models import Course, CourseInduction, CourseInstructor, CourseProcess, Meeting, Student
from labsys.courses.rules import CourseRefused, Term
from labsys.courses.telling import tell_roster
from labsys.database import DbSession, flush_or_refuse
from labsys.inductions import queries as inductions
from labsys.jobs import service as jobs
from labsys.mail import service as mail
from labsys.people.acts import Act, act
from labsys.people.models import Person
from labsys.people.permissions import Permission, require
from labsys.people.roster import Row
from labsys.processes import queries as processes
from labsys.records import queries as records
from labsys.timetable.spans import Span

PART = 500  # rows of a roster written in one act
ADD_STUDENTS = "add students"  # the kind of job that adds more


@dataclass(frozen=True)
class CourseEntry:
    """What is entered of a course, all but its dates and its roster."""

    name: str
    term_name: str
    term: Term
    station_id: int
    units: int
    instructor_ids: tuple[int, ...]
    process_ids: tuple[int, ...] = ()
    induction_ids: tuple[int, ...] = ()
    override: str = ""
    students: int | None = None

    @property
    def wanted(self) -> ClassWanted:
        """What each meeting takes."""
        process_id, *also = self.process_ids or (None,)
        return ClassWanted(
            self.instructor_ids[0],
            self.station_id,
            self.units,
            self.name,
            Plan(process_id=process_id),
            self.override,
            students=self.students,
            teachers=len(set(self.instructor_ids)),
            also=tuple(filter(None, also)),
        )


def wanted_of(session: DbSession, course: Course, *, override: str = "") -> ClassWanted:
    """What each meeting of a course takes now, with everybody on its roster."""
    students = queries.counts_of_students(session, [course.id]).get(course.id)
    return CourseEntry(
        course.name,
        course.term,
        Term(course.first_day, course.starts_minute, course.ends_minute),
        course.station_id,
        course.units,
        tuple(person.id for person in course.instructors),
        tuple(process.id for process in course.processes),
        override=override,
        students=students,
    ).wanted


@act
def set_up(act: Act, *, entry: CourseEntry, dates: Sequence[Decided], rows: Sequence[Row] = ()) -> Course:
    """Set up a course and book its term: every date that is to be booked, or nothing at all.

    Raises NotPermitted, NotFound, CourseRefused, BookingRefused, TermTaken or NotCleared.
    """
    require(act.actor, Permission.BOOK_CLASS)
    check_entry(entry)
    people = [booking_queries.person_here_or_raise(act.session, person_id) for person_id in entry.instructor_ids]
    for person in people:
        bookings.check_may_hold(act, person)
    if queries.course_named(act.session, entry.name, entry.term_name) is not None:
        raise _named_already(entry)
    spans = [decided.span for decided in dates if decided.span is not None]
    if not spans:
        raise CourseRefused("No date of it can be booked. Choose other times, or another place.")
    term = entry.term
    course = Course(
        name=entry.name,
        term=entry.term_name,
        station_id=entry.station_id,
        units=entry.units,
        first_day=term.first_day,
        last_day=term.last_day,
        starts_minute=term.starts_minute,
        ends_minute=term.ends_minute,
        rule=term.rule,
        country=term.country,
        part=term.part,
        made_at=act.now,
        made_by_id=act.actor.id,
        instructor_rows=[CourseInstructor(person=person) for person in people],
        induction_rows=[
            CourseInduction(induction=inductions.induction_or_raise(act.session, induction_id))
            for induction_id in entry.induction_ids
        ],
        process_rows=[
            CourseProcess(process=processes.process_or_raise(act.session, process_id))
            for process_id in entry.process_ids
        ],
    )
    act.session.add(course)
    flush_or_refuse(
        act.session, _named_already(entry), constraint="uq_courses_name_term", columns="courses.name, courses.term"
    )
    facts = {"units": entry.units, "rule": term.rule, "from": term.first_day.isoformat(), "dates": len(spans)}
    act.tell("course.set_up", about=course, facts=facts)
    made = terms.book_all(act, person=people[0], wanted=entry.wanted, spans=spans)
    act.session.add_all(
        Meeting(
            course_id=course.id,
            day=decided.day,
            booking=made[decided.span] if decided.span else None,
            left_out=decided.why_not,
        )
        for decided in dates
    )
    act.session.flush()
    if len(rows) > PART:
        _queue(act, course=course, rows=rows)
    else:
        add_rows(act, course=course, rows=rows)
    _tell_instructors(act, course, people, spans)
    return course


def check_entry(entry: CourseEntry) -> None:
    """Raise CourseRefused unless a course has what it needs."""
    if not entry.name:
        raise CourseRefused("Name the course, such as First prints.", field="name")
    if not entry.term_name:
        raise CourseRefused("Name the term, such as autumn 2026.", field="term")
    if not 1 <= len(set(entry.instructor_ids)) <= rules.MOST_INSTRUCTORS:
        raise CourseRefused(f"Choose who teaches it, from one to {rules.MOST_INSTRUCTORS} people.", field="instructors")


def _named_already(entry: CourseEntry) -> CourseRefused:
    return CourseRefused(
        f"There is a course {entry.name} in {entry.term_name} already. Open it, or name this one otherwise.",
        field="name",
    )


@act
def move_meeting(act: Act, *, meeting_id: int, span: Span, override: str = "") -> Meeting:
    """Put one meeting at another time, also one that was left out, and tell everybody on the roster.

    Raises NotPermitted, NotFound, CourseRefused, BookingRefused, SlotTaken, TermTaken or NotCleared.
    """
    require(act.actor, Permission.BOOK_CLASS)
    meeting = queries.meeting_or_raise(act.session, meeting_id, lock=True)
    course = queries.course_or_raise(act.session, meeting.course_id)
    if meeting.ended_at is not None:
        raise CourseRefused("This meeting is over: who stayed was confirmed.")
    booking = _standing(meeting)
    before = Span(booking.starts_at, booking.ends_at) if booking else None
    if before == span:
        raise CourseRefused("It stands at that time already. Choose another.", field="day")
    if booking is not None:
        held = booking_queries.booking_or_raise(act.session, booking.id, lock=True)
        if held.arrived_at is not None:
            raise CourseRefused("It has begun. Somebody is there.")
        act.tell("meeting.moved", about=meeting, facts={"to": span.start.isoformat()})
        bookings.rebook(act, held, span=span, plan=bookings.plan_of(held), override=override)
    else:
        act.tell("meeting.moved", about=meeting, facts={"to": span.start.isoformat()})
        wanted = wanted_of(act.session, course, override=override)
        made = terms.book_all(act, person=course.instructors[0], wanted=wanted, spans=[span])
        meeting.booking, meeting.left_out = made[span], ""
    act.session.flush()
    if before is None:
        zone = records.zone(act.session)
        tell_roster(act, meeting, words.moved(meeting, before=None, now_at=span, zone=zone))
    return meeting


def _standing(meeting: Meeting) -> Booking | None:
    """The booking of a meeting, unless it was cancelled."""
    booking = meeting.booking
    return booking if booking is not None and booking.cancelled_at is None else None


@act
def add_students(act: Act, *, course_id: int, rows: Sequence[Row]) -> Course:
    """Put people on a roster; whoever is on it already stays as they are. Raises NotPermitted or NotFound."""
    require(act.actor, Permission.BOOK_CLASS)
    course = queries.course_or_raise(act.session, course_id, lock=True)
    added = add_rows(act, course=course, rows=rows)
    if added:
        act.tell("course.students_added", about=course, facts={"added": added})
    return course


def add_rows(act: Act, *, course: Course, rows: Sequence[Row]) -> int:
    """Step: put people on a roster, each once: by their account where they have one, else by their address.

    Returns how many came on it.
    """
    accounts = queries.people_by_email(act.session, [row.email for row in rows])
    person_ids = [person.id for person in accounts.values()]
    there = queries.students_among(
        act.session, course_id=course.id, emails=[row.email for row in rows], person_ids=person_ids
    )
    by_email = {student.email: student for student in there}
    by_person = {student.person_id: student for student in there if student.person_id}
    added = 0
    for row in rows:
        person = accounts.get(row.email)
        student = by_email.get(row.email) or (by_person.get(person.id) if person else None)
        if student is None:
            student = Student(
                course_id=course.id, name=person.name if person else row.name, email=row.email, added_at=act.now
            )
            act.session.add(student)
            added += 1
        elif student.removed_at is not None:
            student.removed_at, added = None, added + 1
        if person is not None and student.person_id is None:
            student.person_id = person.id
            by_person[person.id] = student
        by_email[row.email] = student
    act.session.flush()
    if added:
        _count_anew(act, course)
    return added


def _count_anew(act: Act, course: Course) -> None:
    """Step: the meetings to come count as many people as are on the roster. Raises BookingRefused."""
    standing = [booking for meeting in course.meetings if (booking := _standing(meeting)) is not None]
    to_come = [booking for booking in standing if booking.ends_at > act.now]
    terms.count_anew(act, to_come, wanted=wanted_of(act.session, course))


@act
def ask_for_students(act: Act, *, course_id: int, rows: Sequence[Row]) -> int:
    """Have a long list put on a roster in the background, in parts; its job. Raises NotPermitted or NotFound."""
    require(act.actor, Permission.BOOK_CLASS)
    course = queries.course_or_raise(act.session, course_id)
    job_id = _queue(act, course=course, rows=rows)
    act.tell("course.students_asked", about=course, facts={"rows": len(rows)})
    return job_id


def _queue(act: Act, *, course: Course, rows: Sequence[Row]) -> int:
    asked = {"course": course.id, "by": act.actor.id, "rows": [[row.name, row.email] for row in rows]}
    job_id = jobs.queue(
        act.session, kind=ADD_STUDENTS, due_at=act.now, now=act.now, parameters=asked, asked_by=act.actor
    )
    assert job_id is not None  # noqa: S101 - without a key nothing stands against it
    return job_id


@act
def remove_student(act: Act, *, student_id: int) -> Student:
    """Take somebody off a roster; where they were there before stays on file. Raises NotPermitted or NotFound."""
    require(act.actor, Permission.BOOK_CLASS)
    student = queries.student_or_raise(act.session, student_id, lock=True)
    if student.removed_at is None:
        student.removed_at = act.now
        course = queries.course_or_raise(act.session, student.course_id)
        act.tell("course.student_removed", about=course, facts={"student": student.id})
        act.session.flush()
        _count_anew(act, course)
    return student


def _tell_instructors(act: Act, course: Course, people: Collection[Person], spans: Sequence[Span]) -> None:
    """One mail to each who teaches, but for whoever set it up."""
    message = words.set_up(course, spans, by=act.actor, zone=records.zone(act.session))
    mail.queue_all(act.session, [mail.Letter(message, person) for person in people], by=act.actor, now=act.now)
