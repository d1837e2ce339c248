"""What the outbox page says of each message."""

from dataclasses import dataclass
from datetime import datetime

from labsys.mail.models import OutgoingMail
from labsys.mail.rules import MailState, state_of

STUCK_SHOWN = 50
MESSAGES_PER_PAGE = 25


@dataclass(frozen=True)
class MailLine:
    """One message, what is known about it, and since or from when."""

    mail: OutgoingMail
    state: MailState
    at: datetime
    may_send_again: bool


@dataclass(frozen=True)
class MailPage:
    lines: list[MailLine]
    is_first: bool
    next_before: int | None


def line_of(mail: OutgoingMail, *, now: datetime) -> MailLine:
    """Say of a message what is known; `at` is when it was sent or given up, or when it is due."""
    state = state_of(sending_since=mail.sending_since, sent_at=mail.sent_at, given_up_at=mail.given_up_at, now=now)
    at = mail.sent_at or mail.given_up_at or mail.sending_since or mail.send_at
    stuck = state in (MailState.GIVEN_UP, MailState.NOT_KNOWN)
    return MailLine(mail, state, at, may_send_again=stuck and mail.person.is_active)


def mail_page(found: list[OutgoingMail], *, now: datetime, is_first: bool) -> MailPage:
    """Make a page of what was found: one more than a page holds says that there is another."""
    shown = found[:MESSAGES_PER_PAGE]
    return MailPage(
        lines=[line_of(mail, now=now) for mail in shown],
        is_first=is_first,
        next_before=shown[-1].id if len(found) > MESSAGES_PER_PAGE else None,
    )
