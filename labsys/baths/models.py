"""Tables of the baths: lines of baths in working order, what they were mixed from, uses, checks, replenishing."""

from datetime import datetime
from enum import StrEnum
from typing import TYPE_CHECKING

from sqlalchemy import BigInteger, CheckConstraint, ForeignKey, Index, String, UniqueConstraint, select
from sqlalchemy.orm import Mapped, column_property, mapped_column, relationship

from labsys.chemistry.bath_rules import Colour, Holding
from labsys.chemistry.sizes import Load, Material
from labsys.database import BigId, Model, UtcDateTime, made_text
from labsys.ledger.models import Vessel
from labsys.people.models import Person
from labsys.processes.models import Process
from labsys.products.models import Product
from labsys.store.models import Bottle


class Work(StrEnum):
    """What a line is for. Film and paper never share a line."""

    FILM = "film"
    PAPER = "paper"

    @property
    def materials(self) -> tuple[Material, ...]:
        return (Material.FILM,) if self is Work.FILM else (Material.RC, Material.FIBRE)


class Place(StrEnum):
    """A bath's place in its line, in working order."""

    DEVELOPER = "developer"
    STOP = "stop bath"
    BLEACH = "bleach"
    BLEACH_FIX = "bleach-fix"
    FIXER = "fixer"
    SECOND_FIXER = "second fixer"
    WASH_AID = "wash aid"
    TONER = "toner"
    STABILISER = "stabiliser"
    RINSE = "final rinse"


class BathLine(Model):
    """Baths in working order: one log entry counts in every bath that is in service."""

    __tablename__ = "bath_lines"
    __table_args__ = (UniqueConstraint("name"), UniqueConstraint("code"))

    NAME_LENGTH = 80

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    name: Mapped[str] = mapped_column(String(NAME_LENGTH))
    code: Mapped[str] = mapped_column(String(20))
    work: Mapped[Work]
    holding: Mapped[Holding | None] = mapped_column(comment="what its baths stand in, as said when it was laid out")
    process_id: Mapped[int | None] = mapped_column(ForeignKey("processes.id"))
    process: Mapped[Process | None] = relationship()


class CountedWork:
    """Columns of what went through a bath, by the time a row tells of; `Load` takes them together."""

    film_mm2: Mapped[int] = mapped_column(BigInteger, default=0)
    rc_mm2: Mapped[int] = mapped_column(BigInteger, default=0)
    fibre_mm2: Mapped[int] = mapped_column(BigInteger, default=0)
    pieces: Mapped[int] = mapped_column(BigInteger, default=0)

    @property
    def used(self) -> Load:
        return Load(film_mm2=self.film_mm2, rc_mm2=self.rc_mm2, fibre_mm2=self.fibre_mm2, pieces=self.pieces)


class Bath(CountedWork, Model):
    """A working solution, from mixing to dumping.

    Areas and pieces that went through it are columns, so that its life is not a sum over its uses. It is a spare until
    it is put in service, and waits to be dumped once another took its place.
    """

    __tablename__ = "baths"
    __table_args__ = (
        UniqueConstraint("code"),
        UniqueConstraint("vessel_id"),
        CheckConstraint("film_mm2 >= 0 AND rc_mm2 >= 0 AND fibre_mm2 >= 0 AND pieces >= 0", name="used"),
        Index(None, "dumped_at", "line_id"),
    )

    NAME_LENGTH = 80

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    code: Mapped[str] = mapped_column(String(20))
    name: Mapped[str] = mapped_column(String(NAME_LENGTH))
    vessel_id: Mapped[int] = mapped_column(ForeignKey("vessels.id"))
    product_id: Mapped[int] = mapped_column(ForeignKey("products.id"), index=True)
    water_parts_milli: Mapped[int] = mapped_column(BigInteger, comment="N of 1+N, × 1000, as intended")
    holding: Mapped[Holding]
    line_id: Mapped[int] = mapped_column(ForeignKey("bath_lines.id"))
    place: Mapped[Place]
    mixed_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_at: Mapped[datetime] = mapped_column(UtcDateTime)
    mixed_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    in_service_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    out_of_service_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    dumped_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    made_up_ul: Mapped[int] = mapped_column(BigInteger, comment="working solution mixed and replenished, in all")
    vessel: Mapped[Vessel] = relationship(lazy="joined")
    product: Mapped[Product] = relationship()
    line: Mapped[BathLine] = relationship()
    mixed_by: Mapped[Person] = relationship()
    batches: Mapped[list["Batch"]] = relationship(order_by="Batch.id")
    checks: Mapped[list["Check"]] = relationship(order_by="Check.id")
    rotation: Mapped["Rotation | None"] = relationship()
    if TYPE_CHECKING:
        has_second_fixer: Mapped[bool]  # whether a second fixer is in service in its line

    @property
    def is_in_service(self) -> bool:
        return self.in_service_at is not None and self.out_of_service_at is None and self.dumped_at is None

    @property
    def is_spare(self) -> bool:
        return self.in_service_at is None and self.dumped_at is None

    @property
    def is_waiting(self) -> bool:
        """Whether it only waits to be dumped."""
        return not self.is_in_service and not self.is_spare


_behind = Bath.__table__.alias("behind")
Bath.has_second_fixer = column_property(
    select(_behind.c.id)
    .where(
        _behind.c.line_id == Bath.line_id,
        _behind.c.place == Place.SECOND_FIXER,
        _behind.c.in_service_at.is_not(None),
        _behind.c.out_of_service_at.is_(None),
        _behind.c.dumped_at.is_(None),
    )
    .correlate_except(_behind)
    .exists(),
    deferred=True,
)


class Rotation(CountedWork, Model):
    """A second fixer took the first place, the work that had gone through it till then not counting any more."""

    __tablename__ = "rotations"
    __table_args__ = (UniqueConstraint("bath_id"), CheckConstraint("number >= 1", name="number"))

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    bath_id: Mapped[int] = mapped_column(ForeignKey("baths.id"))
    number: Mapped[int] = mapped_column(comment="how many there were since both baths were mixed fresh")
    rotated_at: Mapped[datetime] = mapped_column(UtcDateTime)
    rotated_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))


class Batch(Model):
    """One making-up that went into a bath: its mixing, then each replenishing. Amounts as really measured."""

    __tablename__ = "batches"
    __table_args__ = (UniqueConstraint("movement_id"), CheckConstraint("volume_ul > 0", name="volume"))

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    bath_id: Mapped[int] = mapped_column(ForeignKey("baths.id"), index=True)
    movement_id: Mapped[int] = mapped_column(ForeignKey("movements.id"))
    volume_ul: Mapped[int] = mapped_column(BigInteger)
    strength_ppm: Mapped[int] = mapped_column(comment="measured strength against intended, 1 000 000 is equal")
    is_as_planned: Mapped[bool] = mapped_column(default=False, comment="amounts of the plan: nobody wrote others")
    mixed_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_at: Mapped[datetime] = mapped_column(UtcDateTime)
    mixed_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    mixed_by: Mapped[Person] = relationship()
    parts: Mapped[list["BatchPart"]] = relationship(order_by="BatchPart.id")


class BatchPart(Model):
    """What one bottle gave to a batch."""

    __tablename__ = "batch_parts"
    __table_args__ = (CheckConstraint("amount > 0", name="amount"), UniqueConstraint("batch_id", "bottle_id"))

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    batch_id: Mapped[int] = mapped_column(ForeignKey("batches.id"))
    bottle_id: Mapped[int] = mapped_column(ForeignKey("bottles.id"), index=True)
    amount: Mapped[int] = mapped_column(BigInteger, comment="in the bottle's unit")
    bottle: Mapped[Bottle] = relationship()


class Use(Model):
    """What somebody, or a class, put through a line: size and count. A correction is a new use that names the old."""

    __tablename__ = "uses"
    __table_args__ = (
        UniqueConstraint("corrects_id"),
        CheckConstraint("count >= 0", name="count"),
        Index(None, "person_id", "used_at"),
        Index(None, "used_at"),
    )

    LARGEST_COUNT = 2_000

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    line_id: Mapped[int] = mapped_column(ForeignKey("bath_lines.id"), index=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"), comment="whose work, or who taught the class")
    class_name: Mapped[str] = mapped_column(String(80), default="", comment="a tally for a class; empty for one person")
    size: Mapped[str] = mapped_column(String(20))
    material: Mapped[Material]
    count: Mapped[int]
    area_mm2: Mapped[int] = mapped_column(BigInteger)
    used_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    flag: Mapped[str] = mapped_column(made_text(400), default="", comment="what was wrong with it, in words")
    corrects_id: Mapped[int | None] = mapped_column(ForeignKey("uses.id"))
    line: Mapped[BathLine] = relationship()
    person: Mapped[Person] = relationship(foreign_keys=[person_id])
    recorded_by: Mapped[Person] = relationship(foreign_keys=[recorded_by_id])
    baths: Mapped[list["UseBath"]] = relationship(order_by="UseBath.id")
    corrected_by: Mapped["Use | None"] = relationship(
        primaryjoin="Use.id == foreign(Use.corrects_id)", remote_side="Use.corrects_id", uselist=False, viewonly=True
    )


class UseBath(Model):
    """A bath that a use counts in."""

    __tablename__ = "use_baths"
    __table_args__ = (UniqueConstraint("use_id", "bath_id"), Index(None, "bath_id", "use_id"))

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    use_id: Mapped[int] = mapped_column(ForeignKey("uses.id"))
    bath_id: Mapped[int] = mapped_column(ForeignKey("baths.id"))
    bath: Mapped[Bath] = relationship()


class LateUse(Model):
    """Work told of after a bath it went through was dumped: it counts in none until the technician accepts it."""

    __tablename__ = "late_uses"
    __table_args__ = (
        UniqueConstraint("use_id"),
        CheckConstraint("count > 0", name="count"),
        CheckConstraint("(settled_at IS NULL) = (settled_by_id IS NULL)", name="settled_by_somebody"),
        CheckConstraint(
            "CASE WHEN settled_at IS NULL THEN use_id IS NULL AND refused_because = '' "
            "ELSE (use_id IS NULL) <> (refused_because = '') END",
            name="accepted_or_refused",
        ),
        Index(None, "settled_at"),
    )

    REASON_LENGTH = 300

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    line_id: Mapped[int] = mapped_column(ForeignKey("bath_lines.id"))
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"), comment="whose work, or who taught the class")
    class_name: Mapped[str] = mapped_column(String(80), default="")
    size: Mapped[str] = mapped_column(String(20))
    material: Mapped[Material]
    count: Mapped[int]
    used_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    settled_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    settled_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    use_id: Mapped[int | None] = mapped_column(ForeignKey("uses.id"), comment="the use it became")
    refused_because: Mapped[str] = mapped_column(String(REASON_LENGTH), default="")
    line: Mapped[BathLine] = relationship()
    person: Mapped[Person] = relationship(foreign_keys=[person_id])


class CheckKind(StrEnum):
    CLEARING_TIME = "clearing time"
    PH = "pH"
    INDICATOR = "indicator"


class Check(CountedWork, Model):
    """One test of a bath, and what had gone through it by then. The newest of each kind counts."""

    __tablename__ = "checks"
    __table_args__ = (CheckConstraint("(value_milli IS NULL) <> (colour IS NULL)", name="one_result"),)

    LONGEST_CLEARING_S = 3_600

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    bath_id: Mapped[int] = mapped_column(ForeignKey("baths.id"), index=True)
    kind: Mapped[CheckKind]
    value_milli: Mapped[int | None] = mapped_column(comment="seconds or pH, × 1000")
    colour: Mapped[Colour | None] = mapped_column(comment="of an indicator")
    is_fresh: Mapped[bool] = mapped_column(comment="clearing time of the fresh bath: the others are held against it")
    checked_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_at: Mapped[datetime] = mapped_column(UtcDateTime)
    checked_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    checked_by: Mapped[Person] = relationship()

    @property
    def value(self) -> float:
        """The figure that was read, of a test that has one. [s or -]"""
        if self.value_milli is None:
            raise ValueError(self.kind)
        return self.value_milli / 1000

    @property
    def finding(self) -> str:
        """The result in words."""
        if self.colour is not None:
            return f"indicator {self.colour}"
        if self.kind is CheckKind.PH:
            return f"pH {self.value:g}"
        return f"clears in {self.value:g} s, fresh" if self.is_fresh else f"clears in {self.value:g} s"
