"""What a booking would come to, found by making it and taking it back: the same checks, and nothing is written."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from flask import Flask, current_app, has_app_context

from labsys.bookings import offering, queries, service
from labsys.bookings.conditions import still_lacking
from labsys.bookings.fair_use import minutes_in_words
from labsys.bookings.keeping_fair import limits_of
from labsys.bookings.models import Booking
from labsys.bookings.rules import Plan
from labsys.people.acts import Act
from labsys.places.models import StationUnit
from labsys.records import queries as records
from labsys.records.transactions import in_transaction
from labsys.timetable.local_time import clock_words, to_local
from labsys.timetable.spans import Span

_HANDED_IN = "labsys-lines-of-rehearsals"


@dataclass(frozen=True)
class Rehearsal:
    """What somebody would get, and what stands with it, each as a name and a sentence."""

    lines: tuple[tuple[str, str], ...]


Line = Callable[[Act, Booking], tuple[str, str] | None]


def register_lines(app: Flask, *lines: Line) -> None:
    """Let the application know what rooms below this one say of a booking before it is made: a name and a sentence."""
    app.extensions[_HANDED_IN] = lines


class _TakenBack(Exception):
    """Undoes what was tried, and carries what it came to."""

    def __init__(self, rehearsal: Rehearsal):
        super().__init__("taken back")
        self.rehearsal = rehearsal


def rehearse(
    act: Act, *, person_id: int, station_id: int, span: Span, plan: Plan, number: int | None = None, override: str = ""
) -> Rehearsal:
    """Say what this booking would come to; nothing stays of it. Raises whatever `service.book` would raise."""
    trying = replace(act, key=None)

    def try_it() -> None:
        person = service.person_to_book_for(trying, person_id=person_id)
        booking = service.make(
            trying, person=person, station_id=station_id, span=span, plan=plan, number=number, override=override
        )
        raise _TakenBack(_told(trying, booking))

    try:
        in_transaction(act.session, try_it, name="rehearse")
    except _TakenBack as taken_back:
        return taken_back.rehearsal
    raise AssertionError("unreachable")


def _told(act: Act, booking: Booking) -> Rehearsal:
    zone = records.zone(act.session)
    names = [_name(hold.unit) for hold in booking.holds]
    with_it = f" and {', '.join(names[1:])}" if names[1:] else ""
    until = max(held.end for held in offering.held_by(booking))
    get = f"{names[0]}{with_it}, until {clock_words(booking.ends_at, zone=zone)}"
    if until > booking.ends_at:
        get += f"; clearing up until {clock_words(until, zone=zone)}"
    lacking = still_lacking(act.session, booking, now=act.now)
    clear = "You are cleared for this" if booking.person_id == act.actor.id else "Cleared for this"
    may = "; ".join(f"{lacked.name} first: {lacked.state_for_others}" for lacked in lacking) or clear
    own = (("You get", f"{get}."), ("You may", f"{may}."), ("Fair use", f"{_fair(act, booking)}."))
    handed_in: Sequence[Line] = current_app.extensions.get(_HANDED_IN, ()) if has_app_context() else ()
    return Rehearsal((*own, *(told for line in handed_in if (told := line(act, booking)) is not None)))


def _name(unit: StationUnit) -> str:
    """A unit among its equals, or a place that has no other."""
    several = sum(other.removed_at is None for other in unit.station.every_unit) > 1
    return f"{unit.station.name} {unit.number}" if several else unit.station.name


def _fair(act: Act, booking: Booking) -> str:
    """How much is booked with this one, of how much is fair."""
    if booking.override_reason:
        return f"Beyond it, because: {booking.override_reason}"
    limits = limits_of(act.session, booking.person)
    zone = records.zone(act.session)
    monday = _monday(booking.starts_at.astimezone(zone))
    others = queries.times_of_person(act.session, person_id=booking.person_id, since=min(act.now, monday))
    number = sum(other.end > act.now for other in others)
    week = to_local(booking.starts_at, zone=zone).date().isocalendar()[:2]
    of_week = [other for other in others if to_local(other.start, zone=zone).date().isocalendar()[:2] == week]
    hours = minutes_in_words(sum((other.length for other in of_week), timedelta()) // timedelta(minutes=1))
    most = f" of {limits.most_open}" if limits.most_open else ""
    long = f" of {minutes_in_words(limits.week_minutes)}" if limits.week_minutes else ""
    return f"With this one {number}{most} open, and {hours}{long} in that week"


def _monday(local: datetime) -> datetime:
    """The beginning of a week on the wall clock."""
    return local.replace(hour=0, minute=0, second=0, microsecond=0) - timedelta(days=local.weekday())
