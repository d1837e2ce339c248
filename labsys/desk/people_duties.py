"""Duties about people in the building: who is alone, does not answer or is overdue, and a rota that is not filled."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from flask import url_for

from labsys.database import DbSession
from labsys.desk.duty import Duty, OfferedAct, Urgency
from labsys.duty import alerts, queries
from labsys.duty.models import Alert, CallIn, DutyKind
from labsys.duty.rota import DAYS_AHEAD, OnDuty, rota
from labsys.people.models import Person
from labsys.people.permissions import Permission, may
from labsys.quantities import counted
from labsys.timetable.local_time import day_words
from labsys.timetable.spans import Span


@dataclass(frozen=True)
class DutyToday:
    """What of it one person is shown."""

    on_duty: OnDuty | None
    call_in: CallIn | None
    alerts: list[Alert]
    unfilled: list[OnDuty]
    is_undecided: bool


def duty_today(session: DbSession, *, person: Person, now: datetime, zone: ZoneInfo) -> DutyToday:
    """Read it: who is on duty to everybody, the rota to who keeps it, alerts to who may answer them."""
    openings = rota(session, within=Span(now, now + timedelta(days=DAYS_AHEAD)), zone=zone)
    keeps = may(person, Permission.KEEP_PLACES)
    return DutyToday(
        on_duty=next((each for each in openings if each.span.start <= now < each.span.end), None),
        call_in=queries.call_in_of(session, person.id),
        alerts=[alert for alert in queries.open_alerts(session) if alerts.may_answer(person, alert)],
        unfilled=[each for each in openings if each.unfilled] if keeps else [],
        is_undecided=keeps and bool(openings) and not queries.has_chosen(session),
    )


def of_people(today: DutyToday) -> Iterator[Duty]:
    for alert in today.alerts:
        href = url_for("duty.alert", alert_id=alert.id)
        act = OfferedAct("See to it", href, alone=f"See to {alert.who}")
        yield Duty(Urgency.YOURS, alert.who, href, f"{alert.said} Nobody has answered yet.", act)
    if today.call_in is not None:
        href = url_for("duty.alone")
        stop = f" Stop this work: {today.call_in.stopped}" if today.call_in.stopped else ""
        act = OfferedAct("Say that you are all right", href, alone="Are you all right?")
        yield Duty(Urgency.YOURS, "Are you all right?", href, f"You are alone in the building.{stop}", act)
    if today.unfilled:
        yield _rota(today.unfilled)
    if today.is_undecided:
        href = url_for("duty.set_rules")
        act = OfferedAct("Decide", href, alone="Decide about working alone")
        why = "Nobody has said what the lab does; until then nobody is alone without a call-in"
        yield Duty(Urgency.LATER, "Working alone", url_for("duty.index"), why, act, needed=Permission.KEEP_PLACES)


def _rota(unfilled: list[OnDuty]) -> Duty:
    first = unfilled[0]
    lacking = " or ".join(str(kind) for kind in DutyKind if kind in first.unfilled)
    more = f", and {counted(len(unfilled) - 1, 'opening')} after it in {DAYS_AHEAD} days" if len(unfilled) > 1 else ""
    why = f"No {lacking} on {day_words(first.day)}{more}"
    opening: dict[str, Any] = {"day": first.day.isoformat(), "from": first.from_minute}
    href = url_for("duty.turns", **opening)
    act = OfferedAct("Fill it", href, alone="Fill the rota")
    return Duty(Urgency.LATER, "The rota", url_for("duty.index"), why, act, needed=Permission.KEEP_PLACES)
