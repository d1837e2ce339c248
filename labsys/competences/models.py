"""Tables of competences: who granted what to whom, who saw it, until when it holds, and that it was revoked."""

from datetime import date, datetime
from enum import StrEnum

from sqlalchemy import CheckConstraint, ForeignKey, Index, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from labsys.database import BigId, Model, UtcDateTime
from labsys.people.models import Person


class Competence(StrEnum):
    """What asks for somebody who has shown that they can do it. No role brings one along."""

    POWDERS = "powders"
    CORROSIVES = "concentrated acid or alkali"
    TONERS = "toners"
    OUT_OF_HOURS = "mixing out of hours"
    CHANGING_OVER = "changing a spent bath over"
    RELEASING = "releasing a stop"
    WASTE_AWAY = "signing waste away"


class CompetenceGrant(Model):
    """A person grants a competence to a person who showed it on a day, before a witness, until a last day.

    With a witness it counts once the witness says that they saw it (`witnessed_at`); without one it says why not.
    When it happened, when it was entered and when it was revoked are kept apart.
    """

    __tablename__ = "competence_grants"
    __table_args__ = (
        CheckConstraint("until >= happened_on", name="days"),
        CheckConstraint("(witness_id IS NULL) = (unwitnessed_because <> '')", name="witness"),
        CheckConstraint("witnessed_at IS NULL OR witness_id IS NOT NULL", name="witnessed"),
        CheckConstraint("witness_id <> person_id AND witness_id <> granted_by_id", name="third_person"),
        CheckConstraint("(revoked_at IS NULL) = (revoked_by_id IS NULL)", name="revoked"),
        CheckConstraint("(revoked_at IS NULL) = (revoked_because = '')", name="revoked_because"),
        Index(None, "person_id", "competence"),
        Index(None, "until"),
    )

    REASON_LENGTH = 200

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    competence: Mapped[Competence]
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    granted_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    may_grant: Mapped[bool] = mapped_column(comment="may grant it to others")
    happened_on: Mapped[date] = mapped_column(comment="the day on which it was shown")
    until: Mapped[date] = mapped_column(comment="the last day it holds")
    granted_at: Mapped[datetime] = mapped_column(UtcDateTime, comment="entered")
    witness_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    witnessed_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    unwitnessed_because: Mapped[str] = mapped_column(String(REASON_LENGTH), default="")
    revoked_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    revoked_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    revoked_because: Mapped[str] = mapped_column(String(REASON_LENGTH), default="")
    person: Mapped[Person] = relationship(foreign_keys=[person_id])
    granted_by: Mapped[Person] = relationship(foreign_keys=[granted_by_id])
    witness: Mapped[Person | None] = relationship(foreign_keys=[witness_id])
    revoked_by: Mapped[Person | None] = relationship(foreign_keys=[revoked_by_id])

    @property
    def counts_from(self) -> datetime | None:
        """When it was entered in full, so that it began to count: none while its witness has not said so."""
        return self.granted_at if self.witness_id is None else self.witnessed_at
