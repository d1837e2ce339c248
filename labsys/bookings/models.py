"""Tables of bookings, and of holds: the one place where time at a unit is taken."""

from datetime import datetime

from sqlalchemy import CheckConstraint, ForeignKey, Index, String, UniqueConstraint, func, text
from sqlalchemy.dialects.postgresql import ExcludeConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from labsys.chemistry.sizes import Material
from labsys.database import BigId, Model, UtcDateTime
from labsys.people.models import Person, Role
from labsys.places.models import Station, StationUnit
from labsys.processes.models import Process

NO_OVERLAP = "holds_no_overlap"


class Booking(Model):
    """A person's time at a station, with what they plan. A class is a booking of several units with a name.

    Cancelling deletes its holds and keeps the booking.
    """

    __tablename__ = "bookings"
    __table_args__ = (
        CheckConstraint("starts_at < ends_at", name="span"),
        CheckConstraint("units >= 1", name="units"),
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
    starts_at: Mapped[datetime] = mapped_column(UtcDateTime)
    ends_at: Mapped[datetime] = mapped_column(UtcDateTime)
    process_id: Mapped[int | None] = mapped_column(ForeignKey("processes.id"))
    planned_size: Mapped[str] = mapped_column(String(20), default="")
    planned_material: Mapped[Material | None]
    planned_count: Mapped[int] = mapped_column(default=0)
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
    left_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    person: Mapped[Person] = relationship(foreign_keys=[person_id])
    station: Mapped[Station] = relationship()
    process: Mapped[Process | None] = relationship()
    holds: Mapped[list["Hold"]] = relationship(
        order_by="Hold.id", cascade="all, delete-orphan", back_populates="booking"
    )

    @property
    def is_here(self) -> bool:
        return self.arrived_at is not None and self.left_at is None


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


class Hold(Model):
    """Time taken at one unit. Nothing else takes time, so one constraint forbids every overlap.

    PostgreSQL by an exclusion constraint, SQLite by triggers of the same name (in the migration).
    """

    __tablename__ = "holds"
    __table_args__ = (
        CheckConstraint("starts_at < ends_at", name="span"),
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
    booking_id: Mapped[int] = mapped_column(ForeignKey("bookings.id"), index=True)
    starts_at: Mapped[datetime] = mapped_column(UtcDateTime)
    ends_at: Mapped[datetime] = mapped_column(UtcDateTime, comment="the margin to clear up included")
    unit: Mapped[StationUnit] = relationship()
    booking: Mapped[Booking] = relationship(back_populates="holds")
