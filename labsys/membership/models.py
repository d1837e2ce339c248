"""Tables of membership: what the lab knows of somebody's age."""

from datetime import date, datetime

from sqlalchemy import CheckConstraint, ForeignKey, UniqueConstraint
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
