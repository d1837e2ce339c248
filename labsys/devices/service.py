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
from labsys.people.acts import Act, act
from labsys.people.models import Person
from labsys.people.permissions import Permission, require
from labsys.people.queries import person_or_raise
from labsys.people.rules import ATTEMPTS_COUNT_FOR, check_attempts, token_digest
from labsys.records import rules as codes
from labsys.records.models import Code, CodeKind, Lab
from labsys.records.transactions import transaction

_CARD_NUMBERS = range(100_000_000, 1_000_000_000)


@dataclass(frozen=True)
class Enrolment:
    """A tablet, and the token its browser keeps; the token is kept nowhere else."""

    device: EnrolledDevice
    token: str


@act
def enrol_device(act: Act, *, name: str) -> Enrolment:
    """Enrol the browser in hand as a shared tablet. Raises NotPermitted."""
    require(act.actor, Permission.KEEP_DEVICES)
    token = secrets.token_urlsafe(32)
    device = EnrolledDevice(
        name=name, token_digest=token_digest(token), enrolled_at=act.now, enrolled_by_id=act.actor.id
    )
    act.session.add(device)
    act.session.flush()
    act.tell("tablet.enrolled", about=device, facts={"name": name})
    return Enrolment(device, token)


@act
def revoke_device(act: Act, *, device_id: int) -> EnrolledDevice:
    """Revoke a tablet at once: nobody is known there any more. Raises NotPermitted or NotFound."""
    require(act.actor, Permission.KEEP_DEVICES)
    device = queries.device_or_raise(act.session, device_id, lock=True)
    if device.revoked_at is None:
        device.revoked_at = act.now
        act.tell("tablet.revoked", about=device)
    return device


@act
def issue_card(act: Act, *, person_id: int) -> Card:
    """Issue a card that holds good until it is revoked. Raises NotPermitted, NotFound or DeviceRefused."""
    return _issue(act, person_id=person_id, valid_until=None)


@act
def give_code_for_tonight(act: Act, *, person_id: int, zone: ZoneInfo) -> Card:
    """Give a code in place of a forgotten or lost card, good until the night ends.

    Raises NotPermitted, NotFound or DeviceRefused.
    """
    return _issue(act, person_id=person_id, valid_until=rules.night_ends(now=act.now, zone=zone))


@act
def revoke_card(act: Act, *, card_id: int) -> Card:
    """Revoke a card at once. Raises NotPermitted or NotFound."""
    require(act.actor, Permission.KEEP_DEVICES)
    card = queries.card_or_raise(act.session, card_id, lock=True)
    if card.revoked_at is None:
        card.revoked_at = act.now
        act.tell("card.revoked", about=card, facts={"person": card.person_id})
    return card


def choose_pin(act: Act, *, pin: str, cost: passwords.Cost) -> Pin:
    """Choose one's own PIN for tablets, in place of any before. Raises DeviceRefused."""
    rules.check_pin(pin)
    pin_hash = passwords.hash_password(pin, cost=cost)  # slow on purpose, so before the transaction
    return _keep_pin(act, pin_hash=pin_hash)


@act
def _keep_pin(act: Act, *, pin_hash: str) -> Pin:
    person = act.session.get_one(Person, act.actor.id, with_for_update=True)  # two first PINs at once queue up here
    pin = act.session.get(Pin, person.id, populate_existing=True)
    if pin is None:
        pin = Pin(person_id=person.id)
        act.session.add(pin)
    pin.pin_hash, pin.chosen_at = pin_hash, act.now
    act.tell("person.chose_pin", about=person)
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


@transaction
def _count_try(session: DbSession, *, device_id: int, person_id: int | None, now: datetime) -> int:
    """Count a try as wrong until it proves right. The locks make tries queue up on PostgreSQL, in one order."""
    queries.device_or_raise(session, device_id, lock=True)
    if person_id is not None:
        session.execute(select(Person.id).where(Person.id == person_id).with_for_update())
    since = now - ATTEMPTS_COUNT_FOR
    of_person = queries.wrong_tries(session, since=since, person_id=person_id) if person_id is not None else []
    of_device = queries.wrong_tries(session, since=since, device_id=device_id)
    check_attempts((of_person, rules.TRIES_PER_PERSON), (of_device, rules.TRIES_PER_DEVICE), now=now)
    attempt = WrongTry(device_id=device_id, person_id=person_id, at=now)
    session.add(attempt)
    session.flush()
    return attempt.id


@transaction
def _forget_try(session: DbSession, *, try_id: int) -> None:
    session.execute(delete(WrongTry).where(WrongTry.id == try_id))


def _issue(act: Act, *, person_id: int, valid_until: datetime | None) -> Card:
    require(act.actor, Permission.KEEP_DEVICES)
    person = person_or_raise(act.session, person_id)
    if not person.is_active:
        raise rules.DeviceRefused(f"{person.name} has left. Let them back in first.")
    code = _secret_code(act.session)
    card = Card(person_id=person.id, code=code, issued_at=act.now, valid_until=valid_until)
    act.session.add(card)
    act.session.flush()
    act.session.add(Code(code=code, kind=CodeKind.CARD, row_id=card.id))
    facts = {"person": person.id, "until": valid_until.isoformat() if valid_until else None}
    act.tell("card.issued", about=card, facts=facts)
    return card


def _secret_code(session: DbSession) -> str:
    """A code that nobody can work out from another card: codes on labels count up, this one is drawn."""
    prefix = session.execute(select(Lab.code_prefix)).scalar_one()
    while True:
        number = secrets.choice(_CARD_NUMBERS)
        code = codes.write_code(prefix=prefix, kind=CodeKind.CARD, number=number)
        if session.get(Code, code) is None:
            return code
