"""Tables of waste: streams, containers, what was poured into them, quarantine, collections and discharges."""

from datetime import datetime

from sqlalchemy import BigInteger, CheckConstraint, ForeignKey, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from labsys.database import BigId, Model, UtcDateTime
from labsys.ledger.models import Vessel
from labsys.people.models import Person


class WasteStream(Model):
    """A kind of waste kept apart from the others, with its code from the List of Waste."""

    __tablename__ = "waste_streams"
    __table_args__ = (UniqueConstraint("name"), UniqueConstraint("code"))

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    name: Mapped[str] = mapped_column(String(80))
    code: Mapped[str] = mapped_column(String(9), comment='List of Waste code as printed, such as "09 01 04*"')

    @property
    def is_hazardous(self) -> bool:
        return self.code.endswith("*")


class WasteContainer(Model):
    """A container that takes one stream until it is collected."""

    __tablename__ = "waste_containers"
    __table_args__ = (UniqueConstraint("label"), UniqueConstraint("vessel_id"))

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    vessel_id: Mapped[int] = mapped_column(ForeignKey("vessels.id"))
    stream_id: Mapped[int] = mapped_column(ForeignKey("waste_streams.id"), index=True)
    label: Mapped[str] = mapped_column(String(20), comment="the code to scan")
    place: Mapped[str] = mapped_column(String(80), default="")
    opened_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_at: Mapped[datetime] = mapped_column(UtcDateTime)
    collected_at: Mapped[datetime | None] = mapped_column(UtcDateTime, index=True)
    vessel: Mapped[Vessel] = relationship(lazy="joined")
    stream: Mapped[WasteStream] = relationship(lazy="joined")
    quarantines: Mapped[list["Quarantine"]] = relationship(order_by="Quarantine.id", back_populates="container")

    @property
    def quarantine(self) -> "Quarantine | None":
        """The quarantine it is under now."""
        return next((quarantine for quarantine in self.quarantines if quarantine.released_at is None), None)


class Quarantine(Model):
    """A container taken out of use because something is in it that should not be."""

    __tablename__ = "quarantines"

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    container_id: Mapped[int] = mapped_column(ForeignKey("waste_containers.id"), index=True)
    reason: Mapped[str] = mapped_column(String(400))
    advice: Mapped[str] = mapped_column(String(600))
    started_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_at: Mapped[datetime] = mapped_column(UtcDateTime)
    released_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    released_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    release_note: Mapped[str] = mapped_column(String(400), default="")
    container: Mapped[WasteContainer] = relationship(back_populates="quarantines")


class Pour(Model):
    """Something poured into a container, rightly or not. Silver is an estimate with its range."""

    __tablename__ = "pours"
    __table_args__ = (
        UniqueConstraint("movement_id"),
        CheckConstraint("volume_ul > 0", name="volume"),
        CheckConstraint("silver_low_mg >= 0 AND silver_low_mg <= silver_high_mg", name="silver"),
    )

    WHAT_LENGTH = 160

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    container_id: Mapped[int] = mapped_column(ForeignKey("waste_containers.id"), index=True)
    movement_id: Mapped[int] = mapped_column(ForeignKey("movements.id"))
    what: Mapped[str] = mapped_column(String(WHAT_LENGTH))
    waste_code: Mapped[str] = mapped_column(String(9), comment="of what was poured")
    volume_ul: Mapped[int] = mapped_column(BigInteger)
    silver_low_mg: Mapped[int] = mapped_column(BigInteger, default=0)
    silver_high_mg: Mapped[int] = mapped_column(BigInteger, default=0)
    wrong_because: Mapped[str] = mapped_column(String(400), default="")
    poured_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    recorded_by: Mapped[Person] = relationship()


class Discharge(Model):
    """Something let go to the foul sewer, rightly or not."""

    __tablename__ = "discharges"
    __table_args__ = (UniqueConstraint("movement_id"), CheckConstraint("volume_ul > 0", name="volume"))

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    movement_id: Mapped[int] = mapped_column(ForeignKey("movements.id"))
    what: Mapped[str] = mapped_column(String(Pour.WHAT_LENGTH))
    waste_code: Mapped[str] = mapped_column(String(9))
    volume_ul: Mapped[int] = mapped_column(BigInteger)
    wrong_because: Mapped[str] = mapped_column(String(400), default="")
    discharged_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    recorded_by: Mapped[Person] = relationship()


class Collection(Model):
    """Containers handed to a carrier under one consignment note code."""

    __tablename__ = "collections"
    __table_args__ = (UniqueConstraint("note_code"),)

    NOTE_CODE_LENGTH = 30
    CARRIER_LENGTH = 160

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    note_code: Mapped[str] = mapped_column(String(NOTE_CODE_LENGTH))
    carrier: Mapped[str] = mapped_column(String(CARRIER_LENGTH))
    collected_at: Mapped[datetime] = mapped_column(UtcDateTime, index=True)
    recorded_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    lines: Mapped[list["CollectionLine"]] = relationship(order_by="CollectionLine.id", back_populates="collection")


class CollectionLine(Model):
    """One container of a collection: what the book said, and what the carrier said."""

    __tablename__ = "collection_lines"
    __table_args__ = (UniqueConstraint("container_id"),)

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    collection_id: Mapped[int] = mapped_column(ForeignKey("collections.id"), index=True)
    container_id: Mapped[int] = mapped_column(ForeignKey("waste_containers.id"))
    movement_id: Mapped[int] = mapped_column(ForeignKey("movements.id"))
    book_ul: Mapped[int] = mapped_column(BigInteger, comment="level by the ledger")
    carrier_ul: Mapped[int | None] = mapped_column(BigInteger, comment="volume by the carrier")
    weight_mg: Mapped[int | None] = mapped_column(BigInteger, comment="net weight by the carrier")
    collection: Mapped[Collection] = relationship(back_populates="lines")
    container: Mapped[WasteContainer] = relationship()

    @property
    def difference_ul(self) -> int | None:
        """Carrier's volume less the book's; None where the carrier gave no volume."""
        return None if self.carrier_ul is None else self.carrier_ul - self.book_ul
