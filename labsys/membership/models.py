"""Tables of membership: what the lab knows of somebody's age."""

from datetime import date, datetime

from sqlalchemy import CheckConstraint, ForeignKey, Index, String, UniqueConstraint
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
