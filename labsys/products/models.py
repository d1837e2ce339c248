"""Tables of products: what their sheets say, who confirmed it, their SDS, approvals, readings, the lab's rule."""

from dataclasses import fields
from datetime import date, datetime
from enum import StrEnum
from typing import Any, TypeVar

from sqlalchemy import BigInteger, CheckConstraint, ForeignKey, LargeBinary, String, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from labsys.chemistry.bath_rules import Holding
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.sizes import Material
from labsys.database import BigId, Model, UtcDateTime
from labsys.ledger.models import Unit
from labsys.people.models import Person
from labsys.products.sheet import (
    ATE_COLUMNS,
    CapacityMeasure,
    ProductSheet,
    StatedAge,
    StatedCapacity,
    StatedDilution,
    StatedIngredient,
)

Stated = TypeVar("Stated", ProductSheet, StatedIngredient, StatedDilution, StatedCapacity, StatedAge)


def _ph_checks() -> tuple[CheckConstraint, ...]:
    """A stated pH has both its ends, in order, on the scale; one that is not stated has neither."""
    return (
        CheckConstraint("ph_low_milli >= 0 AND ph_low_milli <= ph_high_milli AND ph_high_milli <= 14000", name="ph"),
        CheckConstraint("(ph_low_milli IS NULL) = (ph_high_milli IS NULL)", name="ph_ends"),
    )


class Product(Model):
    """A chemical the lab buys, named by its trade kind, with what the supplier's SDS and data sheet say.

    `version` is raised by every change that bears on hazards; a confirmation holds for one version. `edition` is raised
    by every change, so that two who change it at once do not overwrite each other.
    """

    __tablename__ = "products"
    __table_args__ = (
        UniqueConstraint("name", "supplier"),
        CheckConstraint("ph_limit_milli > 0 AND ph_limit_milli < 14000", name="ph_limit"),
        CheckConstraint("powder_mg_per_l > 0", name="powder_mg_per_l"),
        CheckConstraint("density_mg_per_ml > 0", name="density"),
        CheckConstraint("density_mg_per_ml <= density_high_mg_per_ml", name="density_range"),
        CheckConstraint("density_high_mg_per_ml IS NULL OR density_mg_per_ml IS NOT NULL", name="density_ends"),
        *_ph_checks(),
        CheckConstraint("viscosity_milli > 0", name="viscosity"),
        CheckConstraint("unknown_toxicity_ppm > 0 AND unknown_toxicity_ppm <= 1000000", name="unknown_toxicity"),
        CheckConstraint("q10_milli >= 1000 AND q10_milli <= 5000", name="q10"),
        CheckConstraint("low_milli_c < high_milli_c", name="celsius"),
        CheckConstraint("least_seconds > 0", name="least_seconds"),
        CheckConstraint("least_concentrate_ul > 0", name="least_concentrate"),
    )

    NAME_LENGTH = 120
    SOURCE_LENGTH = 200

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    name: Mapped[str] = mapped_column(String(NAME_LENGTH))
    supplier: Mapped[str] = mapped_column(String(NAME_LENGTH))
    kind: Mapped[SolutionKind]
    powder_mg_per_l: Mapped[int | None] = mapped_column(
        BigInteger, comment="for a powder: mass that makes one litre of undiluted solution"
    )
    waste_code: Mapped[str] = mapped_column(String(9), comment="List of Waste code of the used solution")
    h_codes: Mapped[str] = mapped_column(
        String(300), comment="of the product as supplied, from its SDS, or: not classified; empty: not stated"
    )
    sds_date: Mapped[date | None] = mapped_column(comment="issue date of the sheet the entries were read from")
    density_mg_per_ml: Mapped[int | None] = mapped_column(
        comment="of a liquid as supplied, the least that section 9 of the SDS states"
    )
    density_high_mg_per_ml: Mapped[int | None] = mapped_column(comment="the most, where it states a range")
    ph_low_milli: Mapped[int | None] = mapped_column(comment="pH as supplied × 1000; of a powder, of its solution")
    ph_high_milli: Mapped[int | None] = mapped_column(comment="the same where the SDS states one figure")
    flash_point_milli_c: Mapped[int | None] = mapped_column(comment="as supplied, the lowest stated, °C × 1000")
    viscosity_milli: Mapped[int | None] = mapped_column(comment="kinematic, at 40 °C, the lowest stated, mm²/s × 1000")
    unknown_toxicity_ppm: Mapped[int | None] = mapped_column(
        comment="share by weight that the SDS calls of unknown acute toxicity"
    )
    ph_limit_milli: Mapped[int | None] = mapped_column(comment="working solution is exhausted above this pH, × 1000")
    q10_milli: Mapped[int | None] = mapped_column(comment="of a developer: factor on the rate for 10 °C, × 1000")
    low_milli_c: Mapped[int | None] = mapped_column(comment="coldest its times hold for, °C × 1000")
    high_milli_c: Mapped[int | None] = mapped_column(comment="warmest its times hold for, °C × 1000")
    least_seconds: Mapped[int | None] = mapped_column(comment="shortest time that still develops evenly")
    least_concentrate_ul: Mapped[int | None] = mapped_column(comment="undiluted, for each 80 in² of film")
    developing_source: Mapped[str] = mapped_column(
        String(SOURCE_LENGTH), default="", comment="where factor, range, least time and least concentrate are given"
    )
    version: Mapped[int] = mapped_column(default=1)
    edition: Mapped[int] = mapped_column(default=1)
    created_at: Mapped[datetime] = mapped_column(UtcDateTime)
    ingredients: Mapped[list["ProductIngredient"]] = relationship(
        order_by="ProductIngredient.id", cascade="all, delete-orphan"
    )
    dilutions: Mapped[list["ProductDilution"]] = relationship(
        order_by="ProductDilution.id", cascade="all, delete-orphan"
    )
    capacities: Mapped[list["CapacityRule"]] = relationship(order_by="CapacityRule.id", cascade="all, delete-orphan")
    ages: Mapped[list["AgeRule"]] = relationship(order_by="AgeRule.id", cascade="all, delete-orphan")
    learned: Mapped[list["LearnedCapacity"]] = relationship(order_by="LearnedCapacity.id")
    confirmations: Mapped[list["Confirmation"]] = relationship(order_by="Confirmation.id")
    data_sheets: Mapped[list["DataSheet"]] = relationship(order_by="(DataSheet.issued_on, DataSheet.id)")
    interim_approvals: Mapped[list["InterimApproval"]] = relationship(order_by="InterimApproval.id")
    hazard_choices: Mapped[list["HazardChoice"]] = relationship(order_by="HazardChoice.id")
    accepted_restrictions: Mapped[list["AcceptedRestriction"]] = relationship(order_by="AcceptedRestriction.id")

    @property
    def unit(self) -> Unit:
        """What the product as supplied is counted in: powders by mass, liquids by volume."""
        return Unit.UL if self.powder_mg_per_l is None else Unit.MG

    @property
    def confirmation(self) -> "Confirmation | None":
        """The confirmation of the product as it now stands."""
        return next(
            (confirmation for confirmation in reversed(self.confirmations) if confirmation.version == self.version),
            None,
        )

    @property
    def sheet(self) -> ProductSheet:
        """What is entered of it."""
        return _stated(
            ProductSheet,
            self,
            ingredients=[row.stated for row in self.ingredients],
            dilutions=[_stated(StatedDilution, row) for row in self.dilutions],
            capacities=[_stated(StatedCapacity, row) for row in self.capacities],
            ages=[_stated(StatedAge, row) for row in self.ages],
        )


class LearnedCapacity(Model):
    """A capacity that this lab's own tests propose, once one person approved it; with a second person it is in force.

    The newest that both approved counts, beside the supplier's figure as it stood then.
    """

    __tablename__ = "learned_capacities"
    __table_args__ = (
        CheckConstraint("per_litre > 0 AND supplier_per_litre > 0 AND low <= high", name="figures"),
        CheckConstraint("second_by_id <> first_by_id", name="two_people"),
        CheckConstraint("(second_by_id IS NULL) = (second_at IS NULL)", name="second"),
        CheckConstraint(
            "per_litre <= supplier_per_litre OR (silver_baths >= 5 AND thiosulfate_baths >= 5)", name="raised"
        ),
    )

    LEAST_BATHS_TO_RAISE = 5

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    product_id: Mapped[int] = mapped_column(ForeignKey("products.id"), index=True)
    water_parts_milli: Mapped[int] = mapped_column(BigInteger)
    material: Mapped[Material]
    supplier_per_litre: Mapped[int] = mapped_column(BigInteger, comment="as it stood then, mm²")
    per_litre: Mapped[int] = mapped_column(BigInteger, comment="mm²")
    low: Mapped[int] = mapped_column(BigInteger, comment="of the range, mm² a litre")
    high: Mapped[int] = mapped_column(BigInteger, comment="of the range, mm² a litre")
    baths: Mapped[int] = mapped_column(comment="that were tested")
    silver_baths: Mapped[int] = mapped_column(comment="with a good drop for silver at this figure or beyond")
    thiosulfate_baths: Mapped[int] = mapped_column(comment="with a good test of the wash there or beyond")
    first_at: Mapped[datetime] = mapped_column(UtcDateTime)
    first_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    second_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    second_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    first_by: Mapped[Person] = relationship(foreign_keys=[first_by_id])
    second_by: Mapped[Person | None] = relationship(foreign_keys=[second_by_id])

    @property
    def is_lower(self) -> bool:
        return self.per_litre < self.supplier_per_litre


class ProductIngredient(Model):
    """A hazardous ingredient as section 3 of the SDS gives it, with its range of content by weight."""

    __tablename__ = "ingredients"
    __table_args__ = (
        CheckConstraint("low_ppm >= 0 AND low_ppm <= high_ppm AND high_ppm <= 1000000", name="range"),
        UniqueConstraint("product_id", "cas"),
        *(CheckConstraint(f"{name} > 0", name=name) for name in ATE_COLUMNS),
    )

    LIMIT_LENGTH = 120

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    product_id: Mapped[int] = mapped_column(ForeignKey("products.id"))
    name: Mapped[str] = mapped_column(String(120))
    cas: Mapped[str] = mapped_column(String(12))
    low_ppm: Mapped[int] = mapped_column(comment="parts per million by weight: 10 000 is 1 %")
    high_ppm: Mapped[int]
    classification: Mapped[str] = mapped_column(Text, comment="classes as on the sheet, semicolons between")
    specific_limits: Mapped[str] = mapped_column(Text, default="")
    m_acute: Mapped[int | None] = mapped_column(comment="M-factor, where the sheet or the regulation gives one")
    m_chronic: Mapped[int | None]
    ate_oral_milli: Mapped[int | None] = mapped_column(BigInteger, comment="acute toxicity estimate, mg/kg × 1000")
    ate_dermal_milli: Mapped[int | None] = mapped_column(BigInteger, comment="mg/kg × 1000")
    ate_gas_milli: Mapped[int | None] = mapped_column(BigInteger, comment="inhaled as a gas, ppm by volume × 1000")
    ate_vapour_milli: Mapped[int | None] = mapped_column(BigInteger, comment="inhaled as a vapour, mg/L × 1000")
    ate_dust_mist_milli: Mapped[int | None] = mapped_column(BigInteger, comment="inhaled as dust or mist, mg/L × 1000")
    workplace_limit: Mapped[str] = mapped_column(
        String(LIMIT_LENGTH), default="", comment="as section 8 of the SDS names it"
    )

    @property
    def stated(self) -> StatedIngredient:
        return _stated(StatedIngredient, self)


class ProductDilution(Model):
    """A dilution the data sheet gives, as 1 + water parts, with what it is for."""

    __tablename__ = "product_dilutions"
    __table_args__ = (
        UniqueConstraint("product_id", "water_parts_milli", "use"),
        CheckConstraint("water_parts_milli >= 0", name="water_parts"),
        *_ph_checks(),
    )

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    product_id: Mapped[int] = mapped_column(ForeignKey("products.id"))
    water_parts_milli: Mapped[int] = mapped_column(BigInteger, comment="N of 1+N, × 1000")
    use: Mapped[str] = mapped_column(String(60), comment="such as film, paper, fibre paper")
    ph_low_milli: Mapped[int | None] = mapped_column(comment="pH as used × 1000")
    ph_high_milli: Mapped[int | None] = mapped_column(comment="the same where one figure is stated")


class CapacityRule(Model):
    """How much a litre of working solution takes before it is exhausted, with where that is said."""

    __tablename__ = "capacity_rules"
    __table_args__ = (
        CheckConstraint("per_litre > 0", name="per_litre"),
        UniqueConstraint("product_id", "water_parts_milli", "material", "measure"),
    )

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    product_id: Mapped[int] = mapped_column(ForeignKey("products.id"))
    water_parts_milli: Mapped[int] = mapped_column(BigInteger, comment="the dilution it holds for, N of 1+N × 1000")
    material: Mapped[Material]
    measure: Mapped[CapacityMeasure]
    per_litre: Mapped[int] = mapped_column(BigInteger, comment="mm² or pieces per litre")
    source: Mapped[str] = mapped_column(String(Product.SOURCE_LENGTH))


class AgeRule(Model):
    """How long a working solution keeps in a kind of holding, with where that is said."""

    __tablename__ = "age_rules"
    __table_args__ = (CheckConstraint("hours > 0", name="hours"), UniqueConstraint("product_id", "holding"))

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    product_id: Mapped[int] = mapped_column(ForeignKey("products.id"))
    holding: Mapped[Holding]
    hours: Mapped[int]
    source: Mapped[str] = mapped_column(String(Product.SOURCE_LENGTH))


class Confirmation(Model):
    """Somebody authorised compared one version of a product's entries with its SDS."""

    __tablename__ = "confirmations"
    __table_args__ = (UniqueConstraint("product_id", "version"),)

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    product_id: Mapped[int] = mapped_column(ForeignKey("products.id"))
    version: Mapped[int]
    confirmed_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    confirmed_at: Mapped[datetime] = mapped_column(UtcDateTime)
    confirmed_by: Mapped[Person] = relationship()


DIGEST_LENGTH = 64  # SHA-256 in hexadecimal


class SheetContent(Model):
    """The bytes of a data sheet, once for each digest however many products share the sheet."""

    __tablename__ = "sheet_contents"
    __table_args__ = (CheckConstraint("size > 0", name="size"),)

    digest: Mapped[str] = mapped_column(String(DIGEST_LENGTH), primary_key=True, comment="SHA-256 of content")
    size: Mapped[int] = mapped_column(BigInteger, comment="bytes")
    content: Mapped[bytes] = mapped_column(LargeBinary, deferred=True)


class DataSheet(Model):
    """A supplier's SDS of a product, as it was sent."""

    __tablename__ = "data_sheets"
    __table_args__ = (
        UniqueConstraint("product_id", "digest"),
        CheckConstraint("review_due > issued_on", name="review_due"),
    )

    SUPPLIER_LENGTH = 120
    WORDS_LENGTH = 60

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    product_id: Mapped[int] = mapped_column(ForeignKey("products.id"))
    digest: Mapped[str] = mapped_column(ForeignKey("sheet_contents.digest"))
    issued_on: Mapped[date] = mapped_column(comment="issue or revision date printed on it")
    review_due: Mapped[date] = mapped_column(comment="the lab's choice: from then it asks for a newer one")
    supplier: Mapped[str] = mapped_column(String(SUPPLIER_LENGTH), comment="as the sheet names it")
    language: Mapped[str] = mapped_column(String(WORDS_LENGTH))
    revision: Mapped[str] = mapped_column(String(WORDS_LENGTH), default="")
    added_at: Mapped[datetime] = mapped_column(UtcDateTime)
    added_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    added_by: Mapped[Person] = relationship()
    kept: Mapped[SheetContent] = relationship()


class InterimApproval(Model):
    """Leave to mix from one version of a product's entries for some days, though nobody has confirmed them."""

    __tablename__ = "interim_approvals"
    __table_args__ = (CheckConstraint("first_day <= last_day", name="days"),)

    REASON_LENGTH = 300
    MOST_DAYS = 31

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    product_id: Mapped[int] = mapped_column(ForeignKey("products.id"), index=True)
    version: Mapped[int]
    reason: Mapped[str] = mapped_column(String(REASON_LENGTH))
    first_day: Mapped[date]
    last_day: Mapped[date]
    approved_at: Mapped[datetime] = mapped_column(UtcDateTime)
    approved_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    approved_by: Mapped[Person] = relationship()


class HazardChoice(Model):
    """Which of two readings somebody chose for a dilution of one version of a product; the newest one counts."""

    __tablename__ = "hazard_choices"

    RULE_LENGTH = 80
    OUTCOME_LENGTH = 300
    REASON_LENGTH = 300

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    product_id: Mapped[int] = mapped_column(ForeignKey("products.id"), index=True)
    version: Mapped[int]
    water_parts_milli: Mapped[int] = mapped_column(BigInteger)
    rule: Mapped[str] = mapped_column(String(RULE_LENGTH))
    outcome: Mapped[str] = mapped_column(String(OUTCOME_LENGTH), comment="what the other rule gives")
    takes_alternative: Mapped[bool] = mapped_column(comment="whether the other rule's outcome was chosen")
    reason: Mapped[str] = mapped_column(String(REASON_LENGTH))
    chosen_at: Mapped[datetime] = mapped_column(UtcDateTime)
    chosen_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    chosen_by: Mapped[Person] = relationship()


class AcceptedRestriction(Model):
    """Why a product that holds something restricted is kept all the same, and who answers for it."""

    __tablename__ = "accepted_restrictions"
    __table_args__ = (UniqueConstraint("product_id", "item"),)

    ITEM_LENGTH = 60
    REASON_LENGTH = 300

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    product_id: Mapped[int] = mapped_column(ForeignKey("products.id"))
    item: Mapped[str] = mapped_column(String(ITEM_LENGTH), comment="key in the table of restricted things")
    reason: Mapped[str] = mapped_column(String(REASON_LENGTH))
    accepted_at: Mapped[datetime] = mapped_column(UtcDateTime)
    accepted_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    accepted_by: Mapped[Person] = relationship()


class SdsRule(StrEnum):
    """What follows where a product has no current SDS: the lab's choice."""

    SHOWN = "shown"
    BLOCKS = "blocks"


class StoreRule(Model):
    """The lab's choices for its chemical store; without a row the gentler one stands."""

    __tablename__ = "store_rules"
    __table_args__ = (CheckConstraint("id = 1", name="only_one"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    sds_rule: Mapped[SdsRule]


def _stated(kind: type[Stated], row: Model, **parts: Any) -> Stated:
    """What a row keeps, as the sheet states it."""
    return kind(**{field.name: getattr(row, field.name) for field in fields(kind)} | parts)
