"""Tables of the baths: lines of baths in working order, what they were mixed from, uses, checks, replenishing."""

from datetime import datetime
from enum import StrEnum
from typing import TYPE_CHECKING

from sqlalchemy import BigInteger, CheckConstraint, ForeignKey, Index, String, UniqueConstraint, and_, select
from sqlalchemy.orm import Mapped, column_property, foreign, mapped_column, relationship

from labsys.baths.strip_models import StripAim
from labsys.chemistry.bath_rules import Colour, Holding, Stain
from labsys.chemistry.control_strips import Point, Readings, density, points_of
from labsys.chemistry.sizes import Load, Material
from labsys.database import BigId, Model, UtcDateTime, made_text
from labsys.ledger.models import Vessel
from labsys.people.models import Person
from labsys.processes.models import Process
from labsys.products.models import Product
from labsys.store.models import Bottle


class Work(StrEnum):
    """What a line is for: no two of these share a line, so that each is counted apart."""

    FILM = "film"
    PAPER = "paper"
    COLOUR_FILM = "colour film"
    COLOUR_PAPER = "colour paper"
    TONING = "toning"

    @property
    def materials(self) -> tuple[Material, ...]:
        if self.is_film:
            return (Material.FILM,)
        return (Material.RC,) if self is Work.COLOUR_PAPER else (Material.RC, Material.FIBRE)

    @property
    def is_film(self) -> bool:
        return self in (Work.FILM, Work.COLOUR_FILM)


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


class Way(StrEnum):
    """How a bath is kept up."""

    SHARED = "shared"
    ONE_SHOT = "one-shot"
    REPLENISHED = "replenished"
    STOCK = "stock solution"


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
    way: Mapped[Way] = mapped_column(default=Way.SHARED)
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
    replenishing: Mapped["Replenishing | None"] = relationship()
    seasoning: Mapped["Seasoning | None"] = relationship(foreign_keys="Seasoning.bath_id")
    if TYPE_CHECKING:
        has_second_fixer: Mapped[bool]  # whether a second fixer is in service in its line
        check_rules: Mapped[list["CheckRule"]]  # how often baths like it are tested

    @property
    def is_in_service(self) -> bool:
        return self.in_service_at is not None and self.out_of_service_at is None and self.dumped_at is None

    @property
    def is_spare(self) -> bool:
        return self.in_service_at is None and self.dumped_at is None and not self.is_stock

    @property
    def is_stock(self) -> bool:
        """Whether working baths are drawn from it, so that nothing goes through it."""
        return self.way is Way.STOCK

    @property
    def is_waiting(self) -> bool:
        """Whether it only waits to be dumped."""
        return not (self.is_in_service or self.is_spare or self.is_stock)


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


class Replenishing(Model):
    """How a bath is replenished: with what, at which strength, how much of it for an area, and what it restored so far.

    The volume stays what the tank held when it was mixed: what is too much is bled off before the replenisher goes in.
    """

    __tablename__ = "replenishings"
    __table_args__ = (
        UniqueConstraint("bath_id"),
        CheckConstraint("rate_ul > 0 AND rate_mm2 > 0", name="rate"),
        CheckConstraint("tank_ul > 0", name="tank"),
        CheckConstraint("restored_mm2 >= 0", name="restored"),
        CheckConstraint("source <> ''", name="source"),
    )

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    bath_id: Mapped[int] = mapped_column(ForeignKey("baths.id"))
    product_id: Mapped[int] = mapped_column(ForeignKey("products.id"), comment="the replenisher")
    water_parts_milli: Mapped[int] = mapped_column(BigInteger, comment="of the replenisher: N of 1+N, × 1000")
    rate_ul: Mapped[int] = mapped_column(BigInteger, comment="made up, for so much gone through:")
    rate_mm2: Mapped[int] = mapped_column(BigInteger)
    source: Mapped[str] = mapped_column(String(Product.SOURCE_LENGTH))
    tank_ul: Mapped[int] = mapped_column(BigInteger)
    restored_mm2: Mapped[int] = mapped_column(BigInteger, default=0, comment="area that was made good by now")
    said_at: Mapped[datetime] = mapped_column(UtcDateTime)
    said_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    product: Mapped[Product] = relationship()

    @property
    def ul_per_m2(self) -> int:
        """The rate for a square metre, to be shown. [µL]"""
        return round(self.rate_ul * 1_000_000 / self.rate_mm2)


class Seasoning(CountedWork, Model):
    """Some of the bath before it went into a new one, which so works from the start as it will when it has settled.

    It brings its share of what had gone through that bath along.
    """

    __tablename__ = "seasonings"
    __table_args__ = (
        UniqueConstraint("bath_id"),
        CheckConstraint("amount_ul > 0", name="amount"),
        CheckConstraint("from_bath_id <> bath_id", name="another"),
    )

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    bath_id: Mapped[int] = mapped_column(ForeignKey("baths.id"))
    from_bath_id: Mapped[int] = mapped_column(ForeignKey("baths.id"), index=True)
    movement_id: Mapped[int] = mapped_column(ForeignKey("movements.id"))
    amount_ul: Mapped[int] = mapped_column(BigInteger)
    came_from: Mapped[Bath] = relationship(foreign_keys=[from_bath_id])


class StockPart(Model):
    """What a stock solution gave to a batch."""

    __tablename__ = "stock_parts"
    __table_args__ = (UniqueConstraint("batch_id"), CheckConstraint("amount_ul > 0", name="amount"))

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    batch_id: Mapped[int] = mapped_column(ForeignKey("batches.id"))
    stock_id: Mapped[int] = mapped_column(ForeignKey("baths.id"), index=True)
    amount_ul: Mapped[int] = mapped_column(BigInteger)
    stock: Mapped[Bath] = relationship()


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
    stock_part: Mapped["StockPart | None"] = relationship()


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


class FollowedRule(Model):
    """A lab says that it comes under a rule about amounts, such as one of a nation that is not on file."""

    __tablename__ = "followed_rules"
    __table_args__ = (UniqueConstraint("rule"),)

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    rule: Mapped[str] = mapped_column(String(40), comment="key of a row of the table of amount rules")
    said_at: Mapped[datetime] = mapped_column(UtcDateTime)
    said_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))


class CheckKind(StrEnum):
    CLEARING_TIME = "clearing time"
    PH = "pH"
    INDICATOR = "indicator"
    GRAVITY = "specific gravity"
    SILVER = "silver strip"
    STRIP = "control strip"
    STAIN = "residual silver"


class OfBathsAlike:
    """Columns by which something is said of every bath of one product and dilution at one place of a line."""

    line_id: Mapped[int] = mapped_column(ForeignKey("bath_lines.id"))
    place: Mapped[Place]
    product_id: Mapped[int] = mapped_column(ForeignKey("products.id"))
    water_parts_milli: Mapped[int] = mapped_column(BigInteger)


class CheckRule(OfBathsAlike, Model):
    """How often baths alike are tested in one way, and between which limits the result has to lie."""

    __tablename__ = "check_rules"
    __table_args__ = (
        UniqueConstraint("line_id", "place", "product_id", "water_parts_milli", "kind"),
        CheckConstraint("every_mm2 > 0 AND every_days > 0", name="every"),
        CheckConstraint("low_milli <= high_milli AND high_milli > 0", name="limits"),
        CheckConstraint("high_milli IS NULL OR source <> ''", name="source"),
    )

    MOST_DAYS = 365
    MOST_UNITS = 10_000

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    kind: Mapped[CheckKind]
    every_mm2: Mapped[int | None] = mapped_column(BigInteger, comment="due once so much went through since the last")
    every_days: Mapped[int | None] = mapped_column(comment="due so many days after the last")
    low_milli: Mapped[int | None] = mapped_column(comment="specific gravity at least, × 1000")
    high_milli: Mapped[int | None] = mapped_column(comment="specific gravity, or silver in g/L, at most, × 1000")
    source: Mapped[str] = mapped_column(String(Product.SOURCE_LENGTH), default="", comment="of the limits")


Bath.check_rules = relationship(
    CheckRule,
    primaryjoin=and_(
        Bath.line_id == foreign(CheckRule.line_id),
        Bath.place == foreign(CheckRule.place),
        Bath.product_id == foreign(CheckRule.product_id),
        Bath.water_parts_milli == foreign(CheckRule.water_parts_milli),
    ),
    order_by=CheckRule.id,
    uselist=True,
    viewonly=True,
)


class Check(CountedWork, Model):
    """One test of a bath, and what had gone through it by then. The newest of each kind counts."""

    __tablename__ = "checks"
    __table_args__ = (
        CheckConstraint(
            "CASE WHEN value_milli IS NULL THEN 0 ELSE 1 END + CASE WHEN colour IS NULL THEN 0 ELSE 1 END"
            " + CASE WHEN stain IS NULL THEN 0 ELSE 1 END + CASE WHEN middle IS NULL THEN 0 ELSE 1 END = 1",
            name="one_result",
        ),
        CheckConstraint(
            "(fog IS NULL) = (middle IS NULL) AND (speed IS NULL) = (middle IS NULL)"
            " AND (aim_id IS NULL) = (middle IS NULL)",
            name="strip",
        ),
        CheckConstraint("milli_c IS NULL OR kind IN ('pH', 'specific gravity')", name="warmth"),
    )

    LONGEST_CLEARING_S = 3_600

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    bath_id: Mapped[int] = mapped_column(ForeignKey("baths.id"), index=True)
    kind: Mapped[CheckKind]
    value_milli: Mapped[int | None] = mapped_column(comment="seconds, pH, specific gravity or g/L, × 1000")
    milli_c: Mapped[int | None] = mapped_column(comment="how warm it was, °C × 1000")
    colour: Mapped[Colour | None] = mapped_column(comment="of an indicator")
    stain: Mapped[Stain | None] = mapped_column(comment="of a drop on finished work")
    fog: Mapped[int | None] = mapped_column(comment="of a control strip, density × 1000")
    speed: Mapped[int | None] = mapped_column(comment="of a control strip, density × 1000")
    middle: Mapped[int | None] = mapped_column(comment="of a control strip, density × 1000")
    aim_id: Mapped[int | None] = mapped_column(ForeignKey("strip_aims.id"))
    is_fresh: Mapped[bool] = mapped_column(comment="clearing time of the fresh bath: the others are held against it")
    checked_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_at: Mapped[datetime] = mapped_column(UtcDateTime)
    checked_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    checked_by: Mapped[Person] = relationship()
    aim: Mapped[StripAim | None] = relationship()

    @property
    def value(self) -> float:
        """The figure that was read, of a test that has one. [s, pH, - or g/L]"""
        if self.value_milli is None:
            raise ValueError(self.kind)
        return self.value_milli / 1000

    @property
    def points(self) -> tuple[Point, ...]:
        """The points of a control strip beside their aims; none of another test."""
        if self.aim is None or self.fog is None or self.speed is None or self.middle is None:
            return ()
        read = Readings(self.fog, self.speed, self.middle)
        return points_of(read=read, aim=self.aim.readings, limits=self.aim.limits)

    @property
    def outside(self) -> tuple[str, ...]:
        """What of a control strip lies outside its limits, in words."""
        return tuple(point.words for point in self.points if point.is_outside)

    @property
    def finding(self) -> str:
        """The result in words."""
        if self.colour is not None:
            return f"indicator {self.colour}"
        if self.stain is not None:
            return f"drop for silver: {self.stain}"
        if self.middle is not None:
            read = " / ".join(density(each) for each in (self.fog, self.speed, self.middle) if each is not None)
            return f"control strip {read}, {'outside its limits' if self.outside else 'within its limits'}"
        at = "" if self.milli_c is None else f" at {self.milli_c / 1000:g} °C"
        match self.kind:
            case CheckKind.PH:
                return f"pH {self.value:g}{at}"
            case CheckKind.GRAVITY:
                return f"specific gravity {self.value:.3f}{at}"
            case CheckKind.SILVER:
                return f"silver strip {self.value:g} g/L"
        return f"clears in {self.value:g} s, fresh" if self.is_fresh else f"clears in {self.value:g} s"
