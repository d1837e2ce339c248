"""Tables of places: rooms, stations with equal units, what comes with what, opening hours and closures."""

from datetime import date, datetime
from enum import StrEnum

from sqlalchemy import CheckConstraint, ForeignKey, Index, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from labsys.database import BigId, Model, UtcDateTime


class RoomKind(StrEnum):
    SAFELIGHT = "safelight area"
    TOTAL_DARK = "total-dark area"
    DRY_SIDE = "dry side"


class Stated(StrEnum):
    """Whether something is so of a room; what nobody has said is never yes."""

    NOT_STATED = "not stated"
    YES = "yes"
    NO = "no"


class Room(Model):
    """A room: what light it has, how many people it takes, and what helps whom in it."""

    __tablename__ = "rooms"
    __table_args__ = (UniqueConstraint("name"),)

    NAME_LENGTH = 60
    WORDS_LENGTH = 300
    MOST_PEOPLE = 500

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    name: Mapped[str] = mapped_column(String(NAME_LENGTH))
    kind: Mapped[RoomKind]
    most_people: Mapped[int | None] = mapped_column(comment="for fire, everybody counted; empty: not stated")
    most_taught: Mapped[int | None] = mapped_column(comment="students of classes at once; empty: not stated")
    step_free: Mapped[Stated] = mapped_column(default=Stated.NOT_STATED)
    looked_into: Mapped[Stated] = mapped_column(
        default=Stated.NOT_STATED, comment="people outside can look into it while work goes on"
    )
    helps: Mapped[str] = mapped_column(String(WORDS_LENGTH), default="", comment="what helps deaf or blind people")


class Station(Model):
    """A place to work, with one or more equal units: twelve places at the wet side are one station of twelve units."""

    __tablename__ = "stations"
    __table_args__ = (
        UniqueConstraint("name"),
        CheckConstraint("margin_minutes >= 0 AND margin_minutes <= 240", name="margin"),
    )

    MOST_UNITS = 40

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    room_id: Mapped[int] = mapped_column(ForeignKey("rooms.id"))
    name: Mapped[str] = mapped_column(String(Room.NAME_LENGTH))
    position: Mapped[int] = mapped_column(comment="order on the board")
    margin_minutes: Mapped[int] = mapped_column(default=0, comment="kept free after a booking, to clear up")
    note: Mapped[str] = mapped_column(String(120), default="")
    lowest_cm: Mapped[int | None] = mapped_column(comment="height of the work surface, at its lowest")
    highest_cm: Mapped[int | None] = mapped_column(comment="and at its highest, where it can be raised")
    clean_down: Mapped[str] = mapped_column(String(Room.WORDS_LENGTH), default="", comment="how it is left")
    closed_at: Mapped[datetime | None] = mapped_column(UtcDateTime, comment="taken out of use for good")
    room: Mapped[Room] = relationship()
    units: Mapped[list["StationUnit"]] = relationship(
        primaryjoin="and_(Station.id == StationUnit.station_id, StationUnit.removed_at.is_(None))",
        order_by="StationUnit.number",
        back_populates="station",
    )
    every_unit: Mapped[list["StationUnit"]] = relationship(
        order_by="StationUnit.number", viewonly=True, doc="those taken away among them"
    )
    brings: Mapped[list["Companion"]] = relationship(
        foreign_keys="Companion.station_id", order_by="Companion.id", cascade="all, delete-orphan"
    )


class StationUnit(Model):
    """One of a station's equal units; what is held is always a unit."""

    __tablename__ = "station_units"
    __table_args__ = (UniqueConstraint("station_id", "number"), CheckConstraint("number >= 1", name="number"))

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    station_id: Mapped[int] = mapped_column(ForeignKey("stations.id"))
    number: Mapped[int]
    removed_at: Mapped[datetime | None] = mapped_column(UtcDateTime, comment="taken away; kept for what stood on it")
    station: Mapped[Station] = relationship(back_populates="units")

    @property
    def name(self) -> str:
        """One of several by its number, the only one as its place is called."""
        return f"{self.station.name} {self.number}" if len(self.station.units) > 1 else self.station.name


class Companion(Model):
    """What comes with a station: whoever holds a unit of it also holds one of the other."""

    __tablename__ = "companions"
    __table_args__ = (
        UniqueConstraint("station_id", "brings_id"),
        CheckConstraint("station_id <> brings_id", name="another"),
    )

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    station_id: Mapped[int] = mapped_column(ForeignKey("stations.id"))
    brings_id: Mapped[int] = mapped_column(ForeignKey("stations.id"))
    brings: Mapped[Station] = relationship(foreign_keys=[brings_id])


class OpeningHours(Model):
    """Open on a weekday from one minute of the wall clock to another: the lab, or a room that keeps its own hours."""

    __tablename__ = "opening_hours"
    __table_args__ = (
        CheckConstraint("weekday >= 0 AND weekday <= 6", name="weekday"),
        CheckConstraint("opens_minute >= 0 AND opens_minute < closes_minute AND closes_minute <= 1440", name="minutes"),
        UniqueConstraint("room_id", "weekday", "opens_minute"),
    )

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    room_id: Mapped[int | None] = mapped_column(ForeignKey("rooms.id"), comment="empty: the lab")
    weekday: Mapped[int] = mapped_column(comment="0 is Monday")
    opens_minute: Mapped[int]
    closes_minute: Mapped[int]


class SpecialHours(Model):
    """Other hours on one day than its weekday has: open late for a course, say. A day closed is a closure."""

    __tablename__ = "special_hours"
    __table_args__ = (
        CheckConstraint("opens_minute >= 0 AND opens_minute < closes_minute AND closes_minute <= 1440", name="minutes"),
        UniqueConstraint("room_id", "day", "opens_minute"),
        Index(None, "day"),
    )

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    room_id: Mapped[int | None] = mapped_column(ForeignKey("rooms.id"), comment="empty: the lab")
    day: Mapped[date]
    opens_minute: Mapped[int]
    closes_minute: Mapped[int]


class Closure(Model):
    """Closed although the hours say open, with the reason shown to whoever wants to book.

    The whole lab, or a room, a place, or one of a place's units.
    """

    __tablename__ = "closures"
    __table_args__ = (
        CheckConstraint("starts_at < ends_at", name="span"),
        CheckConstraint(
            "(room_id IS NULL OR station_id IS NULL) AND (room_id IS NULL OR unit_id IS NULL)"
            " AND (station_id IS NULL OR unit_id IS NULL)",
            name="one_scope",
        ),
        Index(None, "starts_at"),
    )

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    starts_at: Mapped[datetime] = mapped_column(UtcDateTime)
    ends_at: Mapped[datetime] = mapped_column(UtcDateTime)
    reason: Mapped[str] = mapped_column(String(120))
    room_id: Mapped[int | None] = mapped_column(ForeignKey("rooms.id"))
    station_id: Mapped[int | None] = mapped_column(ForeignKey("stations.id"))
    unit_id: Mapped[int | None] = mapped_column(ForeignKey("station_units.id"))
    room: Mapped[Room | None] = relationship()
    station: Mapped[Station | None] = relationship()
    unit: Mapped[StationUnit | None] = relationship()

    @property
    def what(self) -> str:
        """What is closed, as a sentence begins with it."""
        if self.room is not None:
            return self.room.name
        if self.station is not None:
            return self.station.name
        return self.unit.name if self.unit is not None else "The lab"
