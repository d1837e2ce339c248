"""Tables of the chemical store: products and what their sheets say, bottles, tanks and trays, processes as steps."""

from datetime import date, datetime
from enum import StrEnum

from sqlalchemy import BigInteger, CheckConstraint, ForeignKey, String, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from labsys.chemistry.bath_rules import Holding
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.measuring import CylinderClass
from labsys.chemistry.sizes import Material
from labsys.database import BigId, Model, UtcDateTime
from labsys.ledger.models import Unit, Vessel
from labsys.people.models import Person
from labsys.stock.safety_models import AcceptedRestriction, DataSheet, HazardChoice, InterimApproval


class CapacityMeasure(StrEnum):
    """What a capacity is counted in; the value finishes "… per litre of working solution"."""

    AREA = "area"
    PIECES = "pieces"


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
        String(300), comment="of the product as supplied, from its SDS; spaces between"
    )
    sds_date: Mapped[date | None] = mapped_column(comment="issue date of the sheet the entries were read from")
    density_mg_per_ml: Mapped[int | None] = mapped_column(comment="of a liquid as supplied, from section 9 of the SDS")
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
    ingredients: Mapped[list["Ingredient"]] = relationship(order_by="Ingredient.id", cascade="all, delete-orphan")
    dilutions: Mapped[list["ProductDilution"]] = relationship(
        order_by="ProductDilution.id", cascade="all, delete-orphan"
    )
    capacities: Mapped[list["CapacityRule"]] = relationship(order_by="CapacityRule.id", cascade="all, delete-orphan")
    ages: Mapped[list["AgeRule"]] = relationship(order_by="AgeRule.id", cascade="all, delete-orphan")
    confirmations: Mapped[list["Confirmation"]] = relationship(order_by="Confirmation.id")
    data_sheets: Mapped[list[DataSheet]] = relationship(order_by=(DataSheet.issued_on, DataSheet.id))
    interim_approvals: Mapped[list[InterimApproval]] = relationship(order_by=InterimApproval.id)
    hazard_choices: Mapped[list[HazardChoice]] = relationship(order_by=HazardChoice.id)
    accepted_restrictions: Mapped[list[AcceptedRestriction]] = relationship(order_by=AcceptedRestriction.id)

    @property
    def unit(self) -> Unit:
        """What the product as supplied is counted in: powders by mass, liquids by volume."""
        return Unit.UL if self.powder_mg_per_l is None else Unit.MG

    @property
    def confirmation(self) -> "Confirmation | None":
        """The confirmation of the product as it now stands."""
        return next((one for one in reversed(self.confirmations) if one.version == self.version), None)


class Ingredient(Model):
    """A hazardous ingredient as section 3 of the SDS gives it, with its range of content by weight."""

    __tablename__ = "ingredients"
    __table_args__ = (
        CheckConstraint("low_ppm >= 0 AND low_ppm <= high_ppm AND high_ppm <= 1000000", name="range"),
        UniqueConstraint("product_id", "cas"),
    )

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


class ProductDilution(Model):
    """A dilution the data sheet gives, as 1 + water parts, with what it is for."""

    __tablename__ = "product_dilutions"
    __table_args__ = (
        UniqueConstraint("product_id", "water_parts_milli", "use"),
        CheckConstraint("water_parts_milli >= 0", name="water_parts"),
    )

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    product_id: Mapped[int] = mapped_column(ForeignKey("products.id"))
    water_parts_milli: Mapped[int] = mapped_column(BigInteger, comment="N of 1+N, × 1000")
    use: Mapped[str] = mapped_column(String(60), comment="such as film, paper, fibre paper")


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


class Bottle(Model):
    """One bottle or packet in the chemical store. Its level is that of its vessel."""

    __tablename__ = "bottles"
    __table_args__ = (UniqueConstraint("code"), UniqueConstraint("vessel_id"))

    LOT_LENGTH = 60

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    vessel_id: Mapped[int] = mapped_column(ForeignKey("vessels.id"))
    product_id: Mapped[int] = mapped_column(ForeignKey("products.id"), index=True)
    code: Mapped[str] = mapped_column(String(20))
    lot: Mapped[str] = mapped_column(String(LOT_LENGTH), default="")
    received_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_at: Mapped[datetime] = mapped_column(UtcDateTime)
    opened_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    expires_on: Mapped[date | None]
    vessel: Mapped[Vessel] = relationship(lazy="joined")
    product: Mapped[Product] = relationship()


class OwnedCylinder(Model):
    """A measuring cylinder the lab owns. One kept for a kind of solution is used for that kind alone."""

    __tablename__ = "cylinders"

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    nominal_ml: Mapped[int]
    division_ul: Mapped[int]
    accuracy_class: Mapped[CylinderClass]
    kept_for: Mapped[SolutionKind | None]


class WorkingVesselKind(StrEnum):
    """What a working vessel is."""

    TANK = "tank"
    TRAY = "tray"


class WorkingVessel(Model):
    """A tank or tray the lab owns, that film or paper is processed in. A tray has inside measures, a tank has fills."""

    __tablename__ = "working_vessels"
    __table_args__ = (
        UniqueConstraint("name"),
        CheckConstraint("capacity_ul > 0", name="capacity"),
        CheckConstraint("(kind = 'tray') = (length_mm IS NOT NULL)", name="tray_has_length"),
        CheckConstraint("(length_mm IS NULL) = (width_mm IS NULL)", name="length_and_width"),
        CheckConstraint("(length_mm IS NULL) = (depth_mm IS NULL)", name="length_and_depth"),
    )

    NAME_LENGTH = 60

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    name: Mapped[str] = mapped_column(String(NAME_LENGTH))
    kind: Mapped[WorkingVesselKind]
    capacity_ul: Mapped[int] = mapped_column(BigInteger, comment="the most it takes in use")
    length_mm: Mapped[int | None] = mapped_column(comment="inside, of a tray")
    width_mm: Mapped[int | None]
    depth_mm: Mapped[int | None] = mapped_column(comment="of solution, as it is usually filled")
    source: Mapped[str] = mapped_column(String(Product.SOURCE_LENGTH), default="", comment="of its fills")
    closed_at: Mapped[datetime | None] = mapped_column(UtcDateTime, comment="out of use")
    fills: Mapped[list["VesselFill"]] = relationship(
        order_by="(VesselFill.size, VesselFill.count)", cascade="all, delete-orphan", lazy="selectin"
    )


class VesselFill(Model):
    """The volume that covers a number of reels, or of sheets in a holder, in a tank."""

    __tablename__ = "vessel_fills"
    __table_args__ = (
        UniqueConstraint("vessel_id", "size", "count"),
        CheckConstraint("count >= 1", name="count"),
        CheckConstraint("volume_ul > 0", name="volume"),
    )

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    vessel_id: Mapped[int] = mapped_column(ForeignKey("working_vessels.id"))
    size: Mapped[str] = mapped_column(String(20))
    count: Mapped[int]
    volume_ul: Mapped[int] = mapped_column(BigInteger)


class Process(Model):
    """A way of working, as ordered steps. `version` is raised by every change: what was judged of an older one is out
    of date.
    """

    __tablename__ = "processes"
    __table_args__ = (UniqueConstraint("name"),)

    NAME_LENGTH = 120
    NOTE_LENGTH = 300

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    name: Mapped[str] = mapped_column(String(NAME_LENGTH))
    material: Mapped[Material]
    note: Mapped[str] = mapped_column(String(NOTE_LENGTH), default="")
    version: Mapped[int] = mapped_column(default=1)
    changed_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    steps: Mapped[list["ProcessStep"]] = relationship(order_by="ProcessStep.position", cascade="all, delete-orphan")


class ProcessStep(Model):
    """One step of a process. Steps in water have no product."""

    __tablename__ = "process_steps"
    __table_args__ = (
        UniqueConstraint("process_id", "position"),
        CheckConstraint("seconds > 0", name="seconds"),
        CheckConstraint("changes >= 1", name="changes"),
        CheckConstraint("tolerance_milli_c > 0", name="tolerance"),
    )

    NAME_LENGTH = 60
    NOTE_LENGTH = 300

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    process_id: Mapped[int] = mapped_column(ForeignKey("processes.id"))
    position: Mapped[int]
    name: Mapped[str] = mapped_column(String(NAME_LENGTH))
    product_id: Mapped[int | None] = mapped_column(ForeignKey("products.id"))
    water_parts_milli: Mapped[int | None] = mapped_column(BigInteger)
    seconds: Mapped[int | None]
    temperature_milli_c: Mapped[int | None] = mapped_column(comment="°C × 1000")
    tolerance_milli_c: Mapped[int | None] = mapped_column(comment="how far off it may be, °C × 1000")
    changes: Mapped[int | None] = mapped_column(comment="changes of water in a wash")
    in_the_dark: Mapped[bool] = mapped_column(default=False)
    air: Mapped[str] = mapped_column(String(NOTE_LENGTH), default="", comment="lid and ventilation")
    note: Mapped[str] = mapped_column(String(NOTE_LENGTH), default="")
    source: Mapped[str] = mapped_column(String(Product.SOURCE_LENGTH), default="")
    product: Mapped[Product | None] = relationship()
