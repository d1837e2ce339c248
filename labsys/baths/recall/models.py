"""Tables of recalls: what was wrong, in which baths since when, and whose work was named for it, each told once."""

from datetime import datetime
from enum import StrEnum

from sqlalchemy import CheckConstraint, ForeignKey, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from labsys.baths.models import Bath, Use
from labsys.database import BigId, Model, UtcDateTime
from labsys.people.models import Person


class Fault(StrEnum):
    """What was wrong with a bath."""

    EXHAUSTED = "used up"
    WEAK = "mixed too weak"
    STRONG = "mixed too strong"
    WRONG = "wrongly mixed, nobody knows how"
    LOT = "made of a faulty lot"


class Recall(Model):
    """Work is called doubtful by one person in one act, and the recall is closed with a reason."""

    __tablename__ = "recalls"
    __table_args__ = (
        CheckConstraint("why <> ''", name="why"),
        CheckConstraint("(closed_at IS NULL) = (closed_by_id IS NULL)", name="closed_by"),
        CheckConstraint("(closed_at IS NULL) = (closing = '')", name="closing"),
    )

    TEXT_LENGTH = 400
    LOT_LENGTH = 60

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    fault: Mapped[Fault]
    why: Mapped[str] = mapped_column(String(TEXT_LENGTH), comment="how it was found")
    product_id: Mapped[int | None] = mapped_column(ForeignKey("products.id"), comment="of a faulty lot")
    lot: Mapped[str] = mapped_column(String(LOT_LENGTH), default="")
    opened_at: Mapped[datetime] = mapped_column(UtcDateTime)
    opened_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    closed_at: Mapped[datetime | None] = mapped_column(UtcDateTime, index=True)
    closed_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    closing: Mapped[str] = mapped_column(String(TEXT_LENGTH), default="", comment="why it was closed")
    opened_by: Mapped[Person] = relationship(foreign_keys=opened_by_id)
    closed_by: Mapped[Person | None] = relationship(foreign_keys=closed_by_id)
    baths: Mapped[list["RecalledBath"]] = relationship(order_by="RecalledBath.id", back_populates="recall")


class RecalledBath(Model):
    """A bath that a recall names, and since when what went through it is doubtful."""

    __tablename__ = "recalled_baths"
    __table_args__ = (UniqueConstraint("recall_id", "bath_id"),)

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    recall_id: Mapped[int] = mapped_column(ForeignKey("recalls.id"))
    bath_id: Mapped[int] = mapped_column(ForeignKey("baths.id"), index=True)
    since: Mapped[datetime] = mapped_column(UtcDateTime)
    is_certain: Mapped[bool] = mapped_column(comment="not where only bottles of which nobody noted the lot went in")
    recall: Mapped[Recall] = relationship(back_populates="baths")
    bath: Mapped[Bath] = relationship()


class RecalledUse(Model):
    """Work that a recall names, told once to whose it is; they say when they have seen to it."""

    __tablename__ = "recalled_uses"
    __table_args__ = (UniqueConstraint("recall_id", "use_id"),)

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    recall_id: Mapped[int] = mapped_column(ForeignKey("recalls.id"))
    use_id: Mapped[int] = mapped_column(ForeignKey("uses.id"), index=True)
    told_at: Mapped[datetime] = mapped_column(UtcDateTime)
    seen_to_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    use: Mapped[Use] = relationship()
