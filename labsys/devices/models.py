"""Tables of the dry side's shared tablets: enrolled devices, cards, PINs and wrong tries."""

from datetime import datetime

from sqlalchemy import ForeignKey, Index, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from labsys.database import BigId, Model, UtcDateTime
from labsys.people.models import Person


class EnrolledDevice(Model):
    """A shared tablet that a manager enrolled. Only a digest of its token is kept."""

    __tablename__ = "enrolled_devices"
    __table_args__ = (UniqueConstraint("token_digest"),)

    NAME_LENGTH = 60

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    name: Mapped[str] = mapped_column(String(NAME_LENGTH))
    token_digest: Mapped[str] = mapped_column(String(64))
    enrolled_at: Mapped[datetime] = mapped_column(UtcDateTime)
    enrolled_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    revoked_at: Mapped[datetime | None] = mapped_column(UtcDateTime)


class Card(Model):
    """A card whose code says who somebody is at an enrolled device. Tonight's code is a card for a few hours."""

    __tablename__ = "cards"
    __table_args__ = (UniqueConstraint("code"),)

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"), index=True)
    code: Mapped[str] = mapped_column(String(20))
    issued_at: Mapped[datetime] = mapped_column(UtcDateTime)
    valid_until: Mapped[datetime | None] = mapped_column(UtcDateTime)
    revoked_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    person: Mapped[Person] = relationship()


class Pin(Model):
    """A person's PIN for enrolled devices, as an argon2 hash."""

    __tablename__ = "pins"

    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"), primary_key=True)
    pin_hash: Mapped[str] = mapped_column(String(200))
    chosen_at: Mapped[datetime] = mapped_column(UtcDateTime)


class WrongTry(Model):
    """A wrong card code or PIN at a device, counted for the device and, where one was named, for the person."""

    __tablename__ = "wrong_tries"
    __table_args__ = (Index(None, "device_id", "at"), Index(None, "person_id", "at"))

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    device_id: Mapped[int] = mapped_column(ForeignKey("enrolled_devices.id"))
    person_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    at: Mapped[datetime] = mapped_column(UtcDateTime)
