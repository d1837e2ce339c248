"""Tables of where bottles stand: shelves the lab names, and the one each bottle was put on last."""

from datetime import datetime
from enum import StrEnum

from sqlalchemy import ForeignKey, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from labsys.database import BigId, Model, UtcDateTime
from labsys.people.models import Person
from labsys.places.models import Room
from labsys.stock.models import Bottle


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
