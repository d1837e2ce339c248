"""What happens to mail: queued inside another act, claimed, sent or refused, and sent again when a manager says so."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import delete, update
from sqlalchemy.dialects import postgresql, sqlite

from labsys.database import DbSession
from labsys.mail import queries, rules
from labsys.mail.kinds import ALL, Message
from labsys.mail.models import OutgoingMail, UnwantedMail
from labsys.people.acts import Act, act
from labsys.people.models import Person
from labsys.people.permissions import Permission, require
from labsys.records.transactions import transaction

_LEFT = "The person has left the lab."
_ERROR_LENGTH = 300
_AT_ONCE = 500  # messages written by one statement


@dataclass(frozen=True)
class Letter:
    """A message to one person, at the address they have when it is sent unless another is named."""

    message: Message
    to: Person
    address: str | None = None


@dataclass(frozen=True)
class Claimed:
    """A message that this sender, and no other, is to send now."""

    id: int
    name: str
    address: str
    reason_key: str
    subject: str
    body: str
    path: str


def queue(session: DbSession, message: Message, *, to: Person, by: Person | None, now: datetime) -> bool:
    """Put one message to one person into the outbox, as `queue_all` does. Returns whether it was queued."""
    return queue_all(session, [Letter(message, to)], by=by, now=now) == 1


def queue_all(session: DbSession, letters: Collection[Letter], *, by: Person | None, now: datetime) -> int:
    """Put messages into the outbox as a step of an act, but for those whose cause has told their person before.

    Nobody is written to about what they did themselves, but at an address that is named, nor of what they do not want.
    Does not commit: messages stand or fall with the act that causes them. Returns how many were queued.
    """
    unwanted = queries.unwanted_by(session, person_ids={letter.to.id for letter in letters})
    rows = [
        {
            "person_id": letter.to.id,
            "address": letter.address,
            "kind": letter.message.kind.name,
            "reason_key": letter.message.reason_key,
            "subject": rules.one_line(letter.message.subject, limit=OutgoingMail.SUBJECT_LENGTH),
            "body": letter.message.body,
            "path": letter.message.path,
            "created_at": now,
            "send_at": now,
            "tries": 0,
            "last_error": "",
        }
        for letter in letters
        if (by is None or by.id != letter.to.id or letter.address is not None)
        and (letter.message.kind.is_always_written or letter.message.kind.name not in unwanted[letter.to.id])
    ]
    insert = postgresql.insert if session.connection().dialect.name == "postgresql" else sqlite.insert
    queued = 0
    for begin in range(0, len(rows), _AT_ONCE):
        added = insert(OutgoingMail).values(rows[begin : begin + _AT_ONCE])
        added = added.on_conflict_do_nothing(index_elements=["reason_key", "person_id"])
        queued += len(session.execute(added.returning(OutgoingMail.id)).all())
    return queued


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
            return Claimed(mail.id, mail.person.name, address, mail.reason_key, mail.subject, mail.body, mail.path)
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
    state = rules.state_of(mail, now=act.now)
    if state not in (rules.MailState.GIVEN_UP, rules.MailState.NOT_KNOWN):
        raise rules.MailRefused(f"This message is {state} and needs nothing from you.")
    if not mail.person.is_active:
        raise rules.MailRefused(f"{mail.person.name} has left, and is not written to any more.")
    mail.sending_since, mail.given_up_at, mail.tries, mail.last_error, mail.send_at = None, None, 0, "", act.now
    act.tell("mail.sent_again", about=mail, facts={"state": state})
    return mail


@act
def put_aside(act: Act, *, mail_id: int) -> OutgoingMail:
    """Leave a message unsent that needs somebody. Raises NotPermitted, NotFound or MailRefused."""
    require(act.actor, Permission.SEE_MAIL)
    mail = queries.mail_or_raise(act.session, mail_id, lock=True)
    state = rules.state_of(mail, now=act.now)
    if state not in (rules.MailState.LATE, rules.MailState.GIVEN_UP, rules.MailState.NOT_KNOWN):
        raise rules.MailRefused(f"This message is {state} and needs nothing from you.")
    mail.put_aside_at = act.now
    act.tell("mail.put_aside", about=mail, facts={"state": state})
    return mail


@act
def put_all_aside(act: Act) -> int:
    """Leave unsent whatever needs somebody, such as what is too old to be of use. Returns how many. NotPermitted."""
    require(act.actor, Permission.SEE_MAIL)
    stuck = update(OutgoingMail).where(*queries.is_stuck(act.now)).values(put_aside_at=act.now)
    aside = sorted(act.session.execute(stuck.returning(OutgoingMail.id)).scalars())
    if aside:
        first = queries.mail_or_raise(act.session, aside[0])
        act.tell("mail.put_aside", about=first, facts={"messages": len(aside), "from": aside[0], "to": aside[-1]})
    return len(aside)


@act
def choose(act: Act, *, wanted: Collection[str]) -> Person:
    """Say which kinds of mail one wants oneself; what is always written is not asked about."""
    unwanted = {kind.name for kind in ALL if not kind.is_always_written} - set(wanted)
    if unwanted != queries.unwanted_by(act.session, person_ids=[act.actor.id])[act.actor.id]:
        act.session.execute(delete(UnwantedMail).where(UnwantedMail.person_id == act.actor.id))
        act.session.add_all(UnwantedMail(person_id=act.actor.id, kind=name) for name in sorted(unwanted))
        act.tell("person.mail_chosen", about=act.actor, facts={"unwanted": sorted(unwanted)})
    return act.actor
