"""What happens to mail: queued inside another act, claimed, sent or refused, and sent again when a manager says so."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import update
from sqlalchemy.dialects import postgresql, sqlite

from labsys.database import DbSession
from labsys.mail import queries, rules
from labsys.mail.models import OutgoingMail
from labsys.people.acts import Act, act
from labsys.people.models import Person
from labsys.people.permissions import Permission, require
from labsys.records.transactions import transaction

_LEFT = "The person has left the lab."
_ERROR_LENGTH = 300


@dataclass(frozen=True)
class Claimed:
    """A message that this sender, and no other, is to send now."""

    id: int
    name: str
    address: str
    reason_key: str
    subject: str
    body: str


def queue(
    session: DbSession,
    *,
    person: Person,
    reason_key: str,
    subject: str,
    body: str,
    now: datetime,
    send_at: datetime | None = None,
    address: str | None = None,
) -> bool:
    """Put a message into the outbox as a step of an act, unless the same reason has queued one before.

    It goes at once, and to the address the person has when it is sent, unless others are named. Does not commit: the
    message stands or falls with the act that causes it. Returns whether it was queued.
    """
    values = {
        "person_id": person.id,
        "address": address,
        "reason_key": reason_key,
        "subject": rules.one_line(subject, limit=OutgoingMail.SUBJECT_LENGTH),
        "body": body,
        "created_at": now,
        "send_at": send_at or now,
        "tries": 0,
        "last_error": "",
    }
    insert = postgresql.insert if session.connection().dialect.name == "postgresql" else sqlite.insert
    added = insert(OutgoingMail).values(values).on_conflict_do_nothing(index_elements=["reason_key"])
    return session.execute(added.returning(OutgoingMail.id)).scalar_one_or_none() is not None


@transaction
def claim_next(session: DbSession, *, now: datetime) -> Claimed | None:
    """Claim the message that has been due for longest, or return None when there is none.

    The claim is one conditional UPDATE whose row count decides, so of several senders only one gets a message.
    Messages to people who left are given up on the way.
    """
    while (mail_id := queries.next_due_id(session, now=now)) is not None:
        claim = update(OutgoingMail).where(OutgoingMail.id == mail_id, *queries.IS_WAITING).values(sending_since=now)
        if session.execute(claim.returning(OutgoingMail.id)).scalar_one_or_none() is None:
            continue  # another sender was faster
        mail = queries.mail_or_raise(session, mail_id)
        if mail.person.is_active:
            address = mail.address or mail.person.email
            return Claimed(mail.id, mail.person.name, address, mail.reason_key, mail.subject, mail.body)
        mail.sending_since, mail.given_up_at, mail.last_error = None, now, _LEFT
        session.flush()
    return None


@transaction
def note_sent(session: DbSession, *, mail_id: int, now: datetime) -> None:
    """Note that the mail server has taken a message."""
    values = {"sent_at": now, "sending_since": None, "last_error": ""}
    session.execute(update(OutgoingMail).where(OutgoingMail.id == mail_id).values(**values))


@transaction
def note_refused(session: DbSession, *, mail_id: int, error: str, now: datetime) -> bool:
    """Note that the mail server refused a message; it waits for the next try. Returns whether it is given up."""
    mail = queries.mail_or_raise(session, mail_id)
    mail.tries += 1
    mail.sending_since = None
    mail.last_error = rules.one_line(error, limit=_ERROR_LENGTH)
    later = rules.next_try(tries=mail.tries, now=now)
    if later is None:
        mail.given_up_at = now
    else:
        mail.send_at = later
    return later is None


@transaction
def release(session: DbSession, *, mail_id: int) -> None:
    """Let go of a claimed message that certainly did not leave; it counts as no try."""
    session.execute(update(OutgoingMail).where(OutgoingMail.id == mail_id).values(sending_since=None))


@act
def send_again(act: Act, *, mail_id: int) -> OutgoingMail:
    """Put a message that was given up, or of which nobody knows whether it left, back among those that wait.

    A second tap meets a message that waits, and is refused. Raises NotPermitted, NotFound or MailRefused.
    """
    require(act.actor, Permission.SEE_MAIL)
    mail = queries.mail_or_raise(act.session, mail_id, lock=True)
    state = rules.state_of(
        sending_since=mail.sending_since, sent_at=mail.sent_at, given_up_at=mail.given_up_at, now=act.now
    )
    if state not in (rules.MailState.GIVEN_UP, rules.MailState.NOT_KNOWN):
        raise rules.MailRefused(f"This message is {state} and needs nothing from you.")
    if not mail.person.is_active:
        raise rules.MailRefused(f"{mail.person.name} has left, and is not written to any more.")
    mail.sending_since, mail.given_up_at, mail.tries, mail.last_error, mail.send_at = None, None, 0, "", act.now
    act.tell("mail.sent_again", about=mail, facts={"state": state})
    return mail
