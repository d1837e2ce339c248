"""Tables of waste that goes down the sink: consents with their limits, discharges, what was measured, answers."""

from datetime import date, datetime

from sqlalchemy import BigInteger, CheckConstraint, ForeignKey, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from labsys.database import BigId, Model, UtcDateTime, made_text
from labsys.people.models import Person
from labsys.quantities import MILLI, figure
from labsys.waste.models.containers import Pour, WasteKind


class Discharge(Model):
    """Something let go to the foul sewer, rightly or not."""

    __tablename__ = "discharges"
    __table_args__ = (
        UniqueConstraint("movement_id"),
        CheckConstraint("volume_ul > 0", name="volume"),
        CheckConstraint("consent_id IS NOT NULL OR wrong_because <> ''", name="consent_or_wrong"),
    )

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    movement_id: Mapped[int] = mapped_column(ForeignKey("movements.id"))
    what: Mapped[str] = mapped_column(String(Pour.WHAT_LENGTH))
    waste_code: Mapped[str] = mapped_column(String(9))
    volume_ul: Mapped[int] = mapped_column(BigInteger)
    wrong_because: Mapped[str] = mapped_column(made_text(400), default="")
    consent_id: Mapped[int | None] = mapped_column(ForeignKey("sewer_consents.id"))
    discharged_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    recorded_by: Mapped[Person] = relationship()
    consent: Mapped["SewerConsent | None"] = relationship()
    answer: Mapped["DischargeAnswer | None"] = relationship(back_populates="discharge", lazy="joined")
    readings: Mapped[list["DischargeReading"]] = relationship(order_by="DischargeReading.id")


class DischargeAnswer(Model):
    """What somebody responsible says and did about a discharge without consent."""

    __tablename__ = "discharge_answers"
    __table_args__ = (UniqueConstraint("discharge_id"), CheckConstraint("answer <> ''", name="answer"))

    ANSWER_LENGTH = 400

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    discharge_id: Mapped[int] = mapped_column(ForeignKey("discharges.id"))
    answer: Mapped[str] = mapped_column(String(ANSWER_LENGTH))
    answered_at: Mapped[datetime] = mapped_column(UtcDateTime)
    answered_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    discharge: Mapped[Discharge] = relationship(back_populates="answer")
    answered_by: Mapped[Person] = relationship()


class SewerConsent(Model):
    """Leave of the sewerage undertaker to discharge what it names, within its limits, for a while."""

    __tablename__ = "sewer_consents"
    __table_args__ = (
        UniqueConstraint("reference"),
        CheckConstraint("valid_from <= valid_until", name="days"),
        CheckConstraint("most_ul_a_day > 0", name="most_ul_a_day"),
    )

    REFERENCE_LENGTH = 80
    ISSUED_BY_LENGTH = 160
    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    reference: Mapped[str] = mapped_column(String(REFERENCE_LENGTH))
    issued_by: Mapped[str] = mapped_column(String(ISSUED_BY_LENGTH))
    most_ul_a_day: Mapped[int | None] = mapped_column(BigInteger)
    valid_from: Mapped[date]
    valid_until: Mapped[date] = mapped_column(comment="the last day it holds")
    recorded_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    names: Mapped[list["SewerConsentName"]] = relationship(order_by="SewerConsentName.id", lazy="selectin")
    limits: Mapped[list["SewerLimit"]] = relationship(
        order_by="SewerLimit.id", lazy="selectin", back_populates="consent"
    )

    def covers(self, *, code: str, kind: WasteKind | None) -> bool:
        """Whether it names a waste, by its code or by what it is."""
        return any(name.waste_code == code or (kind and name.kind is kind) for name in self.names)

    @property
    def names_in_words(self) -> str:
        return ", ".join(name.kind.words if name.kind else name.waste_code or "" for name in self.names)


class SewerConsentName(Model):
    """One thing a consent names: a List of Waste code, or a kind of solution."""

    __tablename__ = "sewer_consent_names"
    __table_args__ = (CheckConstraint("(kind IS NULL) <> (waste_code IS NULL)", name="one_of_two"),)

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    consent_id: Mapped[int] = mapped_column(ForeignKey("sewer_consents.id"), index=True)
    kind: Mapped[WasteKind | None]
    waste_code: Mapped[str | None] = mapped_column(String(9))


class SewerLimit(Model):
    """One thing a consent limits besides the volume; without figures it is a condition in words, kept to or not."""

    __tablename__ = "sewer_limits"
    __table_args__ = (
        CheckConstraint("quantity <> ''", name="quantity"),
        CheckConstraint("low_milli <= high_milli", name="low_to_high"),
    )

    QUANTITY_LENGTH = 400
    UNIT_LENGTH = 20

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    consent_id: Mapped[int] = mapped_column(ForeignKey("sewer_consents.id"), index=True)
    quantity: Mapped[str] = mapped_column(String(QUANTITY_LENGTH), comment="pH, silver; or a condition in words")
    unit: Mapped[str] = mapped_column(String(UNIT_LENGTH), default="", comment="empty for pH")
    low_milli: Mapped[int | None] = mapped_column(BigInteger, comment="at least, × 1000")
    high_milli: Mapped[int | None] = mapped_column(BigInteger, comment="at most, × 1000")
    consent: Mapped[SewerConsent] = relationship(back_populates="limits")

    @property
    def is_in_words(self) -> bool:
        return self.low_milli is None and self.high_milli is None

    def holds(self, value_milli: int) -> bool:
        """Whether a measured value keeps to it."""
        above = self.low_milli is None or self.low_milli <= value_milli
        return above and (self.high_milli is None or value_milli <= self.high_milli)

    def with_unit(self, value_milli: int) -> str:
        return f"{figure(value_milli, MILLI)} {self.unit}".strip()

    @property
    def allowed(self) -> str:
        """What it allows, such as "6 to 10" or "at most 0.5 mg/L"; empty for a condition in words."""
        if self.low_milli is not None and self.high_milli is not None:
            return f"{figure(self.low_milli, MILLI)} to {self.with_unit(self.high_milli)}"
        if self.low_milli is not None:
            return f"at least {self.with_unit(self.low_milli)}"
        return "" if self.high_milli is None else f"at most {self.with_unit(self.high_milli)}"

    @property
    def in_words(self) -> str:
        return f"{self.quantity} {self.allowed}".strip()


class DischargeReading(Model):
    """What was measured of a discharge against one limit, or that it was not; a condition in words was kept to or not.

    Neither a value nor a word is "not measured" or "not said", which keeps to nothing.
    """

    __tablename__ = "discharge_readings"
    __table_args__ = (
        UniqueConstraint("discharge_id", "limit_id"),
        CheckConstraint("value_milli IS NULL OR is_kept IS NULL", name="one_of_two"),
    )

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    discharge_id: Mapped[int] = mapped_column(ForeignKey("discharges.id"))
    limit_id: Mapped[int] = mapped_column(ForeignKey("sewer_limits.id"), index=True)
    value_milli: Mapped[int | None] = mapped_column(BigInteger, comment="measured, × 1000")
    is_kept: Mapped[bool | None] = mapped_column(comment="of a condition in words")
    limit: Mapped[SewerLimit] = relationship(lazy="joined")

    @property
    def keeps(self) -> bool:
        """Whether it keeps to its limit; what was not measured does not."""
        if self.limit.is_in_words:
            return bool(self.is_kept)
        return self.value_milli is not None and self.limit.holds(self.value_milli)

    @property
    def told(self) -> str:
        if self.limit.is_in_words:
            return "kept to" if self.is_kept else "not said"
        return "not measured" if self.value_milli is None else self.limit.with_unit(self.value_milli)
