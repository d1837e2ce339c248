"""From when until when somebody is a member: entered, taken back, asked; it ends by itself, after the last day."""

from collections.abc import Collection
from datetime import date, datetime

from sqlalchemy import select

from labsys.database import DbSession
from labsys.mail.kinds import MEMBERSHIP, Message
from labsys.mail.reminders import reminding
from labsys.mail.service import Letter
from labsys.membership import rules
from labsys.membership.keeping import rules_of, ward
from labsys.membership.models import MembershipTerm
from labsys.people.acts import Act, act
from labsys.people.models import Person, Role
from labsys.records import queries as records
from labsys.records.errors import NotFound
from labsys.timetable.local_time import day_words, to_local


@act
def enter_term(act: Act, *, person_id: int, starts_on: date, ends_on: date | None) -> Person:
    """Enter a membership. Nobody enters their own. Raises NotPermitted, NotFound or MembershipRefused."""
    person = ward(act, person_id)
    rules.check_term(starts_on, ends_on, today=to_local(act.now, zone=records.zone(act.session)).date())
    act.session.add(
        MembershipTerm(
            person_id=person.id, starts_on=starts_on, ends_on=ends_on, recorded_at=act.now, recorded_by_id=act.actor.id
        )
    )
    facts = {"from": starts_on.isoformat(), "until": ends_on.isoformat() if ends_on else None}
    act.tell("person.membership_entered", about=person, facts=facts)
    return person


@act
def take_back_term(act: Act, *, person_id: int, term_id: int) -> Person:
    """Take a membership back: it holds no more. Raises NotPermitted or NotFound."""
    person = ward(act, person_id)
    term = act.session.get(MembershipTerm, term_id)
    if term is None or term.person_id != person.id:
        raise NotFound("membership", term_id)
    if term.withdrawn_at is None:
        term.withdrawn_at, term.withdrawn_by_id = act.now, act.actor.id
        act.tell("person.membership_taken_back", about=person)
    return person


def terms_of(session: DbSession, person_ids: Collection[int]) -> dict[int, list[MembershipTerm]]:
    """Every membership of these people there ever was, the newest first; those taken back too."""
    terms: dict[int, list[MembershipTerm]] = {person_id: [] for person_id in person_ids}
    query = select(MembershipTerm).where(MembershipTerm.person_id.in_(person_ids))
    for term in session.execute(query.order_by(MembershipTerm.id.desc())).scalars():
        terms[term.person_id].append(term)
    return terms


def why_no_member(session: DbSession, person: Person, *, on: date) -> str:
    """Why somebody is no member on a day, to them; empty where they are, or have another role and need not be."""
    if person.roles != {Role.MEMBER}:
        return ""
    terms = [term for term in terms_of(session, [person.id])[person.id] if term.withdrawn_at is None]
    return rules.why_no_member([(term.starts_on, term.ends_on) for term in terms], on=on)


def letters_due(session: DbSession, *, now: datetime) -> list[Letter]:
    """A letter to each member whose membership ends soon and is not followed by another."""
    if not rules_of(session).asks_term:
        return []
    today = to_local(now, zone=records.zone(session)).date()
    soon = select(Person).where(
        Person.left_at.is_(None),
        Person.id.in_(
            select(MembershipTerm.person_id).where(
                MembershipTerm.ends_on >= today,
                MembershipTerm.ends_on <= today + rules.REMIND_BEFORE,
                MembershipTerm.withdrawn_at.is_(None),
            )
        ),
    )
    people = [person for person in session.execute(soon).scalars() if person.roles == {Role.MEMBER}]
    terms = terms_of(session, [person.id for person in people])
    letters = []
    for person in people:
        held = [(term.starts_on, term.ends_on) for term in terms[person.id] if term.withdrawn_at is None]
        ends = rules.ends_on(held, on=today)
        if ends is None or not today <= ends <= today + rules.REMIND_BEFORE:
            continue
        subject = f"Your membership ends on {day_words(ends)}"
        body = f"{subject}. After that day you book nothing and begin nothing here.\n\n{rules.RENEW}\n"
        key = f"membership ends: {person.id} {ends.isoformat()}"
        letters.append(Letter(Message(MEMBERSHIP, key, subject, body, "/account/membership"), person))
    return letters


REMIND_OF_MEMBERSHIPS = reminding("membership reminders", "Remind of memberships that end", letters_due)
