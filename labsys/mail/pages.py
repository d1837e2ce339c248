"""What the outbox page says of each message."""

from dataclasses import dataclass
from datetime import datetime

from labsys.mail.models import OutgoingMail
from labsys.mail.rules import MailState, state_of


@dataclass(frozen=True)
class MailLine:
    """One message, what is known about it, and since or from when."""

    mail: OutgoingMail
    state: MailState
    at: datetime
    may_send_again: bool


def line_of(mail: OutgoingMail, *, now: datetime) -> MailLine:
    """Say of a message what is known; `at` is when it was sent, left or given up, or when it is due."""
    state = state_of(mail, now=now)
    at = mail.sent_at or mail.put_aside_at or mail.given_up_at or mail.sending_since or mail.send_at
    stuck = state in (MailState.GIVEN_UP, MailState.NOT_KNOWN)
    return MailLine(mail, state, at, may_send_again=stuck and mail.person.is_active)
