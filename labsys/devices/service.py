"""What is done with shared tablets: enrol and revoke them, issue and revoke cards, choose a PIN, say who one is."""

import secrets
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from sqlalchemy import delete, select

from labsys.database import DbSession
from labsys.devices import queries, rules
from labsys.devices.models import Card, EnrolledDevice, Pin, WrongTry
from labsys.people import passwords
from labsys.people.models import Person
from labsys.people.permissions import Permission, require
from labsys.people.queries import person_or_raise
from labsys.records import rules as codes
from labsys.records import service as records
from labsys.records.acts import act
from labsys.records.models import Code, CodeKind, Lab

_CARD_NUMBERS = range(100_000_000, 1_000_000_000)


@dataclass(frozen=True)
class Enrolment:
    """A tablet, and the token its browser keeps; the token is kept nowhere else."""

    device: EnrolledDevice
    token: str


@act
def enrol_device(session: DbSession, *, actor: Person, name: str, now: datetime) -> Enrolment:
    """Enrol the browser in hand as a shared tablet. Raises NotPermitted."""
    require(actor, Permission.KEEP_DEVICES)
    token = secrets.token_urlsafe(32)
    device = EnrolledDevice(name=name, token_digest=rules.token_digest(token), enrolled_at=now, enrolled_by_id=actor.id)
    session.add(device)
    session.flush()
    records.append(session, act="tablet.enrolled", about=device, at=now, actor=actor, facts={"name": name})
    return Enrolment(device, token)


@act
def revoke_device(session: DbSession, *, actor: Person, device_id: int, now: datetime) -> EnrolledDevice:
    """Revoke a tablet at once: nobody is known there any more. Raises NotPermitted or NotFound."""
    require(actor, Permission.KEEP_DEVICES)
    device = queries.device_or_raise(session, device_id, lock=True)
    if device.revoked_at is None:
        device.revoked_at = now
        records.append(session, act="tablet.revoked", about=device, at=now, actor=actor)
    return device


@act
def issue_card(
    session: DbSession, *, actor: Person, person_id: int, now: datetime, submission_key: str | None = None
) -> Card:
    """Issue a card that holds good until it is revoked. Raises NotPermitted, NotFound or DeviceRefused."""
    return _issue(session, actor=actor, person_id=person_id, valid_until=None, now=now)


@act
def give_code_for_tonight(
    session: DbSession,
    *,
    actor: Person,
    person_id: int,
    zone: ZoneInfo,
    now: datetime,
    submission_key: str | None = None,
) -> Card:
    """Give a code in place of a forgotten or lost card, good until the night ends.

    Raises NotPermitted, NotFound or DeviceRefused.
    """
    until = rules.night_ends(now=now, zone=zone)
    return _issue(session, actor=actor, person_id=person_id, valid_until=until, now=now)


@act
def revoke_card(session: DbSession, *, actor: Person, card_id: int, now: datetime) -> Card:
    """Revoke a card at once. Raises NotPermitted or NotFound."""
    require(actor, Permission.KEEP_DEVICES)
    card = queries.card_or_raise(session, card_id, lock=True)
    if card.revoked_at is None:
        card.revoked_at = now
        facts = {"person": card.person_id}
        records.append(session, act="card.revoked", about=card, at=now, actor=actor, facts=facts)
    return card


def choose_pin(session: DbSession, *, actor: Person, pin: str, cost: passwords.Cost, now: datetime) -> Pin:
    """Choose one's own PIN for tablets, in place of any before. Raises DeviceRefused."""
    rules.check_pin(pin)
    pin_hash = passwords.hash_password(pin, cost=cost)  # slow on purpose, so before the transaction
    return _keep_pin(session, actor=actor, pin_hash=pin_hash, now=now)


@act
def _keep_pin(session: DbSession, *, actor: Person, pin_hash: str, now: datetime) -> Pin:
    person = session.get_one(Person, actor.id, with_for_update=True)  # two first PINs at once queue up here
    pin = session.get(Pin, person.id, populate_existing=True)
    if pin is None:
        pin = Pin(person_id=person.id)
        session.add(pin)
    pin.pin_hash, pin.chosen_at = pin_hash, now
    records.append(session, act="person.chose_pin", about=person, at=now, actor=person)
    return pin


def know_by_card(session: DbSession, *, device: EnrolledDevice, code: str, prefix: str, now: datetime) -> Card:
    """Say whose card this is. Raises CodeRefused for a slip of the finger, NotKnown or TooManyAttempts.

    The try is counted before the card is looked for, so that fifty at once are counted as fifty.
    """
    read = codes.read_code(code, prefix=prefix)
    try_id = _count_try(session, device_id=device.id, person_id=None, now=now)
    card = queries.valid_card(session, code=read.code, now=now)
    if card is None:
        raise rules.NotKnown
    _forget_try(session, try_id=try_id)
    return card


def know_by_pin(
    session: DbSession, *, device: EnrolledDevice, person_id: int, pin: str, cost: passwords.Cost, now: datetime
) -> Person:
    """Say that somebody is who they chose to be. Raises NotKnown or TooManyAttempts; counted as for a card."""
    person = session.get(Person, person_id)
    try_id = _count_try(session, device_id=device.id, person_id=person.id if person else None, now=now)
    kept = queries.pin_of(session, person_id=person_id)
    fits = passwords.password_fits(pin, kept.pin_hash if kept else None, cost=cost)
    if person is None or not fits or not person.is_active:
        raise rules.NotKnown
    _forget_try(session, try_id=try_id)
    return person


@act
def _count_try(session: DbSession, *, device_id: int, person_id: int | None, now: datetime) -> int:
    """Count a try as wrong until it proves right. The locks make tries queue up on PostgreSQL, in one order."""
    queries.device_or_raise(session, device_id, lock=True)
    if person_id is not None:
        session.execute(select(Person.id).where(Person.id == person_id).with_for_update())
    tries = queries.tries_since(session, device_id=device_id, person_id=person_id, since=now - rules.TRY_WINDOW)
    rules.check_tries(of_device=tries.of_device, of_person=tries.of_person, now=now)
    attempt = WrongTry(device_id=device_id, person_id=person_id, at=now)
    session.add(attempt)
    session.flush()
    return attempt.id


@act
def _forget_try(session: DbSession, *, try_id: int) -> None:
    session.execute(delete(WrongTry).where(WrongTry.id == try_id))


def _issue(session: DbSession, *, actor: Person, person_id: int, valid_until: datetime | None, now: datetime) -> Card:
    require(actor, Permission.KEEP_DEVICES)
    person = person_or_raise(session, person_id)
    if not person.is_active:
        raise rules.DeviceRefused(f"{person.name} has left. Let them back in first.")
    code = _secret_code(session)
    card = Card(person_id=person.id, code=code, issued_at=now, valid_until=valid_until)
    session.add(card)
    session.flush()
    session.add(Code(code=code, kind=CodeKind.CARD, row_id=card.id))
    facts = {"person": person.id, "until": valid_until.isoformat() if valid_until else None}
    records.append(session, act="card.issued", about=card, at=now, actor=actor, facts=facts)
    return card


def _secret_code(session: DbSession) -> str:
    """A code that nobody can work out from another card: codes on labels count up, this one is drawn."""
    prefix = session.execute(select(Lab.code_prefix)).scalar_one()
    while True:
        number = secrets.choice(_CARD_NUMBERS)
        code = codes.write_code(prefix=prefix, kind=CodeKind.CARD, number=number)
        if session.get(Code, code) is None:
            return code
