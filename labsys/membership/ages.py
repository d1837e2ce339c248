"""What the lab knows of somebody's age: stated here, and asked here by every act that depends on it."""

from collections.abc import Collection
from datetime import date, datetime, timedelta

from sqlalchemy import Select, select

from labsys.database import DbSession
from labsys.membership import rules
from labsys.membership.models import AgeStatement
from labsys.membership.rules import Age
from labsys.people import queries as people
from labsys.people.acts import Act, act
from labsys.people.models import Person
from labsys.people.permissions import NotPermitted, Permission, require
from labsys.records import queries as records
from labsys.timetable.local_time import to_local


def is_under_18(session: DbSession, person_id: int, *, on: date) -> bool:
    """Whether somebody is treated as under 18 on a day of the lab's calendar.

    Where nothing was stated they are, unless the lab has not said yet whether people under 18 come here.
    """
    return person_id in who_is_under_18(session, [person_id], on=on)


def who_is_under_18(session: DbSession, person_ids: Collection[int], *, on: date) -> set[int]:
    """Those of several people who are treated as under 18 on a day."""
    admits = records.the_lab(session).admits_under_18
    ages = ages_of(session, person_ids, on=on)
    return {person_id for person_id, age in ages.items() if rules.counts_as_under_18(age, admits=admits)}


def ages_of(session: DbSession, person_ids: Collection[int], *, on: date) -> dict[int, Age]:
    """What is known of the age of each of these people on a day."""
    query = select(AgeStatement.person_id, AgeStatement.under_18_until).where(AgeStatement.person_id.in_(person_ids))
    stated = {person_id: _age_on(until, on=on) for person_id, until in session.execute(query)}
    return {person_id: stated.get(person_id, Age.NOT_STATED) for person_id in person_ids}


def is_known_adult(session: DbSession, person_id: int, *, on: date) -> bool:
    """Whether it was stated that somebody is 18 or over on a day: who answers for others has to be."""
    return ages_of(session, [person_id], on=on)[person_id] is Age.ADULT


def stated_under_18(*, at: datetime) -> Select[int]:
    """A query for those who are stated to be under 18 about an instant; a day either way, for any zone."""
    return select(AgeStatement.person_id).where(AgeStatement.under_18_until > at.date() - timedelta(days=1))


def is_of_school_age(session: DbSession, person_id: int, *, on: date) -> bool:
    """Whether somebody under 18 is of school age on a day; where that was not stated, they are."""
    statement = statement_of(session, person_id)
    if statement is None or _age_on(statement.under_18_until, on=on) is Age.ADULT:
        return False
    return statement.school_age_until is None or on < statement.school_age_until


def statement_of(session: DbSession, person_id: int) -> AgeStatement | None:
    return session.execute(select(AgeStatement).where(AgeStatement.person_id == person_id)).scalar_one_or_none()


def age_in_words(session: DbSession, person_id: int, *, on: date) -> str:
    """What is known of somebody's age on a day; for themselves and for who keeps the memberships."""
    statement = statement_of(session, person_id)
    until = statement.under_18_until if statement else None
    return rules.age_in_words(until, age=_age_on(until, on=on) if statement else Age.NOT_STATED)


@act
def state_age(act: Act, *, person_id: int, until: date | None, school_until: date | None = None) -> Person:
    """State that somebody is 18 or over, or under 18 until a day; one's own, or with KEEP_MEMBERSHIP another's.

    Who is stated to be under 18 does not change that themselves. The record keeps that it was stated, not what.
    Raises NotPermitted, NotFound or MembershipRefused.
    """
    person = _whose(act, person_id)
    today = to_local(act.now, zone=records.zone(act.session)).date()
    rules.check_age(until, school_until, today=today)
    earlier = statement_of(act.session, person.id)
    if person.id == act.actor.id and earlier is not None:
        rules.check_own_age(earlier.under_18_until, today=today)
    statement = earlier or AgeStatement(person_id=person.id)
    statement.under_18_until, statement.school_age_until = until, school_until
    statement.stated_at, statement.stated_by_id = act.now, act.actor.id
    act.session.add(statement)
    act.tell("person.age_stated", about=person)
    return person


def _whose(act: Act, person_id: int) -> Person:
    """Whose matter it is: one's own, or with the permission another's; never at a shared tablet."""
    if act.visit is not None:
        raise NotPermitted(Permission.KEEP_MEMBERSHIP)
    if person_id != act.actor.id:
        require(act.actor, Permission.KEEP_MEMBERSHIP)
    return people.person_or_raise(act.session, person_id)


def _age_on(until: date | None, *, on: date) -> Age:
    return Age.UNDER_18 if until is not None and on < until else Age.ADULT
