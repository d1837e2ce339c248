"""Tables of incidents: what happened, with what, and what was changed afterwards."""

from datetime import datetime
from enum import StrEnum

from sqlalchemy import CheckConstraint, ForeignKey, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from labsys.database import BigId, Model, UtcDateTime
from labsys.people.models import Person
from labsys.places.models import Station
from labsys.processes.models import Process
from labsys.products.models import Product


class IncidentKind(StrEnum):
    """What sort of thing happened; the value is how pages say it."""

    SPILL = "spill"
    SPLASH = "splash"
    INHALATION = "inhalation"
    CUT = "cut"
    NEAR_MISS = "near miss"
    OTHER = "other"


class Incident(Model):
    """Something that happened, or nearly did. `hurt` is health data: shown to the safety adviser and the reporter."""

    __tablename__ = "incidents"
    __table_args__ = (CheckConstraint("closed_at IS NULL OR changed <> ''", name="closed_with_change"),)

    TEXT_LENGTH = 2_000
    HURT_LENGTH = 200

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    kind: Mapped[IncidentKind]
    happened_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_at: Mapped[datetime] = mapped_column(UtcDateTime)
    reported_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    station_id: Mapped[int | None] = mapped_column(ForeignKey("stations.id"))
    what: Mapped[str] = mapped_column(String(TEXT_LENGTH))
    done: Mapped[str] = mapped_column(String(TEXT_LENGTH))
    hurt: Mapped[str] = mapped_column(String(HURT_LENGTH), deferred=True, comment="who was hurt: health data")
    changed: Mapped[str] = mapped_column(String(TEXT_LENGTH), default="", comment="what was changed afterwards")
    closed_at: Mapped[datetime | None] = mapped_column(UtcDateTime, index=True)
    closed_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    reported_by: Mapped[Person] = relationship(foreign_keys=reported_by_id)
    station: Mapped[Station | None] = relationship()
    process_rows: Mapped[list["IncidentProcess"]] = relationship(order_by="IncidentProcess.id")
    product_rows: Mapped[list["IncidentProduct"]] = relationship(order_by="IncidentProduct.id")

    @property
    def processes(self) -> list[Process]:
        return [row.process for row in self.process_rows]

    @property
    def products(self) -> list[Product]:
        return [row.product for row in self.product_rows]


class IncidentProcess(Model):
    """A process in which it happened."""

    __tablename__ = "incident_processes"
    __table_args__ = (UniqueConstraint("incident_id", "process_id"),)

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    incident_id: Mapped[int] = mapped_column(ForeignKey("incidents.id"))
    process_id: Mapped[int] = mapped_column(ForeignKey("processes.id"), index=True)
    process: Mapped[Process] = relationship()


class IncidentProduct(Model):
    """A product that was involved."""

    __tablename__ = "incident_products"
    __table_args__ = (UniqueConstraint("incident_id", "product_id"),)

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    incident_id: Mapped[int] = mapped_column(ForeignKey("incidents.id"))
    product_id: Mapped[int] = mapped_column(ForeignKey("products.id"), index=True)
    product: Mapped[Product] = relationship()
