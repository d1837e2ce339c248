"""Tables of what the lab owns to measure and to process with: cylinders, tanks and trays."""

from datetime import datetime
from enum import StrEnum

from sqlalchemy import BigInteger, CheckConstraint, ForeignKey, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from labsys.chemistry.care import SolutionKind
from labsys.chemistry.measuring import CylinderClass
from labsys.database import BigId, Model, UtcDateTime
from labsys.equipment.models import Equipment
from labsys.products.models import Product


class OwnedCylinder(Model):
    """A measuring cylinder the lab owns. One kept for a kind of solution is used for that kind alone."""

    __tablename__ = "cylinders"
    __table_args__ = (CheckConstraint("least_ul > 0", name="least"),)

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    nominal_ml: Mapped[int]
    division_ul: Mapped[int]
    least_ul: Mapped[int | None] = mapped_column(comment="the lowest mark of its scale; none: not looked at")
    accuracy_class: Mapped[CylinderClass]
    kept_for: Mapped[SolutionKind | None]
    equipment_id: Mapped[int] = mapped_column(ForeignKey("equipment.id"), unique=True, comment="with its checks")
    equipment: Mapped[Equipment] = relationship()


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
