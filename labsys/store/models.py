"""Tables of the chemical store: bottles, shelves, and on which shelf each bottle was put last."""

from datetime import date, datetime
from enum import StrEnum

from sqlalchemy import ForeignKey, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from labsys.database import BigId, Model, UtcDateTime
from labsys.ledger.models import Vessel
from labsys.people.models import Person
from labsys.places.models import Room
from labsys.products.models import Product


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


class ShelfKind(StrEnum):
    """What a storage place is."""

    SHELF = "shelf"
    VENTILATED = "ventilated cupboard"
    BUND = "bund: a tray that holds what leaks"
    FRIDGE = "fridge, not for food"
    LOCKED = "locked cupboard"


class Shelf(Model):
    """A place where bottles stand."""

    __tablename__ = "shelves"
    __table_args__ = (UniqueConstraint("name"),)

    NAME_LENGTH = 60

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    name: Mapped[str] = mapped_column(String(NAME_LENGTH))
    kind: Mapped[ShelfKind]
    room_id: Mapped[int | None] = mapped_column(ForeignKey("rooms.id"))
    room: Mapped[Room | None] = relationship()


class BottlePlace(Model):
    """Where a bottle stands now; where it stood before is on the record."""

    __tablename__ = "bottle_places"
    __table_args__ = (UniqueConstraint("bottle_id"),)

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    bottle_id: Mapped[int] = mapped_column(ForeignKey("bottles.id"))
    shelf_id: Mapped[int] = mapped_column(ForeignKey("shelves.id"), index=True)
    placed_at: Mapped[datetime] = mapped_column(UtcDateTime)
    placed_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    bottle: Mapped[Bottle] = relationship()
    shelf: Mapped[Shelf] = relationship()
    placed_by: Mapped[Person] = relationship()
