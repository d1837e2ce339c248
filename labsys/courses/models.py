"""Tables of courses: what is taught when, who teaches and who comes, each meeting, and who was there."""

from datetime import date, datetime
from enum import StrEnum

from sqlalchemy import CheckConstraint, ForeignKey, Index, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from labsys.bookings.models import Booking
from labsys.database import BigId, Model, UtcDateTime
from labsys.inductions.models import Induction
from labsys.people.models import Person
from labsys.places.models import Station
from labsys.processes.models import Process
from labsys.timetable.recurrence import LONGEST_RULE


class Course(Model):
    """A course of a term: the place it wants, its hours, and the rule by which it meets.

    When a meeting is, its booking says.
    """

    __tablename__ = "courses"
    __table_args__ = (
        UniqueConstraint("name", "term"),
        CheckConstraint("units >= 1", name="units"),
        CheckConstraint("starts_minute >= 0 AND starts_minute < 1440", name="starts_minute"),
        CheckConstraint("ends_minute > 0 AND ends_minute <= 1440", name="ends_minute"),
        CheckConstraint("last_day IS NULL OR last_day >= first_day", name="days"),
    )

    TERM_LENGTH = 60

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    name: Mapped[str] = mapped_column(String(Booking.CLASS_LENGTH))
    term: Mapped[str] = mapped_column(String(TERM_LENGTH))
    station_id: Mapped[int] = mapped_column(ForeignKey("stations.id"))
    units: Mapped[int]
    first_day: Mapped[date]
    last_day: Mapped[date | None] = mapped_column(comment="of the term; none: the rule ends by itself")
    starts_minute: Mapped[int]
    ends_minute: Mapped[int] = mapped_column(comment="not after the start: on the next day")
    rule: Mapped[str] = mapped_column(String(LONGEST_RULE), comment="RFC 5545")
    country: Mapped[str] = mapped_column(String(2), default="", comment="whose public holidays; empty: none")
    part: Mapped[str] = mapped_column(String(10), default="", comment="of the country")
    made_at: Mapped[datetime] = mapped_column(UtcDateTime)
    made_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    station: Mapped[Station] = relationship()
    instructor_rows: Mapped[list["CourseInstructor"]] = relationship(order_by="CourseInstructor.id")
    induction_rows: Mapped[list["CourseInduction"]] = relationship(order_by="CourseInduction.id")
    process_rows: Mapped[list["CourseProcess"]] = relationship(order_by="CourseProcess.id")
    meetings: Mapped[list["Meeting"]] = relationship(order_by="Meeting.day", back_populates="course")

    @property
    def instructors(self) -> list[Person]:
        """Who teaches it, the first being whose bookings they are."""
        return [row.person for row in self.instructor_rows]

    @property
    def inductions(self) -> list[Induction]:
        return [row.induction for row in self.induction_rows]

    @property
    def processes(self) -> list[Process]:
        return [row.process for row in self.process_rows]


class CourseInstructor(Model):
    """Somebody who teaches a course."""

    __tablename__ = "course_instructors"
    __table_args__ = (UniqueConstraint("course_id", "person_id"),)

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    course_id: Mapped[int] = mapped_column(ForeignKey("courses.id"))
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"), index=True)
    person: Mapped[Person] = relationship()


class CourseInduction(Model):
    """An induction that a course teaches."""

    __tablename__ = "course_inductions"
    __table_args__ = (UniqueConstraint("course_id", "induction_id"),)

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    course_id: Mapped[int] = mapped_column(ForeignKey("courses.id"))
    induction_id: Mapped[int] = mapped_column(ForeignKey("inductions.id"))
    induction: Mapped[Induction] = relationship()


class CourseProcess(Model):
    """A process that a course works with."""

    __tablename__ = "course_processes"
    __table_args__ = (UniqueConstraint("course_id", "process_id"),)

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    course_id: Mapped[int] = mapped_column(ForeignKey("courses.id"))
    process_id: Mapped[int] = mapped_column(ForeignKey("processes.id"))
    process: Mapped[Process] = relationship()


class Student(Model):
    """Somebody on the roster of a course. They may have no account yet: then the address is how they are known."""

    __tablename__ = "course_students"
    __table_args__ = (UniqueConstraint("course_id", "email"),)

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    course_id: Mapped[int] = mapped_column(ForeignKey("courses.id"))
    name: Mapped[str] = mapped_column(String(Person.NAME_LENGTH))
    email: Mapped[str] = mapped_column(String(Person.EMAIL_LENGTH), index=True, comment="lower case")
    person_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"), index=True)
    added_at: Mapped[datetime] = mapped_column(UtcDateTime)
    removed_at: Mapped[datetime | None] = mapped_column(UtcDateTime)


class Meeting(Model):
    """One date of a course. Its time and place are those of its booking; a date left out has none, and says why."""

    __tablename__ = "course_meetings"
    __table_args__ = (
        UniqueConstraint("course_id", "day"),
        UniqueConstraint("booking_id"),
        CheckConstraint("(booking_id IS NULL) = (left_out <> '')", name="booked_or_left_out"),
        CheckConstraint("(ended_at IS NULL) = (ended_by_id IS NULL)", name="ended"),
    )

    WHY_LENGTH = 200

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    course_id: Mapped[int] = mapped_column(ForeignKey("courses.id"))
    day: Mapped[date] = mapped_column(comment="as the rule has it")
    booking_id: Mapped[int | None] = mapped_column(ForeignKey("bookings.id"))
    left_out: Mapped[str] = mapped_column(String(WHY_LENGTH), default="", comment="why it is not booked")
    ended_at: Mapped[datetime | None] = mapped_column(UtcDateTime, comment="who stayed was confirmed")
    ended_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    course: Mapped[Course] = relationship(back_populates="meetings")
    booking: Mapped[Booking | None] = relationship()


class Outcome(StrEnum):
    """How somebody who came went."""

    STAYED = "stayed"
    LEFT_EARLY = "left early"


class Attendance(Model):
    """Somebody came to a meeting. It says nothing of what they learned: that is signed for."""

    __tablename__ = "course_attendances"
    __table_args__ = (UniqueConstraint("meeting_id", "student_id"), Index(None, "student_id"))

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    meeting_id: Mapped[int] = mapped_column(ForeignKey("course_meetings.id"))
    student_id: Mapped[int] = mapped_column(ForeignKey("course_students.id"))
    arrived_at: Mapped[datetime] = mapped_column(UtcDateTime)
    noted_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    outcome: Mapped[Outcome | None]
    left_at: Mapped[datetime | None] = mapped_column(UtcDateTime, comment="out of the building, as far as was noted")
    meeting: Mapped[Meeting] = relationship()
