"""The outbox: mail is a row in the transaction that causes it, and is sent later, once."""

from datetime import datetime

from sqlalchemy import CheckConstraint, ForeignKey, Index, String, Text, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from labsys.database import BigId, Model, UtcDateTime
from labsys.people.models import Person


class OutgoingMail(Model):
    """One message to one person.

    It waits until `send_at`; a sender claims it by `sending_since`, and after that it is either sent or its error is
    written down and it waits again. Claimed for long and neither means that a sender died in between: nobody knows
    whether it left, so it is not sent again by itself but shown to the manager.
    """

    __tablename__ = "outgoing_mail"
    __table_args__ = (
        UniqueConstraint("reason_key", "person_id"),
        CheckConstraint("tries >= 0", name="tries"),
        Index(None, "sent_at", "send_at"),
    )

    SUBJECT_LENGTH = 200
    KIND_LENGTH = 40
    PATH_LENGTH = 200

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"), index=True)
    address: Mapped[str | None] = mapped_column(
        String(Person.EMAIL_LENGTH), comment="where it goes; the person's own of the moment where there is none"
    )
    kind: Mapped[str] = mapped_column(String(KIND_LENGTH), default="", comment="empty: older than kinds")
    reason_key: Mapped[str] = mapped_column(String(120), comment="its cause, of which nobody is told twice")
    subject: Mapped[str] = mapped_column(String(SUBJECT_LENGTH))
    body: Mapped[str] = mapped_column(Text)
    path: Mapped[str] = mapped_column(String(PATH_LENGTH), default="", comment="the page that it leads to")
    created_at: Mapped[datetime] = mapped_column(UtcDateTime)
    send_at: Mapped[datetime] = mapped_column(UtcDateTime, comment="not before this")
    sending_since: Mapped[datetime | None] = mapped_column(UtcDateTime)
    sent_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    tries: Mapped[int] = mapped_column(default=0)
    last_error: Mapped[str] = mapped_column(String(300), default="")
    given_up_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    put_aside_at: Mapped[datetime | None] = mapped_column(UtcDateTime, comment="a manager said: leave it unsent")
    person: Mapped[Person] = relationship()


class UnwantedMail(Model):
    """A kind of mail that somebody does not want. What is always written is never among them."""

    __tablename__ = "unwanted_mail"
    __table_args__ = (UniqueConstraint("person_id", "kind"),)

    id: Mapped[int] = mapped_column(BigId, primary_key=True)
    person_id: Mapped[int] = mapped_column(ForeignKey("people.id"))
    kind: Mapped[str] = mapped_column(String(OutgoingMail.KIND_LENGTH))
