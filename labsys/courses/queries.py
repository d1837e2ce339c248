"""What pages and acts read of courses."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import ColumnElement, false, func, or_, select, true
from sqlalchemy.orm import joinedload, lazyload, selectinload

from labsys.bookings.models import Booking
from labsys.courses.models import (
    Attendance,
    Course,
    CourseInduction,
    CourseInstructor,
    CourseProcess,
    Meeting,
    Outcome,
    Student,
)
from labsys.database import DbSession
from labsys.people.models import Person
from labsys.people.permissions import Permission, may
from labsys.people.row_kinds import NEVER, NOTHING, Page, RowKind, Search
from labsys.places.models import Station
from labsys.records.queries import get_or_raise
from labsys.timetable.period import Period

_WHOLE = (
    joinedload(Course.station).joinedload(Station.room),
    selectinload(Course.instructor_rows).joinedload(CourseInstructor.person),
    selectinload(Course.induction_rows).joinedload(CourseInduction.induction),
    selectinload(Course.process_rows).joinedload(CourseProcess.process),
    selectinload(Course.meetings).joinedload(Meeting.booking).joinedload(Booking.station),
)


@dataclass(frozen=True)
class Enrolled:
    """Somebody on a roster, with their account where they have one: found by its address when it came later."""

    student: Student
    person: Person | None


def course_or_raise(session: DbSession, course_id: int, *, lock: bool = False) -> Course:
    return get_or_raise(session, Course, course_id, "course", lock=lock, options=_WHOLE)


def course_named(session: DbSession, name: str, term: str) -> Course | None:
    return session.execute(select(Course).where(Course.name == name, Course.term == term)).scalar_one_or_none()


def term_at(session: DbSession, day: date) -> Period | None:
    """The days of the courses that run on a day, as far as they have come; between terms those of the last one."""
    ends = func.max(func.coalesce(Course.last_day, Meeting.day))
    spans = (
        select(Course.first_day, ends.label("last"))
        .join(Meeting, Meeting.course_id == Course.id)
        .where(Course.first_day <= day)
        .group_by(Course.id, Course.first_day)
    )
    terms = [Period(row.first_day, max(row.first_day, row.last)) for row in session.execute(spans)]
    if running := [term for term in terms if term.last >= day]:
        return Period(min(term.first for term in running), day)
    return max(terms, key=lambda term: term.last, default=None)


def courses(session: DbSession, *, before_id: int | None = None, limit: int) -> list[Course]:
    """Courses with their meetings, the newest first; pages by key."""
    query = select(Course).options(*_WHOLE).order_by(Course.id.desc()).limit(limit)
    if before_id is not None:
        query = query.where(Course.id < before_id)
    return list(session.execute(query).scalars())


def meeting_or_raise(session: DbSession, meeting_id: int, *, lock: bool = False) -> Meeting:
    whole = joinedload(Meeting.booking).joinedload(Booking.station)
    return get_or_raise(session, Meeting, meeting_id, "meeting", lock=lock, options=[whole])


def enrolled(session: DbSession, *, course_id: int) -> list[Enrolled]:
    """Who is on the roster of a course, by name."""
    query = (
        select(Student, Person)
        .outerjoin(
            Person, or_(Person.id == Student.person_id, (Student.person_id.is_(None)) & (Person.email == Student.email))
        )
        .where(Student.course_id == course_id, Student.removed_at.is_(None))
        .order_by(Student.name, Student.id)
        .options(lazyload(Person.role_rows))
    )
    return [Enrolled(student, person) for student, person in session.execute(query)]


def counts_of_students(session: DbSession, course_ids: Collection[int]) -> dict[int, int]:
    """How many are on each roster."""
    query = (
        select(Student.course_id, func.count())
        .where(Student.course_id.in_(course_ids), Student.removed_at.is_(None))
        .group_by(Student.course_id)
    )
    return {row[0]: row[1] for row in session.execute(query)}


def students_among(
    session: DbSession, *, course_id: int, emails: Collection[str], person_ids: Collection[int]
) -> list[Student]:
    """Those of these addresses or accounts who are or were on a roster."""
    known = or_(Student.email.in_(emails), Student.person_id.in_(person_ids))
    return list(session.execute(select(Student).where(Student.course_id == course_id, known)).scalars())


def student_or_raise(session: DbSession, student_id: int, *, lock: bool = False) -> Student:
    return get_or_raise(session, Student, student_id, "student", lock=lock)


def people_by_email(session: DbSession, emails: Sequence[str]) -> dict[str, Person]:
    """Accounts of these addresses, some hundreds at a time."""
    query = select(Person).where(Person.email.in_(emails))
    return {person.email: person for person in session.execute(query).scalars()}


def attendances(session: DbSession, *, meeting_ids: Collection[int]) -> list[Attendance]:
    """Who came to these meetings."""
    return list(session.execute(select(Attendance).where(Attendance.meeting_id.in_(meeting_ids))).scalars())


@dataclass(frozen=True)
class Attending:
    """Somebody of a class who is in the building, with their account where they have one."""

    attendance: Attendance
    student: Student
    person: Person | None
    booking: Booking
    course: str


def attending_now(session: DbSession, *, booking_ids: Collection[int] | None = None) -> list[Attending]:
    """Who came to a class that has not gone, and has not gone themselves."""
    account = or_(Person.id == Student.person_id, (Student.person_id.is_(None)) & (Person.email == Student.email))
    query = (
        select(Attendance, Student, Person, Booking, Course.name)
        .join(Student, Attendance.student_id == Student.id)
        .join(Meeting, Attendance.meeting_id == Meeting.id)
        .join(Booking, Meeting.booking_id == Booking.id)
        .join(Course, Meeting.course_id == Course.id)
        .outerjoin(Person, account)
        .where(
            Booking.left_at.is_(None),
            Booking.cancelled_at.is_(None),
            Attendance.left_at.is_(None),
            or_(Attendance.outcome.is_(None), Attendance.outcome == Outcome.STAYED),
        )
        .order_by(Student.name, Attendance.id)
    )
    if booking_ids is not None:
        query = query.where(Booking.id.in_(booking_ids))
    return [Attending(*row) for row in session.execute(query)]


def heads_of_classes(session: DbSession, booking_ids: Collection[int]) -> dict[int, int]:
    """How many people of each of these classes are in, who teaches counted; only courses have a roster to tell."""
    of_courses = session.execute(select(Meeting.booking_id).where(Meeting.booking_id.in_(booking_ids))).scalars()
    heads = {booking_id: 1 for booking_id in of_courses if booking_id is not None}
    for attending in attending_now(session, booking_ids=list(heads)):
        heads[attending.booking.id] += 1
    return heads


def next_meetings(session: DbSession, *, now: datetime, until: datetime) -> list[Meeting]:
    """Meetings that begin in a stretch of time and stand, in order of time."""
    query = (
        select(Meeting)
        .join(Meeting.booking)
        .where(Booking.starts_at >= now, Booking.starts_at < until, Booking.cancelled_at.is_(None))
        .options(joinedload(Meeting.booking), joinedload(Meeting.course))
        .order_by(Booking.starts_at, Meeting.id)
    )
    return list(session.execute(query).scalars())


def _open_to(person: Person) -> ColumnElement[bool]:
    return true() if may(person, Permission.BOOK_FOR_OTHERS) else false()


COURSE = RowKind(
    table=Course,
    called="course",
    many="courses",
    pages=(Page("courses.show", "course_id", Permission.BOOK_FOR_OTHERS),),
    search=Search(
        select(Course.id, Course.name, NOTHING, Course.term, NEVER), by=(Course.name, Course.term), open_to=_open_to
    ),
)
