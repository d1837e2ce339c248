"""The table of entries made without a network that wait for somebody: to confirm them, or to see to them."""

from datetime import datetime
from enum import StrEnum

from sqlalchemy import CheckConstraint, ForeignKey, Index, String, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from labsys.database import BigId, Model, UtcDateTime, made_text
from labsys.devices.models import EnrolledDevice
from labsys.people.models import Person


class State(StrEnum):
    """How an entry stands."""

    NOT_CONFIRMED = "not confirmed"  # made at a tablet, where no PIN can be checked without a network
    NOBODYS = "whose it is, is not known"
    REFUSED = "could not be taken over"
    SETTLED = "settled"


class KeptEntry(Model):
    """An entry made without a network that no act has taken over yet.

    `typed` is what was sent, as the form would have sent it, and is emptied once it is settled: a report of an
    incident may say who was hurt.
    """

    __tablename__ = "kept_entries"
    __table_args__ = (
        UniqueConstraint("key"),
        CheckConstraint("state <> 'not confirmed' OR person_id IS NOT NULL", name="confirmed_by_somebody"),
        CheckConstraint("(state = 'settled') = (settled_at IS NOT NULL)", name="settled"),
        CheckConstraint(
            "settled_at IS NULL OR (settled_by_id IS NOT NULL AND came_to <> '' AND typed = '')", name="came_to"
        ),
        Index(None, "state", "person_id"),
    )

    PATH_LENGTH = 200
    TEXT_LENGTH = 300

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    key: Mapped[str] = mapped_column(String(36), comment="its submission key")
    device_id: Mapped[int | None] = mapped_column(ForeignKey("enrolled_devices.id"), comment="the tablet it is from")
    person_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"), comment="whose it is, as far as is known")
    claimed: Mapped[str] = mapped_column(String(TEXT_LENGTH), default="", comment="who they said they were")
    path: Mapped[str] = mapped_column(String(PATH_LENGTH), comment="where its form is sent")
    typed: Mapped[str] = mapped_column(Text, deferred=True, comment="JSON: pairs of a field's name and what was typed")
    said: Mapped[str] = mapped_column(made_text(400), comment="what it is, in words, with nobody's health in them")
    happened_at: Mapped[datetime] = mapped_column(UtcDateTime)
    received_at: Mapped[datetime] = mapped_column(UtcDateTime)
    state: Mapped[State]
    why: Mapped[str] = mapped_column(made_text(400), default="", comment="why it could not be taken over")
    came_to: Mapped[str] = mapped_column(made_text(400), default="", comment="what became of it")
    settled_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    settled_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    person: Mapped[Person | None] = relationship(foreign_keys=[person_id])
    device: Mapped[EnrolledDevice | None] = relationship()
