"""Tables of equipment: what is checked, each check with what was found, and faults until they are cleared."""

from datetime import date, datetime
from enum import StrEnum
from typing import Any

from sqlalchemy import CheckConstraint, ColumnElement, ForeignKey, Index, String, and_, exists, or_
from sqlalchemy.orm import Mapped, aliased, mapped_column, relationship

from labsys.database import BigId, Model, UtcDateTime
from labsys.people.models import Person
from labsys.places.models import Room, Station


class EquipmentKind(StrEnum):
    """What is checked; the value is how pages say it."""

    THERMOMETER = "thermometer"
    CYLINDER = "measuring cylinder"
    BALANCE = "balance"
    PH_METER = "pH meter"
    EYEWASH = "plumbed eyewash"
    EYEWASH_BOTTLE = "eyewash bottle"
    LOCAL_EXHAUST = "local exhaust"
    VENTILATION = "general ventilation"
    SPILL_KIT = "spill kit"
    GLOVES = "gloves"
    SAFELIGHT = "safelight"
    APPLIANCE = "electrical appliance"
    RCD = "RCD"

    @property
    def titled(self) -> str:
        """As a sentence or a list begins with it; pH stays pH."""
        return str(self) if self is EquipmentKind.PH_METER else self[:1].upper() + self[1:]


class CheckKind(StrEnum):
    """What is done at a check."""

    READING = "check of its reading"
    RUN = "run"
    INSPECTION = "inspection"
    LOOK = "look"
    EXAMINATION = "thorough examination and test"
    FLOW = "check of its flow"
    FOG = "fog test"
    ELECTRICAL = "electrical test"
    TRIP = "trip test"


class FaultKind(StrEnum):
    """What is wrong, as whoever sees it says it."""

    OUT_OF_ORDER = "it does not work"
    DAMAGED = "it leaks or is damaged"
    MISSING = "it is missing or used up"
    OTHER = "something else"


class Equipment(Model):
    """An instrument, or something that keeps people safe. What it serves is closed when it fails."""

    __tablename__ = "equipment"
    __table_args__ = (
        CheckConstraint("room_id IS NULL OR station_id IS NULL", name="serves_one"),
        CheckConstraint("step_micro > 0", name="step"),
        CheckConstraint("(kind = 'eyewash bottle') = (lapses_on IS NOT NULL)", name="bottle_lapses"),
        CheckConstraint("(retired_at IS NULL) = (retired_because = '')", name="retired_because"),
    )

    NAME_LENGTH = 80
    WORDS_LENGTH = 300

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    kind: Mapped[EquipmentKind]
    name: Mapped[str] = mapped_column(String(NAME_LENGTH))
    code: Mapped[str] = mapped_column(String(20), default="", comment="empty: entered before equipment had codes")
    whereabouts: Mapped[str] = mapped_column(String(NAME_LENGTH), default="", comment="where it hangs or lies")
    room_id: Mapped[int | None] = mapped_column(ForeignKey("rooms.id"), comment="closed when it fails")
    station_id: Mapped[int | None] = mapped_column(ForeignKey("stations.id"), comment="closed when it fails")
    lapses_on: Mapped[date | None] = mapped_column(comment="the last day of a sealed bottle")
    step_micro: Mapped[int | None] = mapped_column(BigId, comment="one step of its display, of a balance, × 10⁶")
    added_on: Mapped[date]
    retired_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    retired_because: Mapped[str] = mapped_column(String(WORDS_LENGTH), default="")
    room: Mapped[Room | None] = relationship()
    station: Mapped[Station | None] = relationship()
    reading: Mapped["EquipmentCheck | None"] = relationship(
        primaryjoin=lambda: and_(
            Equipment.id == EquipmentCheck.equipment_id, EquipmentCheck.kind == CheckKind.READING, is_newest()
        ),
        viewonly=True,
        uselist=False,
        doc="the newest check of its reading",
    )

    @property
    def serves(self) -> str:
        """What is closed when it fails, in words."""
        if self.station is not None:
            return self.station.name
        return self.room.name if self.room is not None else ""


class EquipmentCheck(Model):
    """One check. `error_micro` is the largest error found, reading less true; `doubt_micro` is what it was held
    against may be off."""

    __tablename__ = "equipment_checks"
    __table_args__ = (
        CheckConstraint("(error_micro IS NULL) = (doubt_micro IS NULL)", name="error_with_doubt"),
        CheckConstraint("doubt_micro > 0", name="doubt"),
        CheckConstraint("(kind = 'check of its reading') = (error_micro IS NOT NULL)", name="reading_has_error"),
        Index(None, "equipment_id", "kind", "happened_on"),
    )

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    equipment_id: Mapped[int] = mapped_column(ForeignKey("equipment.id"))
    kind: Mapped[CheckKind]
    happened_on: Mapped[date]
    recorded_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    has_passed: Mapped[bool]
    error_micro: Mapped[int | None] = mapped_column(BigId, comment="°C, mL, g or pH, × 10⁶")
    doubt_micro: Mapped[int | None] = mapped_column(BigId, comment="in the same unit")
    note: Mapped[str] = mapped_column(String(Equipment.WORDS_LENGTH), default="")
    recorded_by: Mapped[Person] = relationship()
    examination: Mapped["Examination | None"] = relationship(uselist=False)


class Examination(Model):
    """What a record of a thorough examination and test of local exhaust says besides, for five years."""

    __tablename__ = "equipment_examinations"

    LINE_LENGTH = 200
    TEXT_LENGTH = 1_000
    # HSE, COSHH Approved Code of Practice on regulation 9, particulars (a) to (j), read in an extract.

    check_id: Mapped[int] = mapped_column(ForeignKey("equipment_checks.id"), primary_key=True, autoincrement=False)
    employer: Mapped[str] = mapped_column(String(TEXT_LENGTH), comment="name and address, whose plant it is")
    plant: Mapped[str] = mapped_column(String(LINE_LENGTH), comment="which, where, and what it draws away")
    conditions: Mapped[str] = mapped_column(String(LINE_LENGTH), comment="at the test: as in use, or special ones")
    intended: Mapped[str] = mapped_column(String(TEXT_LENGTH), comment="performance it was made for")
    found: Mapped[str] = mapped_column(String(TEXT_LENGTH), comment="performance at the test")
    method: Mapped[str] = mapped_column(String(TEXT_LENGTH), comment="how it was judged")
    repairs: Mapped[str] = mapped_column(String(TEXT_LENGTH), comment="what has to be repaired; empty: nothing")
    examiner: Mapped[str] = mapped_column(String(LINE_LENGTH), comment="who, as what, of whom")


class EquipmentFault(Model):
    """Something wrong with equipment or with a place, as somebody reported it; it stands until it is cleared."""

    __tablename__ = "equipment_faults"
    __table_args__ = (
        CheckConstraint("(equipment_id IS NULL) <> (station_id IS NULL)", name="one_subject"),
        CheckConstraint("(cleared_at IS NULL) = (cleared_by_id IS NULL)", name="cleared_by"),
        CheckConstraint("(cleared_at IS NULL) = (cleared_how = '')", name="cleared_how"),
        Index(None, "cleared_at"),
    )

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    equipment_id: Mapped[int | None] = mapped_column(ForeignKey("equipment.id"), index=True)
    station_id: Mapped[int | None] = mapped_column(ForeignKey("stations.id"), index=True)
    kind: Mapped[FaultKind]
    words: Mapped[str] = mapped_column(String(Equipment.WORDS_LENGTH), default="")
    reported_at: Mapped[datetime] = mapped_column(UtcDateTime)
    reported_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    cleared_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    cleared_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    cleared_how: Mapped[str] = mapped_column(String(Equipment.WORDS_LENGTH), default="")
    equipment: Mapped[Equipment | None] = relationship()
    station: Mapped[Station | None] = relationship()
    reported_by: Mapped[Person] = relationship(foreign_keys=reported_by_id)
    cleared_by: Mapped[Person | None] = relationship(foreign_keys=cleared_by_id)


def is_newest(check: Any = EquipmentCheck) -> ColumnElement[bool]:
    """Whether a check is the newest of its kind of its equipment: by the day it was done, then as it was entered."""
    later = aliased(EquipmentCheck)
    return ~exists().where(
        later.equipment_id == check.equipment_id,
        later.kind == check.kind,
        or_(later.happened_on > check.happened_on, and_(later.happened_on == check.happened_on, later.id > check.id)),
    )
