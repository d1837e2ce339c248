"""What other rooms ask before somebody may book, change or begin: each condition is one line here, asked by all acts.

Book, class, change, arrive, a course's term and an offer from the waiting list come here and nowhere else. A condition
of a room above stands in `_CONDITIONS`; one of a room below, which this room cannot import, is handed in at the start
by `register_condition`.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from enum import Enum, auto
from typing import Protocol

from flask import Flask, current_app, has_app_context

from labsys.bookings import supervision
from labsys.bookings.models import Booking
from labsys.bookings.rules import BookingRefused, Plan, closed_in_words
from labsys.database import DbSession
from labsys.equipment import queries as equipment
from labsys.hazards.protective import Equipment
from labsys.inductions import gate
from labsys.inductions.rules import Missing, Subject
from labsys.membership import gate as membership
from labsys.people.acts import Act
from labsys.people.models import Person
from labsys.places import queries as places
from labsys.places.calendar import Closed
from labsys.places.models import Station
from labsys.processes import queries as processes
from labsys.processes.models import Process
from labsys.records import queries as records
from labsys.restrictions.gate import require_open
from labsys.risk.protection import assessed_process
from labsys.risk.queries import process_assessed
from labsys.timetable.local_time import to_local
from labsys.timetable.spans import Span

_HANDED_IN = "labsys-conditions-of-bookings"


class Occasion(Enum):
    """What somebody is about to do."""

    BOOK = auto()  # also to be offered a place, and to take the offer
    WAIT = auto()  # for a place: who else will be there is not known yet
    CHANGE = auto()
    MOVE = auto()  # many at once, whose inductions and equipment are asked in one question each
    BEGIN = auto()


@dataclass(frozen=True)
class Asked:
    """What is to be booked, changed or begun, as its conditions see it."""

    occasion: Occasion
    person: Person  # whose time it is; the instructor of a class
    stations: Sequence[Station]  # the place, and what comes with it
    process: Process | None
    spans: Sequence[Span]  # one, or all those of a term
    units: int = 1
    class_name: str = ""
    booking: Booking | None = None  # as it stands before the change, or at the beginning
    plan: Plan | None = None  # what is asked for; none at the beginning, when the booking says
    also: Sequence[Process] = ()  # of a class, besides its process
    fan_runs: bool = False  # somebody says so, at the beginning

    @property
    def start(self) -> datetime:
        return min(span.start for span in self.spans)

    @property
    def end(self) -> datetime:
        return max(span.end for span in self.spans)


class Condition(Protocol):
    """Raises a Refused, in words for whoever acts, where a condition is not met."""

    def __call__(self, act: Act, asked: Asked) -> None: ...


def require_all(act: Act, asked: Asked) -> None:
    """Step: raise what the first condition that is not met raises: NotCleared, NotOpen or another Refused.

    A class that does several processes is asked about each.
    """
    for process in (asked.process, *asked.also):
        for condition in (*_CONDITIONS, *_handed_in()):
            condition(act, replace(asked, process=process))


def register_condition(app: Flask, condition: Condition) -> None:
    """Let the application know a condition of a room below this one."""
    app.extensions.setdefault(_HANDED_IN, []).append(condition)


def _handed_in() -> Sequence[Condition]:
    handed_in: Sequence[Condition] = current_app.extensions.get(_HANDED_IN, ()) if has_app_context() else ()
    return handed_in


def _is_inducted(act: Act, asked: Asked) -> None:
    """Ask the gate as of the end of the time booked: who is clear then is clear all along, as nothing begins later.

    Where it is only booked, what is to be taught before it begins is no hindrance yet.
    """
    if asked.occasion is Occasion.MOVE:
        return
    subjects = _subjects(act.session, asked.stations, asked.process)
    begins_at = None if asked.occasion is Occasion.BEGIN else asked.start
    gate.require_clear(act, person=asked.person, subjects=subjects, at=asked.end, begins_at=begins_at)


def _is_open_to_them(act: Act, asked: Asked) -> None:
    """Ask the personal gate. Another's time moved says nothing new, and that they are here is noted in any case."""
    is_own = act.actor.id == asked.person.id
    booking = asked.booking
    is_other_process = booking is None or asked.process not in (booking.process, *booking.also)
    if is_own or (is_other_process and asked.occasion is not Occasion.BEGIN):
        require_open(act, person=asked.person, process=asked.process, at=max(asked.start, act.now))


def _is_supervised(act: Act, asked: Asked) -> None:
    """Ask what the law asks of who is under 18 when it begins; who is named is in the plan, else in the booking."""
    plan, booking = asked.plan, asked.booking
    if plan is None and booking is not None:
        work = supervision.work_of(booking, asked.stations)
    else:
        span = Span(asked.start, asked.end)
        is_moved = booking is None or span != Span(booking.starts_at, booking.ends_at)
        named = plan or Plan()
        work = supervision.Work(
            person=asked.person,
            stations=asked.stations,
            process=asked.process,
            span=span,
            supervisor=act.session.get(Person, named.supervisor_id) if named.supervisor_id else None,
            second_adult=act.session.get(Person, named.second_adult_id) if named.second_adult_id else None,
            supervisor_comes=supervision.comes(act, named, booking, is_moved=is_moved),
            booking=booking,
        )
    begins, waits = asked.occasion is Occasion.BEGIN, asked.occasion is Occasion.WAIT
    supervision.require_supervised(act, work, is_class=bool(asked.class_name), begins=begins, waits=waits)


def _is_member(act: Act, asked: Asked) -> None:
    """Ask what the lab asks of who comes here, as of the last day; and whether so many guests may come along."""
    last = to_local(asked.end, zone=records.zone(act.session)).date()
    membership.require_member(act, person=asked.person, on=last)
    if asked.plan is not None:
        membership.require_guests(act.session, asked.plan.guests)


def _is_in_order(act: Act, asked: Asked) -> None:
    """Refuse what equipment closes, one that failed or is overdue beyond the lab's grace; to wait for it is allowed."""
    if asked.occasion in (Occasion.WAIT, Occasion.MOVE):
        return
    if (closed := closed_by_equipment(act.session, asked.stations, now=act.now)) is not None:
        raise BookingRefused(closed_in_words(closed, zone=records.zone(act.session)))


def closed_by_equipment(session: DbSession, stations: Sequence[Station], *, now: datetime) -> Closed | None:
    """What equipment closes of places now; None where it closes none of them."""
    for closed in equipment.closed(session, now):
        if any(closed.room_id == station.room_id or closed.station_id == station.id for station in stations):
            return closed
    return None


def _fan_runs(act: Act, asked: Asked) -> None:
    """Where the approved assessment asks for extraction, work begins when somebody has seen that it runs."""
    if asked.occasion is not Occasion.BEGIN or asked.fan_runs or asked.process is None:
        return
    if (rule := asked_of_air(act.session, asked.process, now=act.now)) is not None:
        raise FanNotConfirmed(rule)


class FanNotConfirmed(BookingRefused):
    """The assessment asks for extraction, and nobody has said that it runs."""

    def __init__(self, rule: str):
        super().__init__(f"The assessment asks: {rule}. Switch it on, see that it draws, and say so when you begin.")


def asked_of_air(session: DbSession, process: Process, *, now: datetime) -> str | None:
    """What the approved assessment of a process asks of the air: extraction or ventilation; None where it does not.

    An assessment that is out of date asks it all the same.
    """
    zone = records.zone(session)
    assessed = process_assessed(session, process.id, today=to_local(now, zone=zone).date(), zone=zone)
    rule = assessed_process(assessed).asked.get(Equipment.VENTILATION)
    return rule.words.rstrip(".") if rule is not None and rule.strength else None


_CONDITIONS: tuple[Condition, ...] = (
    *(_is_member, _is_inducted, _is_open_to_them, _is_supervised),
    *(_is_in_order, _fan_runs),
)


def still_lacking(session: DbSession, booking: Booking, *, now: datetime) -> tuple[Missing, ...]:
    """What its person still lacks for a booking to come; it is booked because that is to be taught before."""
    station = places.station_or_raise(session, booking.station_id)
    process = processes.process_or_raise(session, booking.process_id) if booking.process_id else None
    subjects = _subjects(session, [station, *(row.brings for row in station.brings)], process)
    subjects += map(gate.work_of, booking.also)
    return gate.missing_for(session, person=booking.person, subjects=subjects, at=booking.ends_at, now=now)


def _subjects(session: DbSession, stations: Sequence[Station], process: Process | None) -> list[Subject]:
    every_work = gate.work_by_process(session).values() if process is None else ()
    return gate.subjects_of(stations=stations, process=process, every_work=every_work)
