"""Tables of processes: ways of working, as ordered steps."""

from datetime import datetime

from sqlalchemy import BigInteger, CheckConstraint, ForeignKey, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from labsys.chemistry.sizes import Material
from labsys.database import BigId, Model, UtcDateTime
from labsys.products.models import Product


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
