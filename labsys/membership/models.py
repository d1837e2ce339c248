"""Tables of membership: age, a guardian's permission, until when, what was agreed to, whom to call, what was paid."""

from datetime import date, datetime

from sqlalchemy import CheckConstraint, ForeignKey, Index, String, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from labsys.database import BigId, Model, UtcDateTime
from labsys.people.models import Person


class AgeStatement(Model):
    """What was stated of somebody's age. The date of birth is not kept: the law asks whether, not how old.

    The day may be any from the 18th birthday on, so that the birthday need not be told: later is the strict side.
    """

    __tablename__ = "age_statements"
    __table_args__ = (
        UniqueConstraint("person_id"),
        CheckConstraint("school_age_until IS NULL OR school_age_until <= under_18_until", name="school_age"),
        CheckConstraint("under_18_until IS NOT NULL OR school_age_until IS NULL", name="of_school_age"),
    )

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    under_18_until: Mapped[date | None] = mapped_column(comment="the first day on which it is over; none: 18 or over")
    school_age_until: Mapped[date | None] = mapped_column(comment="likewise; none, of who is under 18: not stated")
    stated_at: Mapped[datetime] = mapped_column(UtcDateTime)
    stated_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    stated_by: Mapped[Person] = relationship(foreign_keys=[stated_by_id])


class GuardianPermission(Model):
    """A guardian's permission that somebody under 18 works here, from a day to a day; kept once it is withdrawn too."""

    __tablename__ = "guardian_permissions"
    __table_args__ = (
        CheckConstraint("given_on <= ends_on", name="days"),
        CheckConstraint("(withdrawn_at IS NULL) = (withdrawn_by_id IS NULL)", name="withdrawn"),
        Index(None, "person_id"),
    )

    PAPER_LENGTH = 200

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    guardian: Mapped[str] = mapped_column(String(Person.NAME_LENGTH), comment="who signed it")
    given_on: Mapped[date]
    ends_on: Mapped[date] = mapped_column(comment="the last day it holds")
    paper: Mapped[str] = mapped_column(String(PAPER_LENGTH), default="", comment="where the signed paper is kept")
    recorded_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    withdrawn_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    withdrawn_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    recorded_by: Mapped[Person] = relationship(foreign_keys=[recorded_by_id])


class MembershipRules(Model):
    """What else the lab asks of who comes here; without a row nothing of it is asked."""

    __tablename__ = "membership_rules"
    __table_args__ = (
        CheckConstraint("id = 1", name="only_one"),
        CheckConstraint("most_guests >= 0 AND most_guests <= 20", name="most_guests"),
    )

    MOST_GUESTS = 20

    id: Mapped[int] = mapped_column(primary_key=True)
    asks_term: Mapped[bool] = mapped_column(default=False, comment="a membership that holds, of who has no other role")
    asks_agreement: Mapped[bool] = mapped_column(default=False)
    asks_contact: Mapped[bool] = mapped_column(default=False, comment="whom to call in an emergency")
    keeps_fees: Mapped[bool] = mapped_column(default=False)
    most_guests: Mapped[int] = mapped_column(default=0, comment="on one booking")


class MembershipTerm(Model):
    """Somebody's membership from a day to a day, or open; one entered wrongly is taken back and stays to be seen."""

    __tablename__ = "membership_terms"
    __table_args__ = (
        CheckConstraint("ends_on >= starts_on", name="days"),
        CheckConstraint("(withdrawn_at IS NULL) = (withdrawn_by_id IS NULL)", name="withdrawn"),
        Index(None, "person_id"),
        Index(None, "ends_on"),
    )

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    starts_on: Mapped[date]
    ends_on: Mapped[date | None] = mapped_column(comment="the last day it holds; none: until it is ended")
    recorded_at: Mapped[datetime] = mapped_column(UtcDateTime)
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    withdrawn_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    withdrawn_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    recorded_by: Mapped[Person] = relationship(foreign_keys=[recorded_by_id])


class Agreement(Model):
    """One version of what everybody agrees to who works here. It never changes: a change is a new version."""

    __tablename__ = "agreements"
    __table_args__ = (UniqueConstraint("number"),)

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    number: Mapped[int]
    text: Mapped[str] = mapped_column(Text)
    sign_again: Mapped[bool] = mapped_column(comment="whoever signed an earlier version signs again")
    issued_at: Mapped[datetime] = mapped_column(UtcDateTime)
    issued_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))


class AgreementSignature(Model):
    """Somebody agrees to a version: on their own account, or on paper that somebody else entered."""

    __tablename__ = "agreement_signatures"
    __table_args__ = (
        UniqueConstraint("agreement_id", "person_id"),
        CheckConstraint("(paper = '') = (recorded_by_id = person_id)", name="paper"),
        Index(None, "person_id"),
    )

    PAPER_LENGTH = 200

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    agreement_id: Mapped[int] = mapped_column(ForeignKey("agreements.id"))
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    paper: Mapped[str] = mapped_column(String(PAPER_LENGTH), default="", comment="where the signed paper is kept")
    signed_at: Mapped[datetime] = mapped_column(UtcDateTime, comment="entered")
    recorded_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    agreement: Mapped[Agreement] = relationship()


class EmergencyContact(Model):
    """Whom to call when something happened to somebody. It goes when they leave."""

    __tablename__ = "emergency_contacts"
    __table_args__ = (UniqueConstraint("person_id"),)

    TELEPHONE_LENGTH = 40

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    name: Mapped[str] = mapped_column(String(Person.NAME_LENGTH))
    telephone: Mapped[str] = mapped_column(String(TELEPHONE_LENGTH))
    stated_at: Mapped[datetime] = mapped_column(UtcDateTime)


class FeeNote(Model):
    """How somebody stands with the fee, as it was noted: the newest says how it is. No payment is taken here."""

    __tablename__ = "fee_notes"
    __table_args__ = (
        CheckConstraint("hours_left >= 0", name="hours_left"),
        CheckConstraint("paid_until IS NOT NULL OR hours_left IS NOT NULL", name="something"),
        Index(None, "person_id"),
    )

    NOTE_LENGTH = 200

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    paid_until: Mapped[date | None]
    hours_left: Mapped[int | None]
    note: Mapped[str] = mapped_column(String(NOTE_LENGTH), default="")
    noted_at: Mapped[datetime] = mapped_column(UtcDateTime)
    noted_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    noted_by: Mapped[Person] = relationship(foreign_keys=[noted_by_id])
