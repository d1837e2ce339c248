"""Tables of what is told in confidence: what somebody keeps away from, talks and what was agreed, skin checks.

Kept in plain words: whoever runs the server, or holds a backup, can read them. No page but the person's own and those
of the safety adviser shows them, and the record says no more than that somebody kept a matter of their own.
"""

from datetime import date, datetime

from sqlalchemy import CheckConstraint, ForeignKey, Index, String, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from labsys.database import BigId, Model, UtcDateTime
from labsys.hazards.personal import PersonalFamily
from labsys.people.models import Person


class Restriction(Model):
    """A family of substance somebody keeps away from; without one, that nobody else books a process for them."""

    __tablename__ = "personal_restrictions"
    __table_args__ = (UniqueConstraint("person_id", "family"),)

    NOTE_LENGTH = 300

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    family: Mapped[PersonalFamily | None] = mapped_column(comment="none: no substance is named")
    note: Mapped[str] = mapped_column(String(NOTE_LENGTH), default="")
    ends_on: Mapped[date | None] = mapped_column(comment="the last day it holds")
    entered_at: Mapped[datetime] = mapped_column(UtcDateTime)
    entered_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    entered_by: Mapped[Person] = relationship(foreign_keys=[entered_by_id])


class Talk(Model):
    """Somebody asks the safety adviser for a talk; what is agreed there ends by a date. Why is never asked."""

    __tablename__ = "confidential_talks"
    __table_args__ = (
        CheckConstraint("agreed = '' OR ends_on IS NOT NULL", name="agreed_ends"),
        CheckConstraint("agreed = '' OR held_at IS NOT NULL", name="agreed_held"),
        Index(None, "person_id"),
    )

    AGREED_LENGTH = 1_000

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    asked_at: Mapped[datetime] = mapped_column(UtcDateTime)
    held_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    agreed: Mapped[str] = mapped_column(Text, default="")
    ends_on: Mapped[date | None] = mapped_column(comment="the last day that what was agreed holds")


class SkinChecks(Model):
    """Somebody is under health surveillance, with the day of their last skin check."""

    __tablename__ = "skin_checks"
    __table_args__ = (UniqueConstraint("person_id"),)

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    last_on: Mapped[date | None] = mapped_column(comment="none: not checked yet")
