"""Duties about people in the building: who is alone, does not answer or is overdue, and a rota that is not filled."""

from collections.abc import Iterator
from datetime import datetime
from typing import Any

from flask import url_for

from labsys.desk.duty import Duty, OfferedAct, Urgency
from labsys.desk.matters import Matter, Topic
from labsys.desk.queries import LabToday
from labsys.duty.models import DutyKind
from labsys.duty.queries import ALERT
from labsys.duty.rota import DAYS_AHEAD, OnDuty
from labsys.offline.entries import counted as counted_entries
from labsys.people.models import Person
from labsys.people.permissions import Permission
from labsys.quantities import counted
from labsys.timetable.local_time import day_words

OF_PEOPLE = frozenset(
    {Topic.ALERT, Topic.CALL_IN, Topic.ALONE_NOT_DECIDED, Topic.TO_CONFIRM, Topic.NOTE, Topic.LEFT_FILM}
)


def of_people(lab: LabToday, *, person: Person, now: datetime) -> Iterator[Duty]:
    """What is due: an alert to who notes arrivals, being asked to who is alone, the rota to who keeps it."""
    yield from (_alert(matter) for matter in lab.matters if matter.topic is Topic.ALERT)
    if (call_in := lab.call_in_of(person)) is not None:
        yield _asked(call_in)
    yield from (_to_confirm(matter) for matter in lab.of_person(Topic.TO_CONFIRM, person))
    if unfilled := [opening for opening in lab.openings if opening.span.end > now and opening.unfilled]:
        yield _rota(unfilled)
    if lab.openings and any(matter.topic is Topic.ALONE_NOT_DECIDED for matter in lab.matters):
        yield _not_decided()


def _alert(matter: Matter) -> Duty:
    href = ALERT.address(matter.row_id)
    act = OfferedAct("See to it", href, alone=f"See to {matter.code}")
    why = f"{matter.name} Nobody has answered yet"
    return Duty(Urgency.NOW, matter.code, href, why, act, needed=Permission.BOOK_FOR_OTHERS)


def _asked(call_in: Matter) -> Duty:
    href = url_for("duty.alone")
    stop = f" Stop this work: {call_in.name}" if call_in.name else ""
    act = OfferedAct("Say that you are all right", href, alone="Are you all right?")
    return Duty(Urgency.YOURS, "Are you all right?", href, f"You are alone in the building.{stop}", act)


def _to_confirm(waiting: Matter) -> Duty:
    href = url_for("offline.index")
    why = f"{counted_entries(waiting.row_id)} made at a tablet in your name without a network"
    act = OfferedAct("Say whether it was you", href, alone="Entered in your name: was it you?")
    return Duty(Urgency.YOURS, "Not confirmed yet", href, why, act)


def _rota(unfilled: list[OnDuty]) -> Duty:
    first = unfilled[0]
    lacking = " or ".join(str(kind) for kind in DutyKind if kind in first.unfilled)
    more = f", and {counted(len(unfilled) - 1, 'opening')} after it in {DAYS_AHEAD} days" if len(unfilled) > 1 else ""
    why = f"No {lacking} on {day_words(first.day)}{more}"
    opening: dict[str, Any] = {"day": first.day.isoformat(), "from": first.from_minute}
    act = OfferedAct("Fill it", url_for("duty.turns", **opening), alone="Fill the rota")
    return Duty(Urgency.LATER, "The rota", url_for("duty.index"), why, act, needed=Permission.KEEP_PLACES)


def _not_decided() -> Duty:
    act = OfferedAct("Decide", url_for("duty.set_rules"), alone="Decide about working alone")
    why = "Nobody has said what the lab does; until then nobody is alone without a call-in"
    return Duty(Urgency.LATER, "Working alone", url_for("duty.index"), why, act, needed=Permission.KEEP_PLACES)
