"""Tables of the ledger: vessels with a level, movements, and postings that sum to zero."""

from datetime import datetime
from enum import StrEnum

from sqlalchemy import BigInteger, CheckConstraint, ForeignKey, Index, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from labsys.database import BigId, Model, UtcDateTime


class Unit(StrEnum):
    """The whole units everything is counted in."""

    UL = "µL"
    MG = "mg"


class VesselKind(StrEnum):
    BOTTLE = "bottle"
    BATH = "bath"
    CONTAINER = "container"


class Account(StrEnum):
    """Where matter comes from or goes to when it is in no vessel of the lab."""

    SUPPLIER = "supplier"
    TAP = "tap"
    POWDER_DISSOLVED = "powder dissolved"
    FROM_OUTSIDE = "brought from outside the book"
    FOUL_SEWER = "foul sewer"
    CARRIER = "carrier"
    CARRIED_OUT = "carried out on film and paper"
    EVAPORATED = "evaporated"
    SPILLED = "spilled"
    GIVEN = "given to somebody outside"
    UNEXPLAINED = "unexplained"


class Vessel(Model):
    """A bottle, a bath or a waste container, seen only as something with a level.

    The level always equals the sum of the vessel's postings; it is kept so that a page need not add them up.
    """

    __tablename__ = "vessels"
    __table_args__ = (
        CheckConstraint("capacity > 0", name="capacity"),
        CheckConstraint("level >= 0 AND level <= capacity", name="level"),
    )

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    kind: Mapped[VesselKind] = mapped_column()
    unit: Mapped[Unit] = mapped_column()
    capacity: Mapped[int] = mapped_column(BigInteger)
    level: Mapped[int] = mapped_column(BigInteger, default=0)

    @property
    def share(self) -> float:
        return self.level / self.capacity


class Movement(Model):
    """One act that moved matter. A correction is a movement that reverses an earlier one, once."""

    __tablename__ = "movements"
    __table_args__ = (UniqueConstraint("reverses_id"), Index(None, "happened_at"))

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    what: Mapped[str] = mapped_column(String(40), comment="the act, in a word or two")
    happened_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    reverses_id: Mapped[int | None] = mapped_column(ForeignKey("movements.id"))
    postings: Mapped[list["Posting"]] = relationship(back_populates="movement", order_by="Posting.id")


class Posting(Model):
    """One side of a movement: an amount into (above zero) or out of (below zero) a vessel or an account."""

    __tablename__ = "postings"
    __table_args__ = (
        CheckConstraint("amount <> 0", name="amount"),
        CheckConstraint("(vessel_id IS NULL) <> (account IS NULL)", name="one_side"),
    )

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    movement_id: Mapped[int] = mapped_column(ForeignKey("movements.id"), index=True)
    vessel_id: Mapped[int | None] = mapped_column(ForeignKey("vessels.id"), index=True)
    account: Mapped[Account | None] = mapped_column(index=True)
    unit: Mapped[Unit] = mapped_column()
    amount: Mapped[int] = mapped_column(BigInteger)
    movement: Mapped[Movement] = relationship(back_populates="postings")
