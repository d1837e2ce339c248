"""Tables of what people bring in themselves: what was declared, what was decided, and how it ended."""

from datetime import date, datetime
from enum import StrEnum

from sqlalchemy import BigInteger, CheckConstraint, ForeignKey, Index, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from labsys.database import BigId, Model, UtcDateTime
from labsys.ledger.models import Unit
from labsys.people.models import Person
from labsys.processes.models import Process
from labsys.products.models import SheetContent


class Ending(StrEnum):
    """What became of a guest bottle; the value is how pages say it."""

    TAKEN_HOME = "taken home"
    DISPOSED_OF = "disposed of here"
    NOT_BROUGHT = "never brought"


class Declaration(Model):
    """A chemical that somebody says they will bring, the decision about it, and its end.

    Only what was accepted has a code, which stands on the guest bottle.
    """

    __tablename__ = "declarations"
    __table_args__ = (
        UniqueConstraint("code"),
        CheckConstraint("amount > 0", name="amount"),
        CheckConstraint("first_on <= last_on", name="days"),
        CheckConstraint("ended_at IS NULL OR decided_at IS NOT NULL OR ending = 'never brought'", name="ended"),
        Index(None, "person_id", "id"),
    )

    NAME_LENGTH = 120
    H_CODES_LENGTH = 300
    TEXT_LENGTH = 1_000

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    name: Mapped[str] = mapped_column(String(NAME_LENGTH))
    supplier: Mapped[str] = mapped_column(String(NAME_LENGTH))
    h_codes: Mapped[str] = mapped_column(String(H_CODES_LENGTH), comment="as on the SDS; spaces between")
    amount: Mapped[int] = mapped_column(BigInteger)
    unit: Mapped[Unit]
    sds_digest: Mapped[str | None] = mapped_column(ForeignKey("sheet_contents.digest"), comment="its SDS as sent")
    task: Mapped[str] = mapped_column(String(TEXT_LENGTH))
    process_id: Mapped[int | None] = mapped_column(ForeignKey("processes.id"))
    first_on: Mapped[date]
    last_on: Mapped[date]
    waste_code: Mapped[str] = mapped_column(String(9), comment="of what is left of it; empty: the person takes it home")
    declared_at: Mapped[datetime] = mapped_column(UtcDateTime)
    is_accepted: Mapped[bool | None]
    sds_shown: Mapped[bool] = mapped_column(default=False, comment="whoever decided saw the SDS")
    reasons: Mapped[str] = mapped_column(String(TEXT_LENGTH), default="")
    conditions: Mapped[str] = mapped_column(String(TEXT_LENGTH), default="")
    decided_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    decided_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    code: Mapped[str | None] = mapped_column(String(20))
    ended_at: Mapped[datetime | None] = mapped_column(UtcDateTime, index=True)
    ending: Mapped[Ending | None]
    container_label: Mapped[str] = mapped_column(String(20), default="", comment="of the waste container it went to")
    person: Mapped[Person] = relationship(foreign_keys=person_id)
    decided_by: Mapped[Person | None] = relationship(foreign_keys=decided_by_id)
    process: Mapped[Process | None] = relationship()
    sds: Mapped[SheetContent | None] = relationship()
    ingredients: Mapped[list["DeclaredIngredient"]] = relationship(order_by="DeclaredIngredient.id")


class DeclaredIngredient(Model):
    """A hazardous ingredient as section 3 of the SDS names it."""

    __tablename__ = "declared_ingredients"
    __table_args__ = (UniqueConstraint("declaration_id", "cas"),)

    NAME_LENGTH = 120

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    declaration_id: Mapped[int] = mapped_column(ForeignKey("declarations.id"))
    name: Mapped[str] = mapped_column(String(NAME_LENGTH))
    cas: Mapped[str] = mapped_column(String(12))
