"""Jobs: what the lab does in the background, once for somebody who asked, or again and again by itself."""

from datetime import datetime
from enum import StrEnum

from sqlalchemy import CheckConstraint, ForeignKey, Index, String, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from labsys.database import BigId, Model, UtcDateTime
from labsys.people.models import Person


class JobState(StrEnum):
    WAITING = "waiting"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"


class Job(Model):
    """One piece of work.

    A process claims it with a lease and a token that nobody else knows; only with that token is it told of or ended.
    A lease that ran out means that the process died, and another takes the job. What the lab does again and again is
    one row, whose `once_key` is the name of its kind: ended, it waits until it is due again.
    """

    __tablename__ = "jobs"
    __table_args__ = (
        UniqueConstraint("once_key"),
        CheckConstraint("tries >= 0", name="tries"),
        CheckConstraint("steps_done >= 0 AND steps_of >= 0", name="steps"),
        CheckConstraint("(state = 'running') = (lease_token IS NOT NULL)", name="token_while_running"),
        CheckConstraint("(lease_token IS NULL) = (leased_until IS NULL)", name="lease_whole"),
        CheckConstraint("state NOT IN ('done', 'failed') OR finished_at IS NOT NULL", name="end_dated"),
        CheckConstraint(
            "(file_name IS NULL) = (digest IS NULL) AND (file_name IS NULL) = (media_type IS NULL)"
            " AND (file_name IS NULL) = (file_size IS NULL)",
            name="file_whole",
        ),
        Index(None, "state", "due_at"),
        {"sqlite_autoincrement": True},  # old jobs are forgotten, and the record must not name two by one number
    )

    KIND_LENGTH = 40
    WORDS_LENGTH = 300
    NAME_LENGTH = 120

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    kind: Mapped[str] = mapped_column(String(KIND_LENGTH))
    parameters: Mapped[str] = mapped_column(Text, comment="canonical JSON")
    once_key: Mapped[str | None] = mapped_column(String(120), comment="while a job is kept, its key queues no other")
    asked_by_id: Mapped[int | None] = mapped_column(ForeignKey("people.id"), index=True, comment="empty: the lab")
    asked_at: Mapped[datetime] = mapped_column(UtcDateTime)
    due_at: Mapped[datetime] = mapped_column(UtcDateTime, comment="not before this")
    state: Mapped[JobState] = mapped_column(default=JobState.WAITING)
    tries: Mapped[int] = mapped_column(default=0, comment="begun since it last went well")
    lease_token: Mapped[str | None] = mapped_column(String(32))
    leased_until: Mapped[datetime | None] = mapped_column(UtcDateTime)
    steps_done: Mapped[int] = mapped_column(BigId, default=0)
    steps_of: Mapped[int] = mapped_column(BigId, default=0, comment="0 while nobody knows")
    doing: Mapped[str] = mapped_column(String(NAME_LENGTH), default="")
    says: Mapped[str] = mapped_column(String(WORDS_LENGTH), default="", comment="what it found when it last went well")
    last_error: Mapped[str] = mapped_column(String(WORDS_LENGTH), default="")
    started_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    finished_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    file_name: Mapped[str | None] = mapped_column(String(NAME_LENGTH))
    media_type: Mapped[str | None] = mapped_column(String(NAME_LENGTH))
    file_size: Mapped[int | None] = mapped_column(BigId)
    digest: Mapped[str | None] = mapped_column(String(64), comment="SHA-256 of the file")
    asked_by: Mapped[Person | None] = relationship()

    @property
    def is_periodic(self) -> bool:
        return self.once_key == self.kind
