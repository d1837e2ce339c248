"""Decisions about mail: when to try again, when to give up, and what is known about a message."""

import hashlib
from datetime import datetime, timedelta
from enum import StrEnum

from labsys.mail.models import OutgoingMail
from labsys.records.errors import Refused

WAITS = tuple(timedelta(minutes=minutes) for minutes in (5, 30, 120, 360, 1_440))
LATE_AFTER = timedelta(days=1)
OUTCOME_DUE = timedelta(minutes=10)  # far longer than any time-out towards the mail server


class MailRefused(Refused):
    """A message cannot be sent again so; the message says why."""


class MailState(StrEnum):
    """What is known about a message; the value is how pages say it."""

    WAITING = "waiting"
    SENDING = "being sent"
    SENT = "sent"
    LATE = "waiting for more than a day"
    GIVEN_UP = "given up"
    NOT_KNOWN = "not known whether it left"
    PUT_ASIDE = "left unsent"


def state_of(mail: OutgoingMail, *, now: datetime) -> MailState:
    """Say what is known about a message. Claimed for ten minutes without an outcome, its sender has died.

    >>> from datetime import UTC
    >>> noon = datetime(2026, 3, 2, 12, tzinfo=UTC)
    >>> state_of(OutgoingMail(sending_since=noon), now=noon + timedelta(minutes=11)).value
    'not known whether it left'
    """
    if mail.sent_at is not None:
        return MailState.SENT
    if mail.put_aside_at is not None:
        return MailState.PUT_ASIDE
    if mail.given_up_at is not None:
        return MailState.GIVEN_UP
    sending_since = mail.sending_since
    if sending_since is None:
        since = mail.created_at if mail.tries else mail.send_at
        return MailState.LATE if now - since > LATE_AFTER else MailState.WAITING
    return MailState.NOT_KNOWN if now - sending_since > OUTCOME_DUE else MailState.SENDING


def next_try(*, tries: int, now: datetime) -> datetime | None:
    """When to try again after the mail server refused a message for the `tries`-th time; None to give up.

    A lasting refusal is treated like a passing one: from the lab's own relay it mostly means a wrong setting, which
    whoever hosts the lab can mend before the last try.

    >>> from datetime import UTC
    >>> next_try(tries=2, now=datetime(2026, 3, 2, 12, tzinfo=UTC)).isoformat()
    '2026-03-02T12:30:00+00:00'
    """
    return now + WAITS[tries - 1] if tries <= len(WAITS) else None


def message_id(*, mail_id: int, reason_key: str, sender: str) -> str:
    """Return a message's own identifier, the same at every try, so that a mailbox can tell a repeat.

    Source:
        RFC 5322 (2008), section 3.6.4 (from memory).

    >>> message_id(mail_id=7, reason_key="booking 3 made", sender="lab@example.org")
    '<7.7f7232c5dcaaf6e8@example.org>'
    """
    digest = hashlib.sha256(reason_key.encode("utf-8")).hexdigest()[:16]
    return f"<{mail_id}.{digest}@{sender.rpartition('@')[2]}>"


def one_line(text: str, *, limit: int) -> str:
    """Put text on one line of at most `limit` characters, as a header wants it.

    >>> one_line("Booking\\nmade", limit=10)
    'Booking m…'
    """
    joined = " ".join(text.split())
    return joined if len(joined) <= limit else joined[: limit - 1] + "…"
