"""Tables of what one technician leaves to the next: notes until they are read, and film nobody has come for."""

from datetime import date, datetime

from sqlalchemy import CheckConstraint, ForeignKey, Index, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from labsys.database import BigId, Model, UtcDateTime
from labsys.people.models import Person


class HandoverNote(Model):
    """What the next one has to know; it stands until somebody else has read it."""

    __tablename__ = "handover_notes"
    __table_args__ = (
        CheckConstraint("(read_at IS NULL) = (read_by_id IS NULL)", name="read_by"),
        CheckConstraint("read_by_id <> written_by_id", name="read_by_another"),
        Index(None, "read_at"),
    )

    TEXT_LENGTH = 2_000

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    text: Mapped[str] = mapped_column(String(TEXT_LENGTH))
    written_at: Mapped[datetime] = mapped_column(UtcDateTime)
    written_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    read_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    read_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    written_by: Mapped[Person] = relationship(foreign_keys=written_by_id)
    read_by: Mapped[Person | None] = relationship(foreign_keys=read_by_id)


class LeftFilm(Model):
    """Film or prints that nobody has come for: whose, as far as is known, and where they lie."""

    __tablename__ = "left_films"
    __table_args__ = (
        CheckConstraint("(gone_at IS NULL) = (gone_by_id IS NULL)", name="gone_by"),
        CheckConstraint("(gone_at IS NULL) = (gone_how = '')", name="gone_how"),
        CheckConstraint("owner_id IS NULL OR owner_words = ''", name="one_owner"),
        Index(None, "gone_at"),
    )

    LINE_LENGTH = 200

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    what: Mapped[str] = mapped_column(String(LINE_LENGTH))
    whereabouts: Mapped[str] = mapped_column(String(LINE_LENGTH), default="")
    owner_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"), index=True)
    owner_words: Mapped[str] = mapped_column(String(LINE_LENGTH), default="", comment="the name on it; empty: none")
    found_on: Mapped[date]
    found_by_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    gone_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    gone_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"))
    gone_how: Mapped[str] = mapped_column(String(LINE_LENGTH), default="")
    owner: Mapped[Person | None] = relationship(foreign_keys=owner_id)
    found_by: Mapped[Person] = relationship(foreign_keys=found_by_id)
    gone_by: Mapped[Person | None] = relationship(foreign_keys=gone_by_id)

    @property
    def whose(self) -> str:
        if self.owner is not None:
            return self.owner.name
        return f"“{self.owner_words}” is on it" if self.owner_words else "not known"
