"""What is done in confidence, by the person or by the safety adviser for them. The record names who acts alone."""

from datetime import date

from sqlalchemy import select

from labsys.hazards.personal import PersonalFamily
from labsys.people import queries as people
from labsys.people.acts import Act, act
from labsys.people.models import Person
from labsys.people.permissions import NotPermitted, Permission, may
from labsys.records import queries as records
from labsys.records.errors import NotFound
from labsys.restrictions import rules
from labsys.restrictions.models import Restriction, SkinChecks, Talk
from labsys.timetable.local_time import to_local

_ROWS = (Restriction, Talk, SkinChecks)
_TABLES: dict[str, type[Restriction | Talk | SkinChecks]] = {table.__tablename__: table for table in _ROWS}


@act
def keep_restriction(
    act: Act, *, person_id: int, family: PersonalFamily | None, note: str, ends_on: date | None
) -> Person:
    """Keep what somebody keeps away from. Raises NotPermitted, NotFound or RestrictionRefused."""
    person = _whose(act, person_id=person_id)
    rules.check_ends(ends_on, today=_today(act))
    same = Restriction.family.is_(None) if family is None else Restriction.family == family
    earlier = act.session.execute(select(Restriction).where(Restriction.person_id == person.id, same)).scalars().first()
    row = earlier or Restriction(person_id=person.id, family=family)
    row.note, row.ends_on = note, ends_on
    row.entered_at, row.entered_by_id = act.now, act.actor.id
    act.session.add(row)
    return _told(act, person)


@act
def ask_for_talk(act: Act) -> Person:
    """Ask the safety adviser for a talk. Who waits for one already asks no second time."""
    person = _whose(act, person_id=act.actor.id)
    waiting = select(Talk.id).where(Talk.person_id == person.id, Talk.held_at.is_(None))
    if act.session.execute(waiting).first() is None:
        act.session.add(Talk(person_id=person.id, asked_at=act.now))
    return _told(act, person)


@act
def keep_talk(act: Act, *, person_id: int, agreed: str, ends_on: date | None) -> Person:
    """Note that the talk somebody asked for was held, and what was agreed until when; for the safety adviser.

    One that nobody asked for here is asked for and held at once. Raises NotPermitted, NotFound or RestrictionRefused.
    """
    _require_adviser(act)
    person = _whose(act, person_id=person_id)
    if agreed and ends_on is None:
        raise rules.RestrictionRefused("Say how long that holds. What is agreed ends by a date.", field="ends_on")
    rules.check_ends(ends_on, today=_today(act))
    waiting = select(Talk).where(Talk.person_id == person.id, Talk.held_at.is_(None))
    talk = act.session.execute(waiting).scalars().first() or Talk(person_id=person.id, asked_at=act.now)
    talk.held_at, talk.agreed, talk.ends_on = act.now, agreed, ends_on if agreed else None
    act.session.add(talk)
    return _told(act, person)


@act
def keep_skin_checks(act: Act, *, person_id: int, last_on: date | None) -> Person:
    """Keep somebody under health surveillance, with the day of the last skin check; for the safety adviser."""
    _require_adviser(act)
    person = _whose(act, person_id=person_id)
    if last_on is not None and last_on > _today(act):
        raise rules.RestrictionRefused(
            "That day is still to come. Enter the last check that was made.", field="last_on"
        )
    found = act.session.execute(select(SkinChecks).where(SkinChecks.person_id == person.id)).scalar_one_or_none()
    checks = found or SkinChecks(person_id=person.id)
    checks.last_on = last_on
    act.session.add(checks)
    return _told(act, person)


@act
def forget(act: Act, *, person_id: int, table: str, row_id: int) -> Person:
    """Erase one row of what is kept of somebody: nothing of it is left. Skin checks are for the safety adviser.

    Raises NotPermitted, or NotFound where it is not theirs.
    """
    person = _whose(act, person_id=person_id)
    if table == SkinChecks.__tablename__:
        _require_adviser(act)
    row = act.session.get(_TABLES[table], row_id) if table in _TABLES else None
    if not isinstance(row, _ROWS) or row.person_id != person.id:
        raise NotFound("row", row_id)
    act.session.delete(row)
    return _told(act, person)


def _whose(act: Act, *, person_id: int) -> Person:
    """Whose matter it is: one's own, or with the permission another's; never at a shared tablet."""
    if act.visit is not None or (act.actor.id != person_id and not may(act.actor, Permission.SEE_CONFIDENCES)):
        raise NotPermitted(Permission.SEE_CONFIDENCES)
    return people.person_or_raise(act.session, person_id)


def _require_adviser(act: Act) -> None:
    if not may(act.actor, Permission.SEE_CONFIDENCES):
        raise NotPermitted(Permission.SEE_CONFIDENCES)


def _told(act: Act, person: Person) -> Person:
    """The record keeps that somebody acted, not whom it was about, nor what."""
    act.tell("person.kept_own_matter", about=act.actor)
    return person


def _today(act: Act) -> date:
    return to_local(act.now, zone=records.zone(act.session)).date()
