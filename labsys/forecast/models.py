"""Tables of the forecast: each time it was worked out, what was said of each bath, class, bottle and product, and what
came of it."""

from datetime import date, datetime
from enum import StrEnum

from sqlalchemy import BigInteger, CheckConstraint, ForeignKey, Index, String, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from labsys.baths.models import Bath, CountedWork
from labsys.bookings.models import Booking
from labsys.database import BigId, Model, UtcDateTime, made_text
from labsys.products.models import Product
from labsys.store.models import Bottle

_ORDERED = "earliest_at <= latest_at"
_NO_END_WITHOUT_BEGINNING = "latest_at IS NULL OR earliest_at IS NOT NULL"


class EndsBy(StrEnum):
    """What ends a bath in most of the ways in which the coming weeks may go."""

    USE = "use"
    AGE = "age"
    EITHER = "use or age"


class Verdict(StrEnum):
    """Whether a bath takes the work of a class."""

    ENOUGH = "enough"
    PERHAPS = "perhaps not enough"
    NO = "not enough"
    NOT_KNOWN = "not known"


class Outcome(StrEnum):
    """What came of a day or a range that was forecast."""

    HELD = "held"
    BEFORE = "ended before the range"
    AFTER = "ended after the range, or not yet"
    CUT = "taken out before its end"  # nobody can say when it would have ended: it counts neither way


class ClassOutcome(StrEnum):
    """What came of a bath in the class that it was forecast for."""

    LASTED = "lasted"
    FAILED = "did not last"
    REPLACED = "was replaced before"


class Run(Model):
    """The forecast as it was worked out once. The newest stands; of each day before, the first is kept to be judged."""

    __tablename__ = "forecast_runs"
    __table_args__ = (Index(None, "day"),)

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    made_at: Mapped[datetime] = mapped_column(UtcDateTime)
    day: Mapped[date] = mapped_column(comment="on the clock in the lab")
    until: Mapped[datetime] = mapped_column(UtcDateTime, comment="how far it looks ahead")
    basis: Mapped[str] = mapped_column(String(64), comment="digest of what it was worked out from")


class _Ranged:
    """A range of instants; without an end it reaches beyond what was looked at, without a beginning too."""

    earliest_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    latest_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    outcome: Mapped[Outcome | None]
    ended_at: Mapped[datetime | None] = mapped_column(UtcDateTime, comment="when it did, as far as that was seen")


class BathForecast(_Ranged, CountedWork, Model):
    """When a bath will end. What had gone through it then is kept, so that a newer use shows."""

    __tablename__ = "forecast_baths"
    __table_args__ = (
        UniqueConstraint("run_id", "bath_id"),
        CheckConstraint(_ORDERED, name="ordered"),
        CheckConstraint(_NO_END_WITHOUT_BEGINNING, name="begins"),
        CheckConstraint("why_not_known = '' OR (earliest_at IS NULL AND outcome IS NULL)", name="known"),
        Index(None, "outcome"),
    )

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    run_id: Mapped[int] = mapped_column(ForeignKey("forecast_runs.id", ondelete="CASCADE"))
    bath_id: Mapped[int] = mapped_column(ForeignKey("baths.id"), index=True)
    made_up_ul: Mapped[int] = mapped_column(BigInteger, comment="of the bath when this was worked out")
    ends_by: Mapped[EndsBy | None]
    why_not_known: Mapped[str] = mapped_column(made_text(300), default="")
    run: Mapped[Run] = relationship()
    bath: Mapped[Bath] = relationship()


class ClassForecast(Model):
    """Whether a bath takes the work of one class; of a class whose baths nobody can name there is a row without one."""

    __tablename__ = "forecast_classes"
    __table_args__ = (
        UniqueConstraint("run_id", "booking_id", "bath_id"),
        CheckConstraint("(verdict = 'not known') = (why_not_known <> '')", name="known"),
        CheckConstraint("bath_id IS NOT NULL OR verdict = 'not known'", name="bath"),
        Index(None, "outcome"),
    )

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    run_id: Mapped[int] = mapped_column(ForeignKey("forecast_runs.id", ondelete="CASCADE"))
    booking_id: Mapped[int] = mapped_column(ForeignKey("bookings.id"), index=True)
    bath_id: Mapped[int | None] = mapped_column(ForeignKey("baths.id"), index=True)
    starts_at: Mapped[datetime] = mapped_column(UtcDateTime, comment="of the class, when this was worked out")
    verdict: Mapped[Verdict]
    wanted_low: Mapped[int | None] = mapped_column(comment="rolls, or sheets of 8x10 in, that the class takes")
    wanted_high: Mapped[int | None]
    left_low: Mapped[int | None] = mapped_column(comment="the same, that the bath has left when the class begins")
    left_high: Mapped[int | None]
    why_not_known: Mapped[str] = mapped_column(made_text(300), default="")
    outcome: Mapped[ClassOutcome | None]
    run: Mapped[Run] = relationship()
    booking: Mapped[Booking] = relationship()
    bath: Mapped[Bath | None] = relationship()


class BottleForecast(_Ranged, Model):
    """When a bottle will be empty or past its date."""

    __tablename__ = "forecast_bottles"
    __table_args__ = (
        UniqueConstraint("run_id", "bottle_id"),
        CheckConstraint(_ORDERED, name="ordered"),
        CheckConstraint(_NO_END_WITHOUT_BEGINNING, name="begins"),
        CheckConstraint("why_not_known = '' OR (earliest_at IS NULL AND outcome IS NULL)", name="known"),
        Index(None, "outcome"),
    )

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    run_id: Mapped[int] = mapped_column(ForeignKey("forecast_runs.id", ondelete="CASCADE"))
    bottle_id: Mapped[int] = mapped_column(ForeignKey("bottles.id"), index=True)
    why_not_known: Mapped[str] = mapped_column(made_text(300), default="")
    run: Mapped[Run] = relationship()
    bottle: Mapped[Bottle] = relationship()


class Pack(Model):
    """A size that suppliers sell a product in, as the lab entered it."""

    __tablename__ = "product_packs"
    __table_args__ = (UniqueConstraint("product_id", "amount"), CheckConstraint("amount > 0", name="amount"))

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    product_id: Mapped[int] = mapped_column(ForeignKey("products.id"))
    amount: Mapped[int] = mapped_column(BigInteger, comment="in the product's unit")


class ProductForecast(Model):
    """How long what is in the store of a product lasts, and how much will be taken of it."""

    __tablename__ = "forecast_products"
    __table_args__ = (
        UniqueConstraint("run_id", "product_id"),
        CheckConstraint("short_from <= short_until", name="ordered"),
        CheckConstraint("wanted_low >= 0 AND wanted_low <= wanted_high AND missing >= 0", name="amounts"),
    )

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    run_id: Mapped[int] = mapped_column(ForeignKey("forecast_runs.id", ondelete="CASCADE"))
    product_id: Mapped[int] = mapped_column(ForeignKey("products.id"), index=True)
    short_from: Mapped[datetime | None] = mapped_column(
        UtcDateTime, comment="when too little is left for what is mixed"
    )
    short_until: Mapped[datetime | None] = mapped_column(UtcDateTime)
    wanted_low: Mapped[int] = mapped_column(BigInteger, comment="taken until the end of the forecast, in its own unit")
    wanted_high: Mapped[int] = mapped_column(BigInteger)
    missing: Mapped[int] = mapped_column(BigInteger, comment="what is to be bought for it, in its own unit")
    cover: Mapped[str] = mapped_column(Text, default="[]", comment="JSON: low and high of what is left, day by day")
    why_not_known: Mapped[str] = mapped_column(made_text(300), default="")
    run: Mapped[Run] = relationship()
    product: Mapped[Product] = relationship()
