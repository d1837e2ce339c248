"""Tables of bookings, and of holds: the one place where time at a unit is taken."""

from datetime import datetime, timedelta
from enum import StrEnum

from sqlalchemy import CheckConstraint, ForeignKey, Index, String, UniqueConstraint, func, text
from sqlalchemy.dialects.postgresql import ExcludeConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from labsys.chemistry.sizes import Material
from labsys.database import BigId, Model, UtcDateTime
from labsys.people.models import Person, Role
from labsys.places.models import Station, StationUnit
from labsys.processes.models import Process
from labsys.timetable.spans import Span

NO_OVERLAP = "holds_no_overlap"


class Booking(Model):
    """A person's time at a station, with what they plan. A class is a booking of several units with a name.

    Cancelling deletes its holds and keeps the booking.
    """

    __tablename__ = "bookings"
    __table_args__ = (
        CheckConstraint("starts_at < ends_at", name="span"),
        CheckConstraint("units >= 1", name="units"),
        CheckConstraint("students >= 0", name="students"),
        CheckConstraint("teachers >= 1", name="teachers"),
        CheckConstraint("planned_count >= 0", name="planned_count"),
        CheckConstraint("left_at IS NULL OR arrived_at IS NOT NULL", name="left_after_arrival"),
        Index(None, "person_id", "starts_at"),
        Index(None, "starts_at"),
    )

    CLASS_LENGTH = 80
    NOTE_LENGTH = 200

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"), comment="whose time; the instructor of a class")
    station_id: Mapped[int] = mapped_column(ForeignKey("stations.id"))
    units: Mapped[int] = mapped_column(default=1)
    wanted_number: Mapped[int | None] = mapped_column(comment="that unit and no other; empty: any")
    class_name: Mapped[str] = mapped_column(String(CLASS_LENGTH), default="")
    students: Mapped[int | None] = mapped_column(comment="of a class, where they are known; empty: one a unit")
    teachers: Mapped[int] = mapped_column(default=1, comment="of a class")
    starts_at: Mapped[datetime] = mapped_column(UtcDateTime)
    ends_at: Mapped[datetime] = mapped_column(UtcDateTime)
    process_id: Mapped[int | None] = mapped_column(ForeignKey("processes.id"))
    planned_size: Mapped[str] = mapped_column(String(20), default="")
    planned_material: Mapped[Material | None]
    planned_count: Mapped[int] = mapped_column(default=0)
    guests: Mapped[int] = mapped_column(default=0, comment="people who come along; they work with nothing")
    note: Mapped[str] = mapped_column(String(NOTE_LENGTH), default="")
    made_at: Mapped[datetime] = mapped_column(UtcDateTime)
    made_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    version: Mapped[int] = mapped_column(default=1, comment="raised by every change")
    cancelled_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    cancelled_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    is_late_cancel: Mapped[bool] = mapped_column(default=False, comment="by its person, later than the lab asks")
    override_reason: Mapped[str] = mapped_column(String(NOTE_LENGTH), default="", comment="why beyond fair use")
    changed_at: Mapped[datetime | None] = mapped_column(UtcDateTime, comment="last; empty: stands as it was made")
    missed_at: Mapped[datetime | None] = mapped_column(UtcDateTime, comment="nobody had come: given free")
    arrived_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    fan_confirmed_at: Mapped[datetime | None] = mapped_column(UtcDateTime, comment="somebody saw that extraction runs")
    left_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    person: Mapped[Person] = relationship(foreign_keys=[person_id])
    made_by: Mapped[Person] = relationship(foreign_keys=[made_by_id])
    station: Mapped[Station] = relationship()
    process: Mapped[Process | None] = relationship()
    holds: Mapped[list["Hold"]] = relationship(
        order_by="Hold.id", cascade="all, delete-orphan", back_populates="booking"
    )
    supervision: Mapped["Supervision | None"] = relationship(back_populates="booking", cascade="all, delete-orphan")
    also_rows: Mapped[list["BookingProcess"]] = relationship(order_by="BookingProcess.id", cascade="all, delete-orphan")

    @property
    def also(self) -> list[Process]:
        """What a class does besides its process: each is asked about as that is."""
        return [row.process for row in self.also_rows]

    @property
    def along(self) -> int:
        """How many people come along without a place of their own."""
        return (self.guests or 0) + bool(self.supervision and self.supervision.comes)

    @property
    def is_here(self) -> bool:
        return self.arrived_at is not None and self.left_at is None


class BookingProcess(Model):
    """A process that a class does besides the one of its booking."""

    __tablename__ = "booking_processes"
    __table_args__ = (UniqueConstraint("booking_id", "process_id"),)

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    booking_id: Mapped[int] = mapped_column(ForeignKey("bookings.id"))
    process_id: Mapped[int] = mapped_column(ForeignKey("processes.id"))
    process: Mapped[Process] = relationship()


class Supervision(Model):
    """Who answers for somebody under 18 at a booking. Whether that suffices is worked out from the facts each time."""

    __tablename__ = "supervisions"
    __table_args__ = (
        UniqueConstraint("booking_id"),
        CheckConstraint("left_at IS NULL OR arrived_at IS NOT NULL", name="left_after_arrival"),
    )

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    booking_id: Mapped[int] = mapped_column(ForeignKey("bookings.id"))
    supervisor_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"), index=True)
    second_adult_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"), index=True)
    comes: Mapped[bool] = mapped_column(
        default=False, comment="the supervisor said so, for this booking, and needs no place of their own"
    )
    arrived_at: Mapped[datetime | None] = mapped_column(UtcDateTime, comment="the supervisor, for this booking")
    left_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    suspended_at: Mapped[datetime | None] = mapped_column(UtcDateTime, comment="as people were told; empty: it stands")
    booking: Mapped[Booking] = relationship(back_populates="supervision")
    supervisor: Mapped[Person | None] = relationship(foreign_keys=[supervisor_id])
    second_adult: Mapped[Person | None] = relationship(foreign_keys=[second_adult_id])


class FairUse(Model):
    """What one role may book, set by the lab; what is empty is not limited. A role without a row has the usual."""

    __tablename__ = "fair_use"
    __table_args__ = (
        UniqueConstraint("role"),
        CheckConstraint("furthest_days >= 1", name="furthest"),
        CheckConstraint("notice_minutes >= 0", name="notice"),
        CheckConstraint("longest_minutes >= 30 AND longest_minutes <= 1440", name="longest"),
        CheckConstraint("most_open >= 1", name="most_open"),
        CheckConstraint("week_minutes >= 30", name="week"),
    )

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    role: Mapped[Role]
    furthest_days: Mapped[int]
    notice_minutes: Mapped[int]
    longest_minutes: Mapped[int]
    most_open: Mapped[int | None]
    week_minutes: Mapped[int | None]
    may_overlap: Mapped[bool]


class WaitEnd(StrEnum):
    """How a wait ended."""

    BOOKED = "booked"
    LEFT = "left the list"
    DECLINED = "offer declined"
    LAPSED = "offer not taken in time"
    OVER = "nothing became free"


class Wait(Model):
    """Somebody waits for a place of a length between two times; what becomes free is offered to them until a time.

    An offer is no booking: it holds its units, and becomes a booking when it is accepted.
    """

    __tablename__ = "waits"
    __table_args__ = (
        CheckConstraint("from_at < until_at", name="span"),
        CheckConstraint("minutes >= 30 AND minutes <= 1440", name="minutes"),
        CheckConstraint("planned_count >= 0", name="planned_count"),
        CheckConstraint("(offered_until IS NULL) = (offer_starts_at IS NULL)", name="offer_whole"),
        CheckConstraint("offered_until <= offer_starts_at", name="offer_before_start"),
        CheckConstraint("(ended_at IS NULL) = (ending IS NULL)", name="ending"),
        CheckConstraint("(ending = 'booked') = (booking_id IS NOT NULL)", name="booked"),
        Index(None, "person_id", "until_at"),
        Index(None, "until_at"),
    )

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    station_id: Mapped[int] = mapped_column(ForeignKey("stations.id"))
    from_at: Mapped[datetime] = mapped_column(UtcDateTime, comment="not before")
    until_at: Mapped[datetime] = mapped_column(UtcDateTime, comment="over by then")
    minutes: Mapped[int]
    process_id: Mapped[int | None] = mapped_column(ForeignKey("processes.id"))
    planned_size: Mapped[str] = mapped_column(String(20), default="")
    planned_count: Mapped[int] = mapped_column(default=0)
    note: Mapped[str] = mapped_column(String(Booking.NOTE_LENGTH), default="")
    made_at: Mapped[datetime] = mapped_column(UtcDateTime, comment="the first to wait is the first to be offered")
    offer_starts_at: Mapped[datetime | None] = mapped_column(UtcDateTime, comment="of the time held for them")
    offered_until: Mapped[datetime | None] = mapped_column(UtcDateTime, comment="then it passes on to the next")
    ended_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    ending: Mapped[WaitEnd | None]
    booking_id: Mapped[int | None] = mapped_column(ForeignKey("bookings.id"), comment="what it came to")
    person: Mapped[Person] = relationship()
    station: Mapped[Station] = relationship()
    process: Mapped[Process | None] = relationship()

    @property
    def window(self) -> Span:
        """Between which times it may be."""
        return Span(self.from_at, self.until_at)

    @property
    def length(self) -> timedelta:
        return timedelta(minutes=self.minutes)

    @property
    def offered(self) -> Span | None:
        """The time that is held for them, while an offer stands or stood."""
        return None if self.offer_starts_at is None else Span(self.offer_starts_at, self.offer_starts_at + self.length)


class Hold(Model):
    """Time taken at one unit, by a booking or by an offer. Nothing else takes time, so one constraint forbids overlaps.

    PostgreSQL by an exclusion constraint, SQLite by triggers of the same name (in the migration).
    """

    __tablename__ = "holds"
    __table_args__ = (
        CheckConstraint("starts_at < ends_at", name="span"),
        CheckConstraint("(booking_id IS NULL) <> (wait_id IS NULL)", name="whose"),
        ExcludeConstraint(
            (func.int8range(text("unit_id"), text("unit_id"), text("'[]'")), "&&"),
            (func.tstzrange(text("starts_at"), text("ends_at")), "&&"),
            name=NO_OVERLAP,
            using="gist",
        ).ddl_if(dialect="postgresql"),
        Index(None, "unit_id", "starts_at"),
        Index(None, "starts_at"),
    )

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    unit_id: Mapped[int] = mapped_column(ForeignKey("station_units.id"))
    booking_id: Mapped[int | None] = mapped_column(ForeignKey("bookings.id"), index=True)
    wait_id: Mapped[int | None] = mapped_column(ForeignKey("waits.id"), index=True, comment="of an offer")
    starts_at: Mapped[datetime] = mapped_column(UtcDateTime)
    ends_at: Mapped[datetime] = mapped_column(UtcDateTime, comment="the margin to clear up included")
    unit: Mapped[StationUnit] = relationship()
    booking: Mapped[Booking | None] = relationship(back_populates="holds")
