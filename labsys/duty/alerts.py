"""Telling one person after the other until somebody answers: once for each step, whoever looks after it."""

from collections.abc import Sequence
from datetime import datetime, timedelta

from sqlalchemy import or_, select
from sqlalchemy.dialects import postgresql, sqlite

from labsys.database import DbSession
from labsys.duty import queries, rules, words
from labsys.duty.models import Alert, DutyKind, Telling
from labsys.duty.rota import on_duty_at
from labsys.mail import service as mail
from labsys.people.acts import Act, act
from labsys.people.models import Person
from labsys.people.permissions import NotPermitted, Permission, may
from labsys.people.queries import people_who_may
from labsys.records import queries as records


def to_be_told(session: DbSession, *, now: datetime, but_for: int | None) -> list[Person]:
    """Whom an alert goes to, the first of them first: those the lab named, else who is on call or holds the keys now,
    else the managers. Whoever it is about is left out.
    """
    named = [contact.person for contact in queries.contacts(session)]
    everybody = [*named] or holders_of_keys(session, now=now, but_for=but_for)
    return [person for person in everybody if person.is_active and person.id != but_for]


def holders_of_keys(session: DbSession, *, now: datetime, but_for: int | None) -> list[Person]:
    """Who holds the keys now or is on call by the rota; where nobody is named, the managers."""
    opening = on_duty_at(session, now=now, zone=records.zone(session))
    turns = [opening.of(kind) for kind in (DutyKind.KEYHOLDER, DutyKind.ON_CALL)] if opening else []
    people = [turn.person for turn in turns if turn is not None and turn.person is not None]
    people = [person for person in dict.fromkeys(people) if person.id != but_for]
    return people or [each for each in people_who_may(session, Permission.KEEP_LAB) if each.id != but_for]


def raise_alert(act: Act, *, cause: str, about: Person | None, who: str, said: str) -> Alert | None:
    """Step: raise an alert and tell the first; nothing where this cause has raised one already."""
    values = {
        "cause": cause,
        "about_id": about.id if about else None,
        "who": who,
        "said": said[: Alert.SAID_LENGTH],
        "raised_at": act.now,
        "answer": "",
    }
    insert = postgresql.insert if act.session.connection().dialect.name == "postgresql" else sqlite.insert
    added = insert(Alert).values(values).on_conflict_do_nothing(index_elements=["cause"]).returning(Alert.id)
    alert_id = act.session.execute(added).scalar_one_or_none()
    if alert_id is None:
        return None
    alert = queries.alert_or_raise(act.session, alert_id)
    act.tell("alert.raised", about=alert, facts={"person": alert.about_id})
    _tell_next(act, alert)
    return alert


def come_right(act: Act, *, causes: Sequence[str]) -> None:
    """Step: end the open alerts whose cause begins with one of these: whom they were about is all right."""
    begins = or_(*(Alert.cause.startswith(cause, autoescape=True) for cause in causes))
    query = select(Alert).where(begins, Alert.answered_at.is_(None), Alert.ended_at.is_(None)).with_for_update()
    for alert in act.session.execute(query.execution_options(populate_existing=True)).scalars().all():
        alert.ended_at = act.now
        act.tell("alert.ended", about=alert)


@act
def tell_next(act: Act, *, alert_id: int) -> None:
    """Tell the next person of an alert that nobody has answered in time; after the last the first again."""
    alert = queries.alert_or_raise(act.session, alert_id, lock=True)
    within = queries.settings(act.session).answer_within
    if alert.is_open and is_due(alert, now=act.now, within=within):
        _tell_next(act, alert)


@act
def answer_alert(act: Act, *, alert_id: int, answer: str) -> Alert:
    """Say that one sees to it: nobody else is told. Raises NotPermitted, NotFound or DutyRefused."""
    alert = queries.alert_or_raise(act.session, alert_id, lock=True)
    if not may_answer(act.actor, alert):
        raise NotPermitted(Permission.BOOK_FOR_OTHERS)
    if alert.answered_by is not None:
        raise rules.DutyRefused(f"{alert.answered_by.name} sees to it already.")
    alert.answered_at, alert.answered_by_id, alert.answer = act.now, act.actor.id, answer
    act.tell("alert.answered", about=alert)
    return alert


def may_answer(person: Person, alert: Alert) -> bool:
    """Whoever was told, whoever notes arrivals, and whoever oversees the lab."""
    oversees = may(person, Permission.BOOK_FOR_OTHERS) or may(person, Permission.SEE_RECORD)
    return oversees or any(told.person_id == person.id for told in alert.tellings)


def is_due(alert: Alert, *, now: datetime, within: timedelta) -> bool:
    """Whether the next is to be told; at once where nobody has been, as there was nobody to tell."""
    return not alert.tellings or alert.tellings[-1].told_at + within <= now


def _tell_next(act: Act, alert: Alert) -> None:
    people = to_be_told(act.session, now=act.now, but_for=alert.about_id)
    if not people:
        return
    step = len(alert.tellings)
    person = people[step % len(people)]
    alert.tellings.append(Telling(step=step, person=person, told_at=act.now))
    mail.queue(act.session, words.alert(alert, step=step), to=person, by=None, now=act.now)
    act.session.flush()
    act.tell("alert.told", about=alert, facts={"step": step, "person": person.id})
