"""The table of calendar addresses: secret, so that a calendar program reads what its maker sees without signing in."""

from datetime import datetime

from sqlalchemy import CheckConstraint, ForeignKey, Index, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from labsys.courses.models import Course
from labsys.database import BigId, Model, UtcDateTime
from labsys.people.models import Person
from labsys.places.models import Room


class CalendarAddress(Model):
    """An address that somebody made: of their own bookings, of a room, or of a course. Only its digest is kept."""

    __tablename__ = "calendar_addresses"
    __table_args__ = (
        UniqueConstraint("token_digest"),
        CheckConstraint("room_id IS NULL OR course_id IS NULL", name="one_calendar"),
        Index(None, "person_id"),
    )

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"), comment="who made it, and sees so much")
    room_id: Mapped[int | None] = mapped_column(ForeignKey("rooms.id"))
    course_id: Mapped[int | None] = mapped_column(ForeignKey("courses.id"))
    token_digest: Mapped[str] = mapped_column(String(64), comment="SHA-256 of the secret part")
    session_version: Mapped[int] = mapped_column(comment="of its person then: it ends with their open sessions")
    made_at: Mapped[datetime] = mapped_column(UtcDateTime)
    ended_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    person: Mapped[Person] = relationship()
    room: Mapped[Room | None] = relationship()
    course: Mapped[Course | None] = relationship()
