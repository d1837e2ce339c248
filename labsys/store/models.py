"""Tables of the chemical store: bottles, shelves, what is kept apart, what was counted, and how bottles left."""

from datetime import date, datetime
from enum import StrEnum
from typing import TYPE_CHECKING

from sqlalchemy import BigInteger, CheckConstraint, ForeignKey, String, UniqueConstraint, select
from sqlalchemy.orm import Mapped, column_property, mapped_column, relationship

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
    lapses_on: Mapped[date | None] = mapped_column(
        index=True, comment="the last day it is good: by its date, and by how long its product keeps"
    )
    vessel: Mapped[Vessel] = relationship(lazy="joined")
    product: Mapped[Product] = relationship()
    if TYPE_CHECKING:
        is_quarantined: Mapped[bool]


class ShelfLife(Model):
    """How long a product keeps in its bottle, closed and once opened, by its data sheet."""

    __tablename__ = "shelf_lives"
    __table_args__ = (
        UniqueConstraint("product_id"),
        CheckConstraint("unopened_days > 0 AND opened_days > 0", name="days"),
        CheckConstraint("unopened_days IS NOT NULL OR opened_days IS NOT NULL", name="something"),
        CheckConstraint("source <> ''", name="source"),
    )

    SOURCE_LENGTH = 200
    LONGEST_DAYS = 20 * 365

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    product_id: Mapped[int] = mapped_column(ForeignKey("products.id"))
    unopened_days: Mapped[int | None] = mapped_column(comment="from when it was received")
    opened_days: Mapped[int | None]
    source: Mapped[str] = mapped_column(String(SOURCE_LENGTH))
    stated_at: Mapped[datetime] = mapped_column(UtcDateTime)
    stated_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))


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


class QuarantineEnd(StrEnum):
    """How a bottle's quarantine ended."""

    CLEARED = "may be used again"
    LEFT = "it left the store"


class BottleQuarantine(Model):
    """A bottle that nobody uses until somebody else than who set it apart says that it may be used."""

    __tablename__ = "bottle_quarantines"
    __table_args__ = (
        CheckConstraint("reason <> ''", name="reason"),
        CheckConstraint(
            "(ended_at IS NULL) = (ending IS NULL) AND (ended_at IS NULL) = (ended_by_id IS NULL)", name="ended"
        ),
        CheckConstraint(
            "ending <> 'may be used again' OR (note <> '' AND ended_by_id <> started_by_id)", name="cleared_by_another"
        ),
    )

    TEXT_LENGTH = 400

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    bottle_id: Mapped[int] = mapped_column(ForeignKey("bottles.id"), index=True)
    reason: Mapped[str] = mapped_column(String(TEXT_LENGTH))
    started_at: Mapped[datetime] = mapped_column(UtcDateTime)
    started_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    ended_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    ended_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    ending: Mapped[QuarantineEnd | None]
    note: Mapped[str] = mapped_column(String(TEXT_LENGTH), default="", comment="how it is known to be good")
    started_by: Mapped[Person] = relationship(foreign_keys=started_by_id)
    ended_by: Mapped[Person | None] = relationship(foreign_keys=ended_by_id)


Bottle.is_quarantined = column_property(
    select(BottleQuarantine.id)
    .where(BottleQuarantine.bottle_id == Bottle.id, BottleQuarantine.ended_at.is_(None))
    .correlate_except(BottleQuarantine)
    .exists()
)


class UnlabelledEnd(StrEnum):
    """What became of a bottle that was found without a label."""

    OURS = "one of ours, labelled anew"
    IDENTIFIED = "known now, and in the store"
    HANDED_OVER = "handed over as not known"


class UnlabelledBottle(Model):
    """A bottle found without a label. It stays in quarantine until somebody else than its finder knows what it is.

    How much is in it is no part of the ledger until then.
    """

    __tablename__ = "unlabelled_bottles"
    __table_args__ = (
        UniqueConstraint("code"),
        CheckConstraint("looks <> ''", name="looks"),
        CheckConstraint(
            "(ended_at IS NULL) = (ending IS NULL) AND (ended_at IS NULL) = (ended_by_id IS NULL)", name="ended"
        ),
        CheckConstraint("ended_at IS NULL OR (note <> '' AND ended_by_id <> found_by_id)", name="ended_by_another"),
        CheckConstraint("ending = 'handed over as not known' OR (ending IS NULL) = (bottle_id IS NULL)", name="bottle"),
    )

    TEXT_LENGTH = 400
    PLACE_LENGTH = 80

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    code: Mapped[str] = mapped_column(String(20))
    looks: Mapped[str] = mapped_column(String(TEXT_LENGTH), comment="what can be seen from outside")
    place: Mapped[str] = mapped_column(String(PLACE_LENGTH), comment="where it was found")
    stands: Mapped[str] = mapped_column(String(PLACE_LENGTH), comment="where it was set apart")
    found_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_at: Mapped[datetime] = mapped_column(UtcDateTime)
    found_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    ended_at: Mapped[datetime | None] = mapped_column(UtcDateTime, index=True)
    ended_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    ending: Mapped[UnlabelledEnd | None]
    note: Mapped[str] = mapped_column(String(TEXT_LENGTH), default="", comment="how it is known, or who took it")
    bottle_id: Mapped[int | None] = mapped_column(ForeignKey("bottles.id"), comment="what it is")
    found_by: Mapped[Person] = relationship(foreign_keys=found_by_id)
    ended_by: Mapped[Person | None] = relationship(foreign_keys=ended_by_id)
    bottle: Mapped[Bottle | None] = relationship()


class StockCount(Model):
    """The bottles of one shelf, looked at and saved at once."""

    __tablename__ = "stock_counts"
    __table_args__ = (CheckConstraint("looked_at > 0 AND not_looked_at >= 0", name="bottles"),)

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    shelf_id: Mapped[int | None] = mapped_column(ForeignKey("shelves.id"), index=True, comment="none: without a place")
    looked_at: Mapped[int] = mapped_column(comment="how many bottles")
    not_looked_at: Mapped[int] = mapped_column(comment="how many more stood there by the book")
    counted_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_at: Mapped[datetime] = mapped_column(UtcDateTime)
    counted_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    shelf: Mapped[Shelf | None] = relationship()
    counted_by: Mapped[Person] = relationship()
    corrections: Mapped[list["BottleCorrection"]] = relationship(order_by="BottleCorrection.id")


class Reason(StrEnum):
    """Why what was found in a bottle is not what the book says."""

    NOT_ENTERED = "used and not entered"
    SPILLED = "spilled"
    EVAPORATED = "evaporated"
    MISREAD = "read or entered wrongly before"
    FILLED_UP = "filled up out of another bottle"
    GONE = "the bottle is not there"
    NOT_KNOWN = "nobody knows"
    AT_MIXING = "seen when it was measured out of"
    AT_LEAVING = "seen when it left"
    BEFORE = "from before reasons were kept"


class BottleCorrection(Model):
    """A bottle's level set to what was found in it: one row a difference, with its reason."""

    __tablename__ = "bottle_corrections"
    __table_args__ = (UniqueConstraint("movement_id"), CheckConstraint("difference <> 0", name="difference"))

    NOTE_LENGTH = 200

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    bottle_id: Mapped[int] = mapped_column(ForeignKey("bottles.id"), index=True)
    movement_id: Mapped[int] = mapped_column(ForeignKey("movements.id"))
    count_id: Mapped[int | None] = mapped_column(ForeignKey("stock_counts.id"), index=True)
    difference: Mapped[int] = mapped_column(BigInteger, comment="found less book, in the bottle's unit")
    reason: Mapped[Reason]
    note: Mapped[str] = mapped_column(String(NOTE_LENGTH), default="")
    bottle: Mapped[Bottle] = relationship()


class WayOut(StrEnum):
    """How what was in a bottle left the store other than into a bath."""

    CONTAINER = "into a waste container"
    SEWER = "down the drain"
    CARRIER = "with a waste carrier, in its own bottle"
    SUPPLIER = "back to the supplier"
    GIVEN = "given to somebody outside the lab"
    SPILLED = "spilled"


class BottleLeft(Model):
    """How what was left in a bottle went, all of it at once."""

    __tablename__ = "bottles_left"
    __table_args__ = (
        UniqueConstraint("movement_id"),
        CheckConstraint("amount > 0", name="amount"),
        CheckConstraint("way IN ('into a waste container', 'down the drain') OR note <> ''", name="note"),
    )

    NOTE_LENGTH = 200

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    bottle_id: Mapped[int] = mapped_column(ForeignKey("bottles.id"), index=True)
    movement_id: Mapped[int] = mapped_column(ForeignKey("movements.id"))
    way: Mapped[WayOut]
    amount: Mapped[int] = mapped_column(BigInteger, comment="in the bottle's unit")
    note: Mapped[str] = mapped_column(String(NOTE_LENGTH), default="", comment="to whom, and why")
    left_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    bottle: Mapped[Bottle] = relationship()
    recorded_by: Mapped[Person] = relationship()
