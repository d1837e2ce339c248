"""What people do with competences: grant one, say that they saw it, revoke it."""

from datetime import date

from sqlalchemy import func, select

from labsys.competences import gate, queries, rules
from labsys.competences.models import Competence, CompetenceGrant
from labsys.mail import service as mail
from labsys.mail.kinds import COMPETENCE, Message
from labsys.people import queries as people
from labsys.people.acts import Act, act
from labsys.people.models import Person
from labsys.people.permissions import NotPermitted, Permission, may
from labsys.records import queries as records
from labsys.records.errors import NotFound
from labsys.timetable.local_time import day_words, to_local


@act
def grant(
    act: Act,
    *,
    person_id: int,
    competence: Competence,
    may_grant: bool,
    happened_on: date,
    until: date,
    witness_id: int | None,
    because: str = "",
) -> CompetenceGrant:
    """Grant a competence to somebody who showed it. It counts once the witness says that they saw it.

    Whoever grants holds it themself with the right to grant it, or names the first here. Without a witness `because`
    says why. Raises NotFound or CompetenceRefused.
    """
    person = _here_or_refuse(act, person_id, field="person")
    zone = records.zone(act.session)
    today = to_local(act.now, zone=zone).date()
    is_first = _check_granter(act, competence)
    if person_id == act.actor.id and not is_first:
        raise rules.CompetenceRefused("Nobody grants to themself. Somebody else who holds it has to grant it to you.")
    rules.check_days(happened_on=happened_on, until=until, today=today)
    rules.check_witness(
        person_id=person_id,
        granter_id=act.actor.id,
        witness_id=witness_id,
        is_first=is_first,
        others_here=_others_here(act, person_id),
        because=because,
    )
    witness = None if witness_id is None else _here_or_refuse(act, witness_id, field="witness")
    if witness is not None and witness.password_hash is None:
        raise rules.CompetenceRefused(
            f"{witness.name} has not come in yet and cannot say that they saw it. Choose somebody else.",
            field="witness",
        )
    made = CompetenceGrant(
        competence=competence,
        person=person,
        granted_by=act.actor,
        may_grant=may_grant,
        happened_on=happened_on,
        until=until,
        granted_at=act.now,
        witness=witness,
        unwitnessed_because=because if witness is None else "",
    )
    act.session.add(made)
    act.session.flush()
    if witness is not None:
        _ask_witness(act, made, witness)
    facts = {
        "competence": competence,
        "person": person_id,
        "happened_on": happened_on.isoformat(),
        "until": until.isoformat(),
        "may_grant": may_grant,
        "witness": witness_id,
        "unwitnessed_because": made.unwitnessed_because,
        "names_first": is_first,
    }
    act.tell("competence.granted", about=made, facts=facts)
    return made


@act
def witness(act: Act, *, grant_id: int) -> CompetenceGrant:
    """Say, as the witness named, that one saw it. Somebody else's is NotFound. Raises CompetenceRefused."""
    granted = queries.grant_or_raise(act.session, grant_id, lock=True)
    if granted.witness_id != act.actor.id:
        raise NotFound("grant", grant_id)
    if granted.revoked_at is not None:
        raise rules.CompetenceRefused("It was revoked meanwhile. There is nothing left to do.")
    if granted.witnessed_at is not None:
        raise rules.CompetenceRefused("You said so already. There is nothing left to do.")
    granted.witnessed_at = act.now
    act.tell("competence.witnessed", about=granted, facts={"person": granted.person_id})
    return granted


def may_revoke(person: Person, granted: CompetenceGrant) -> bool:
    """Whether somebody may revoke a grant: whoever granted it, and those who may revoke any."""
    return person.is_active and (granted.granted_by_id == person.id or may(person, Permission.REVOKE_COMPETENCE))


@act
def revoke(act: Act, *, grant_id: int, because: str) -> CompetenceGrant:
    """End a grant at once, saying why; it stays to be seen. Raises NotPermitted, NotFound or CompetenceRefused."""
    granted = queries.grant_or_raise(act.session, grant_id, lock=True)
    if not may_revoke(act.actor, granted):
        raise NotPermitted(Permission.REVOKE_COMPETENCE)
    if not because:
        raise rules.CompetenceRefused("Say why it no longer counts.", field="because")
    if granted.revoked_at is not None:
        raise rules.CompetenceRefused("It was revoked already. There is nothing left to do.")
    granted.revoked_at, granted.revoked_by, granted.revoked_because = act.now, act.actor, because
    body = (
        f"{act.actor.name} revoked a competence of yours: {granted.competence}. {because}\n\n"
        f"It is needed {rules.WHAT_FOR[granted.competence]}.\n"
    )
    subject = f"No longer granted to you: {granted.competence}"
    message = Message(COMPETENCE, f"competence revoked: {granted.id}", subject, body, "/competences")
    mail.queue(act.session, message, to=granted.person, by=act.actor, now=act.now)
    act.tell("competence.revoked", about=granted, facts={"person": granted.person_id, "because": because})
    return granted


def _check_granter(act: Act, competence: Competence) -> bool:
    """Say whether the actor names the first; raise CompetenceRefused where they may not grant it."""
    standings = queries.held_today(act.session, now=act.now)
    own = standings.get((act.actor.id, competence), gate.NEVER)
    others = gate.granters(standings, competence, but=act.actor.id)
    names = act.session.execute(select(Person.name).where(Person.id.in_(others))).scalars().all()
    return rules.check_granter(
        competence,
        own=own,
        state=rules.in_words(own, zone=records.zone(act.session)),
        others=names,
        may_name_first=may(act.actor, Permission.NAME_FIRST_COMPETENT),
    )


def _here_or_refuse(act: Act, person_id: int, *, field: str) -> Person:
    person = people.person_or_raise(act.session, person_id)
    if not person.is_active:
        raise rules.CompetenceRefused(f"{person.name} has left. Choose somebody who is here.", field=field)
    return person


def _others_here(act: Act, person_id: int) -> int:
    """How many people of the lab could be a third person: they came in, and have not left."""
    others = (
        select(func.count())
        .select_from(Person)
        .where(Person.id.not_in({person_id, act.actor.id}), Person.left_at.is_(None), Person.password_hash.is_not(None))
    )
    return act.session.execute(others).scalar_one()


def _ask_witness(act: Act, made: CompetenceGrant, witness: Person) -> None:
    body = (
        f"{act.actor.name} names you as witness that {made.person.name} showed on {day_words(made.happened_on)} "
        f"what this asks for: {made.competence}.\n\n"
        "It counts once you say that you saw it.\n\n"
        "If you did not see it, leave it, and tell the lab's manager.\n"
    )
    subject = f"Did you see it? {made.person.name}: {made.competence}"
    message = Message(COMPETENCE, f"competence to witness: {made.id}", subject, body, "/competences")
    mail.queue(act.session, message, to=witness, by=act.actor, now=act.now)
