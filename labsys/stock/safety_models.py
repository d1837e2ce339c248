"""Tables of the store's safety: data sheets, interim approvals, chosen readings, accepted restrictions, its rule."""

from datetime import date, datetime
from enum import StrEnum

from sqlalchemy import BigInteger, CheckConstraint, ForeignKey, LargeBinary, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from labsys.database import BigId, Model, UtcDateTime
from labsys.people.models import Person

DIGEST_LENGTH = 64  # SHA-256 in hexadecimal


class SheetContent(Model):
    """The bytes of a data sheet, once for each digest however many products share the sheet."""

    __tablename__ = "sheet_contents"
    __table_args__ = (CheckConstraint("size > 0", name="size"),)

    digest: Mapped[str] = mapped_column(String(DIGEST_LENGTH), primary_key=True, comment="SHA-256 of content")
    size: Mapped[int] = mapped_column(BigInteger, comment="bytes")
    content: Mapped[bytes] = mapped_column(LargeBinary, deferred=True)


class DataSheet(Model):
    """A supplier's SDS of a product, as it was sent."""

    __tablename__ = "data_sheets"
    __table_args__ = (
        UniqueConstraint("product_id", "digest"),
        CheckConstraint("review_due > issued_on", name="review_due"),
    )

    SUPPLIER_LENGTH = 120
    WORDS_LENGTH = 60

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    product_id: Mapped[int] = mapped_column(ForeignKey("products.id"))
    digest: Mapped[str] = mapped_column(ForeignKey("sheet_contents.digest"))
    issued_on: Mapped[date] = mapped_column(comment="issue or revision date printed on it")
    review_due: Mapped[date] = mapped_column(comment="the lab's choice: from then it asks for a newer one")
    supplier: Mapped[str] = mapped_column(String(SUPPLIER_LENGTH), comment="as the sheet names it")
    language: Mapped[str] = mapped_column(String(WORDS_LENGTH))
    revision: Mapped[str] = mapped_column(String(WORDS_LENGTH), default="")
    added_at: Mapped[datetime] = mapped_column(UtcDateTime)
    added_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    added_by: Mapped[Person] = relationship()
    kept: Mapped[SheetContent] = relationship()


class InterimApproval(Model):
    """Leave to mix from one version of a product's entries for some days, though nobody has confirmed them."""

    __tablename__ = "interim_approvals"
    __table_args__ = (CheckConstraint("first_day <= last_day", name="days"),)

    REASON_LENGTH = 300
    MOST_DAYS = 31

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    product_id: Mapped[int] = mapped_column(ForeignKey("products.id"), index=True)
    version: Mapped[int]
    reason: Mapped[str] = mapped_column(String(REASON_LENGTH))
    first_day: Mapped[date]
    last_day: Mapped[date]
    approved_at: Mapped[datetime] = mapped_column(UtcDateTime)
    approved_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    approved_by: Mapped[Person] = relationship()


class HazardChoice(Model):
    """Which of two readings somebody chose for a dilution of one version of a product; the newest one counts."""

    __tablename__ = "hazard_choices"

    RULE_LENGTH = 80
    OUTCOME_LENGTH = 300
    REASON_LENGTH = 300

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    product_id: Mapped[int] = mapped_column(ForeignKey("products.id"), index=True)
    version: Mapped[int]
    water_parts_milli: Mapped[int] = mapped_column(BigInteger)
    rule: Mapped[str] = mapped_column(String(RULE_LENGTH))
    outcome: Mapped[str] = mapped_column(String(OUTCOME_LENGTH), comment="what the other rule gives")
    takes_alternative: Mapped[bool] = mapped_column(comment="whether the other rule's outcome was chosen")
    reason: Mapped[str] = mapped_column(String(REASON_LENGTH))
    chosen_at: Mapped[datetime] = mapped_column(UtcDateTime)
    chosen_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    chosen_by: Mapped[Person] = relationship()


class AcceptedRestriction(Model):
    """Why a product that holds something restricted is kept all the same, and who answers for it."""

    __tablename__ = "accepted_restrictions"
    __table_args__ = (UniqueConstraint("product_id", "item"),)

    ITEM_LENGTH = 60
    REASON_LENGTH = 300

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    product_id: Mapped[int] = mapped_column(ForeignKey("products.id"))
    item: Mapped[str] = mapped_column(String(ITEM_LENGTH), comment="key in the table of restricted things")
    reason: Mapped[str] = mapped_column(String(REASON_LENGTH))
    accepted_at: Mapped[datetime] = mapped_column(UtcDateTime)
    accepted_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    accepted_by: Mapped[Person] = relationship()


class SdsRule(StrEnum):
    """What follows where a product has no current SDS: the lab's choice."""

    SHOWN = "shown"
    BLOCKS = "blocks"


class StoreRule(Model):
    """The lab's choices for its chemical store; without a row the gentler one stands."""

    __tablename__ = "store_rules"
    __table_args__ = (CheckConstraint("id = 1", name="only_one"),)

    id: Mapped[int] = mapped_column(primary_key=True)
    sds_rule: Mapped[SdsRule]
