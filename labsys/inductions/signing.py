"""What people do with sign-offs: appoint the first holders, sign a class off, confirm, withdraw."""

from collections.abc import Collection, Sequence
from datetime import datetime

from labsys.database import DbSession
from labsys.inductions import gate, queries, quizzes, rules, teaching
from labsys.inductions.models import ConfirmedBy, Induction, SignOff, Withdrawal
from labsys.mail import service as mail
from labsys.mail.kinds import SIGN_OFF, Message
from labsys.people.acts import Act, act
from labsys.people.models import Person
from labsys.people.permissions import NotPermitted, Permission, may, require
from labsys.records import queries as recorded
from labsys.records.errors import NotFound


@act
def appoint_holder(act: Act, *, induction_id: int, person_id: int, taught_at: datetime) -> SignOff:
    """Name somebody who knows an induction that nobody here could teach them. It counts once they confirm it.

    Raises NotPermitted, NotFound or InductionRefused.
    """
    require(act.actor, Permission.KEEP_INDUCTIONS)
    induction = queries.induction_or_raise(act.session, induction_id, lock=True)
    (person,) = queries.people_by_id(act.session, [person_id], lock=True)
    teaching.check_here(name=person.name, left_at=person.left_at, field="person")
    teaching.check_taught_at(taught_at=taught_at, now=act.now)
    if not may(person, Permission.SIGN_OFF):
        raise rules.InductionRefused(
            f"{person.name} may not sign others off. Appoint an instructor, a technician or a safety adviser.",
            field="person",
        )
    teachers = queries.teachers(act.session, induction_ids=[induction.id], at=act.now)[induction.id]
    if teachers := [teacher for teacher in teachers if teacher.id != person.id]:
        raise rules.InductionRefused(
            f"{teachers[0].name} holds it and can teach it: have them sign {person.name} off.", field="person"
        )
    signed = _sign(act, person=person, induction=induction, taught_at=taught_at, is_appointment=True)
    _ask_to_confirm(act.session, [signed], now=act.now)
    facts = {"induction": induction.id, "person": person.id, "taught_at": taught_at.isoformat()}
    act.tell("induction.holder_appointed", about=signed, facts=facts)
    return signed


@act
def sign_off_many(
    act: Act,
    *,
    person_ids: Collection[int],
    induction_ids: Collection[int],
    taught_at: datetime,
    saw_practice: bool = False,
    is_refresher: bool = False,
) -> SignOff:
    """Say that a class was taught: each of these people each of these inductions. It counts once they confirm it.

    `saw_practice` says that the signer saw each of them do what is to be shown; `is_refresher` that the shorter text
    was taught. All of it or nothing. Returns the first of the sign-offs, which the entry on the record is about.
    Raises NotPermitted, NotFound or InductionRefused.
    """
    made = sign_off_class(
        act,
        person_ids=person_ids,
        induction_ids=induction_ids,
        taught_at=taught_at,
        saw_practice=saw_practice,
        is_refresher=is_refresher,
    )
    return made[0]


def sign_off_class(
    act: Act,
    *,
    person_ids: Collection[int],
    induction_ids: Collection[int],
    taught_at: datetime,
    saw_practice: bool,
    is_refresher: bool = False,
) -> list[SignOff]:
    """Step: sign a class off, ask each to confirm, and tell the record. Raises as `sign_off_many` does."""
    require(act.actor, Permission.SIGN_OFF)
    if not person_ids:
        raise rules.InductionRefused("Tick at least one person.", field="people")
    if not induction_ids:
        raise rules.InductionRefused("Tick what was taught.", field="inductions")
    teaching.check_taught_at(taught_at=taught_at, now=act.now)
    if act.actor.id in person_ids:
        raise rules.InductionRefused(
            "Nobody signs themselves off. Somebody else who holds it has to sign for you.", field="people"
        )
    people = queries.people_by_id(act.session, sorted(set(person_ids)), lock=True)
    for person in people:
        teaching.check_here(name=person.name, left_at=person.left_at)
    made: list[SignOff] = []
    for induction_id in sorted(set(induction_ids)):
        induction = queries.induction_or_raise(act.session, induction_id)
        _check_signer(act, induction=induction, taught_at=taught_at)
        _check_not_twice(act.session, people, induction=induction, taught_at=taught_at)
        if is_refresher:
            _check_refresher(act.session, people, induction=induction, taught_at=taught_at)
        new = [
            _sign(act, person=person, induction=induction, taught_at=taught_at, is_refresher=is_refresher)
            for person in people
        ]
        for signed in new if saw_practice else ():
            _see_practice(act, signed)
        made += new
    for person in people:
        _ask_to_confirm(act.session, [signed for signed in made if signed.person_id == person.id], now=act.now)
    facts = {
        "inductions": sorted(set(induction_ids)),
        "people": [person.id for person in people],
        "sign_offs": [signed.id for signed in made],
        "taught_at": taught_at.isoformat(),
        "practice_seen": [signed.id for signed in made if signed.practice_seen_at],
        "is_refresher": is_refresher,
    }
    act.tell("induction.signed_off", about=made[0], facts=facts)
    return made


@act
def confirm(act: Act, *, sign_off_id: int) -> SignOff:
    """Confirm, as the person taught, that it is true. Somebody else's is NotFound. Raises InductionRefused."""
    signed = queries.sign_off_or_raise(act.session, sign_off_id, lock=True)
    if signed.person_id != act.actor.id:
        raise NotFound("sign-off", sign_off_id)
    _check_waits(act.session, signed, now=act.now)
    signed.confirmed_at, signed.confirmed_by = act.now, ConfirmedBy.OWN_ACCOUNT
    act.tell("induction.confirmed", about=signed, facts={"by": "own account"})
    return signed


@act
def confirm_by_sheet(act: Act, *, sign_off_ids: Collection[int], sheet: str) -> SignOff:
    """Note that people confirmed by signing a sheet of paper, and where it is kept. Returns the first of them.

    Raises NotPermitted, NotFound or InductionRefused; then nothing was confirmed.
    """
    require(act.actor, Permission.SIGN_OFF)
    if not sign_off_ids:
        raise rules.InductionRefused("Tick who signed the sheet.", field="sign_offs")
    if not sheet.strip():
        raise rules.InductionRefused("Say where the signed sheet is kept.", field="sheet")
    sign_offs = queries.sign_offs_by_id(act.session, sorted(set(sign_off_ids)), lock=True)
    for signed in sign_offs:
        _check_waits(act.session, signed, now=act.now)
        signed.confirmed_at, signed.confirmed_by, signed.sheet = act.now, ConfirmedBy.SIGNATURE_SHEET, sheet.strip()
    facts = {"by": "signature sheet", "sheet": sheet.strip(), "sign_offs": [signed.id for signed in sign_offs]}
    act.tell("induction.confirmed", about=sign_offs[0], facts=facts)
    return sign_offs[0]


@act
def see_practice(act: Act, *, sign_off_ids: Collection[int]) -> SignOff:
    """Say that one saw these people do what is to be shown; only who holds an induction can tell.

    Raises NotPermitted, NotFound or InductionRefused; then nothing was noted.
    """
    require(act.actor, Permission.SIGN_OFF)
    if not sign_off_ids:
        raise rules.InductionRefused("Tick whom you saw do it.", field="sign_offs")
    sign_offs = queries.sign_offs_by_id(act.session, sorted(set(sign_off_ids)), lock=True)
    for signed in sign_offs:
        if signed.person_id == act.actor.id:
            raise rules.InductionRefused("Nobody is a witness of their own practice.", field="sign_offs")
        induction = queries.induction_or_raise(act.session, signed.version.induction_id)
        _check_signer(act, induction=induction, taught_at=act.now)
        if not quizzes.practice_is_due(signed):
            raise rules.InductionRefused(
                f"{signed.person.name} has nothing to show of {induction.name}.", field="sign_offs"
            )
        _see_practice(act, signed)
    facts = {"sign_offs": [signed.id for signed in sign_offs]}
    act.tell("induction.practice_seen", about=sign_offs[0], facts=facts)
    return sign_offs[0]


def may_withdraw(person: Person, signed: SignOff) -> bool:
    """Whether somebody may withdraw a sign-off: who keeps the inductions, or who signed it."""
    own = signed.signed_by_id == person.id and may(person, Permission.SIGN_OFF)
    return own or may(person, Permission.KEEP_INDUCTIONS)


@act
def withdraw(act: Act, *, sign_off_id: int, reason: str) -> Withdrawal:
    """Withdraw a sign-off, saying why; it stays to be seen. Raises NotPermitted, NotFound or InductionRefused."""
    signed = queries.sign_off_or_raise(act.session, sign_off_id, lock=True)
    if not may_withdraw(act.actor, signed):
        raise NotPermitted(Permission.KEEP_INDUCTIONS)
    if not reason.strip():
        raise rules.InductionRefused("Say why it no longer counts.", field="reason")
    if signed.withdrawal is not None:
        raise rules.InductionRefused("It was withdrawn already. There is nothing left to do.")
    withdrawal = Withdrawal(
        sign_off_id=signed.id, reason=reason.strip(), withdrawn_at=act.now, withdrawn_by_id=act.actor.id
    )
    act.session.add(withdrawal)
    facts = {"sign_off": signed.id, "person": signed.person_id, "reason": withdrawal.reason}
    act.tell("induction.withdrawn", about=withdrawal, facts=facts)
    return withdrawal


def _check_signer(act: Act, *, induction: Induction, taught_at: datetime) -> None:
    own = gate.sign_offs(act.session, person_ids=[act.actor.id], induction_ids=[induction.id])
    standing = rules.held(own, editions=rules.editions_of(induction), at=act.now)
    state = rules.state_in_words(standing, at=act.now, zone=recorded.zone(act.session))
    teaching.check_signer(own, standing=standing, state=state, name=induction.name, taught_at=taught_at)


def _check_not_twice(
    session: DbSession, people: Collection[Person], *, induction: Induction, taught_at: datetime
) -> None:
    edition = teaching.edition_taught(rules.editions_of(induction), taught_at=taught_at)
    names = {person.id: person.name for person in people}
    for earlier in gate.sign_offs(session, person_ids=names, induction_ids=[induction.id]):
        who = names[earlier.person_id]
        teaching.check_not_twice([earlier], edition=edition, taught_at=taught_at, who=who, what=induction.name)


def _check_refresher(
    session: DbSession, people: Collection[Person], *, induction: Induction, taught_at: datetime
) -> None:
    edition = teaching.edition_taught(rules.editions_of(induction), taught_at=taught_at)
    version = induction.versions[edition.number - 1]
    ids = [person.id for person in people]
    held = rules.standings(
        ids,
        induction_ids=[induction.id],
        editions=rules.editions_of(induction),
        sign_offs=gate.sign_offs(session, person_ids=ids, induction_ids=[induction.id]),
        at=taught_at,
    )
    for person in people:
        teaching.check_refresher(
            held[person.id, induction.id],
            refresher_days=version.refresher_days,
            taught_at=taught_at,
            who=person.name,
            what=induction.name,
        )


def _see_practice(act: Act, signed: SignOff) -> None:
    """Step: note who saw the practice, where the version asks for it."""
    if quizzes.practice_is_due(signed):
        signed.practice_seen_at, signed.practice_seen_by_id = act.now, act.actor.id


def _sign(
    act: Act,
    *,
    person: Person,
    induction: Induction,
    taught_at: datetime,
    is_appointment: bool = False,
    is_refresher: bool = False,
) -> SignOff:
    edition = teaching.edition_taught(rules.editions_of(induction), taught_at=taught_at)
    version = next(version for version in induction.versions if version.number == edition.number)
    signed = SignOff(
        version=version,
        person=person,
        signed_by=act.actor,
        is_appointment=is_appointment,
        is_refresher=is_refresher,
        taught_at=taught_at,
        recorded_at=act.now,
        lapses_at=teaching.lapse_of(taught_at=taught_at, valid_days=version.valid_days),
    )
    act.session.add(signed)
    act.session.flush()
    return signed


def _check_waits(session: DbSession, signed: SignOff, *, now: datetime) -> None:
    """Raise InductionRefused unless this very sign-off waits for nothing else, whatever else the person holds."""
    induction = queries.induction_or_raise(session, signed.version.induction_id)
    held = rules.held([rules.signed_of(signed)], editions=rules.editions_of(induction), at=now)
    teaching.check_may_confirm(held, state=rules.state_in_words(held, at=now, zone=recorded.zone(session)))
    quizzes.check_complete(session, signed, induction=induction)


def _ask_to_confirm(session: DbSession, made: Sequence[SignOff], *, now: datetime) -> None:
    """Write to one person about everything they were just signed off for."""
    first = made[0]
    names = ", ".join(queries.induction_or_raise(session, signed.version.induction_id).name for signed in made)
    body = (
        f"{first.signed_by.name} signed you off for: {names}.\n\n"
        "It counts once you confirm it. Read the points, and confirm what you were taught.\n\n"
        "If you were not taught it, do not confirm it, and tell the lab's manager.\n"
    )
    subject = f"Your sign-off waits for you: {names}"
    message = Message(SIGN_OFF, f"sign-off to confirm: {first.id}", subject, body, "/inductions")
    mail.queue(session, message, to=first.person, by=first.signed_by, now=now)
