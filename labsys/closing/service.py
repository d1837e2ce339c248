"""Closing for a time or for good, with what becomes of the bookings it hits, in one act; and taking units away."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from datetime import datetime
from typing import TypedDict

from sqlalchemy import delete, insert

from labsys.bookings import offering
from labsys.bookings import rules as booking_rules
from labsys.bookings.classes_moved import tell_of_classes_moved
from labsys.bookings.comings_and_goings import Freed, follow
from labsys.bookings.conditions import Asked, Occasion, closed_by_equipment, require_all
from labsys.bookings.ground import ground
from labsys.bookings.models import Booking, Hold
from labsys.closing import moving, queries, rules, words
from labsys.closing.moving import Hit
from labsys.closing.rules import OUT_OF_USE, Answer, Fate, Scope
from labsys.closing.words import Said
from labsys.database import DbSession
from labsys.mail import service as mail
from labsys.mail.kinds import CLOSURE, Message
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require
from labsys.places import queries as places
from labsys.places import rules as place_rules
from labsys.places import service as place_service
from labsys.places.calendar import FOR_GOOD, THE_LAB, Closed
from labsys.places.models import Closure, Station, StationUnit
from labsys.places.rules import PlaceRefused, StationFacts
from labsys.records import queries as records
from labsys.records.errors import Refused
from labsys.timetable.local_time import clock_words, day_words, to_local
from labsys.timetable.spans import Span

Answers = Mapping[int, Answer]
_NOTHING_SAID: Answers = {}
_THE_LAB = Scope()


class _Row(TypedDict):
    """A hold as it is written."""

    booking_id: int
    unit_id: int
    starts_at: datetime
    ends_at: datetime


@act
def close(act: Act, *, span: Span, reason: str, scope: Scope = _THE_LAB, answers: Answers = _NOTHING_SAID) -> Closure:
    """Close the lab, a room, a place or one unit for a time; every booking it hits is moved, cancelled or left.

    Their people are told by mail. Raises NotPermitted, NotFound, PlaceRefused, NotAnswered or NewTimeGone.
    """
    require(act.actor, Permission.KEEP_PLACES)
    stations = _locked(act.session)
    closed = closed_part(stations, scope, span=span, reason=reason)
    hit = _hit(act.session, stations=stations, scope=scope, span=span, now=act.now)
    closure = Closure(
        starts_at=span.start,
        ends_at=span.end,
        reason=reason,
        room_id=scope.room_id,
        station_id=scope.station_id,
        unit_id=scope.unit_id,
    )
    act.session.add(closure)
    act.session.flush()
    act.tell("closure.added", about=closure, facts=place_service.facts_of(closure))
    _withdraw_offers(act, stations, scope, span)
    _carry_out(act, hit=hit, answers=answers, closed=closed, cause=f"closure {closure.id}")
    return closure


@act
def take_out_of_use(act: Act, *, station_id: int, answers: Answers = _NOTHING_SAID) -> Station:
    """Take a place out of use; every booking that holds it is cancelled or left, and its person told.

    It can be brought back. Raises NotPermitted, NotFound, PlaceRefused or NotAnswered.
    """
    require(act.actor, Permission.KEEP_PLACES)
    stations = _locked(act.session)
    station = places.station_or_raise(act.session, station_id)
    if station.closed_at is not None:
        raise PlaceRefused(f"{station.name} is out of use already.")
    scope, span = Scope(station_id=station_id), Span(act.now, FOR_GOOD)
    closed = closed_part(stations, scope, span=span, reason=OUT_OF_USE)
    hit = _hit(act.session, stations=stations, scope=scope, span=span, now=act.now)
    station.closed_at = act.now
    act.session.flush()
    act.tell("station.closed", about=station)
    _withdraw_offers(act, stations, scope, span)
    cause = f"place {station_id} out of use {act.now:%Y-%m-%dT%H:%M}"
    _carry_out(act, hit=hit, answers=answers, closed=closed, cause=cause)
    return station


@act
def bring_back(act: Act, *, station_id: int) -> Station:
    """Bring back what was taken out of use; what was cancelled stays so. Raises NotPermitted or PlaceRefused."""
    require(act.actor, Permission.KEEP_PLACES)
    station = places.station_or_raise(act.session, station_id, lock=True)
    if station.closed_at is None:
        raise PlaceRefused(f"{station.name} is in use.")
    station.closed_at = None
    act.tell("station.opened", about=station)
    offering.pass_on(act, [Span(act.now, FOR_GOOD)])
    return station


@act
def lift(act: Act, *, closure_id: int) -> None:
    """Take a closure back; what was moved or cancelled for it stays so. Raises NotPermitted or NotFound."""
    require(act.actor, Permission.KEEP_PLACES)
    closure = places.closure_or_raise(act.session, closure_id)
    act.tell("closure.removed", about=closure, facts=place_service.facts_of(closure))
    span = Span(closure.starts_at, closure.ends_at)
    act.session.delete(closure)
    offering.pass_on(act, [span])


@act
def change_station(act: Act, *, station_id: int, name: str, units: int, facts: StationFacts) -> Station:
    """Change what is said of a place, its margin for bookings to come, and how many units it has.

    Units go, the last first, when no booking stands on them. Raises NotPermitted, NotFound or PlaceRefused.
    """
    require(act.actor, Permission.KEEP_PLACES)
    station = places.station_or_raise(act.session, station_id, lock=True)
    place_rules.check_units(units)
    place_rules.check_station(facts)
    if name != station.name:
        place_service.check_name(act.session, name)
    _set_units(act, station, wanted=units)
    for field, said in {"name": name, **asdict(facts)}.items():
        setattr(station, field, said)
    act.tell("station.changed", about=station, facts={"name": name, "units": units, **asdict(facts)})
    return station


def hits_of(session: DbSession, *, scope: Scope, span: Span, reason: str, now: datetime) -> list[Hit]:
    """Whom closing this would hit, and where each could go; nothing is written. Raises NotFound."""
    stations = places.stations(session, in_use=False)
    hit = _hit(session, stations=stations, scope=scope, span=span, now=now)
    return moving.hits(session, closed=closed_part(stations, scope, span=span, reason=reason), hit=hit, now=now)


def closed_part(stations: Sequence[Station], scope: Scope, *, span: Span, reason: str) -> Closed:
    """What is closed, as the calendar of places has it. Raises NotFound."""
    units = queries.units_in(stations, scope)
    if scope.unit_id is not None:
        what = units[0].name
    elif scope.station_id is not None:
        what = units[0].station.name
    else:
        rooms = (station.room for station in stations)
        what = next((room.name for room in rooms if room.id == scope.room_id), THE_LAB)
    return Closed(span, reason, what, scope.room_id, scope.station_id, scope.unit_id)


def _locked(session: DbSession) -> list[Station]:
    """Every place and unit, kept from being booked until the act is over; in one order, so that acts never cross."""
    station_ids = [station.id for station in places.stations(session, in_use=False)]
    places.lock_stations(session, station_ids, to_change=True)
    places.lock_units(session, station_ids)
    places.lock_rooms(session, [room.id for room in places.rooms(session)])
    return places.stations(session, in_use=False)


def _hit(session: DbSession, *, stations: Sequence[Station], scope: Scope, span: Span, now: datetime) -> list[Booking]:
    if span.end <= now:
        raise PlaceRefused("That is over already. Enter a closure that is still to come.", field="ends")
    unit_ids = [unit.id for unit in queries.units_in(stations, scope)]
    return queries.bookings_hit(session, unit_ids=unit_ids, span=Span(max(span.start, now), span.end))


def _carry_out(act: Act, *, hit: Sequence[Booking], answers: Answers, closed: Closed, cause: str) -> None:
    """Step: do with each booking what was decided, and tell its person."""
    rules.check_answered([booking.id for booking in hit], answers)
    by_fate = {fate: [booking for booking in hit if answers[booking.id].fate is fate] for fate in Fate}
    spans = {booking.id: answers[booking.id].span for booking in by_fate[Fate.MOVE]}
    for booking in by_fate[Fate.CANCEL]:
        booking_rules.check_can_cancel(arrived_at=booking.arrived_at)
    moves = [(booking, span) for booking in by_fate[Fate.MOVE] if (span := spans[booking.id]) is not None]
    given_up = [Freed.of(booking) for booking in (*by_fate[Fate.MOVE], *by_fate[Fate.CANCEL])]
    held = _new_holds(act, moves=moves, closed=closed, cancelled=by_fate[Fate.CANCEL])
    gone = [booking.id for booking in (*by_fate[Fate.MOVE], *by_fate[Fate.CANCEL])]
    freed = [time for booking in hit if booking.id in gone for time in offering.held_by(booking)]
    if gone:
        act.session.execute(delete(Hold).where(Hold.booking_id.in_(gone)))
    if held:
        act.session.execute(insert(Hold), [dict(row) for row in held])
    before = {booking.id: Span(booking.starts_at, booking.ends_at) for booking in hit}
    for booking, span in moves:
        booking.starts_at, booking.ends_at = span.start, span.end
        booking.version, booking.changed_at = booking.version + 1, act.now
        booking.wanted_number = None
        if booking.supervision is not None and span != before[booking.id]:
            booking.supervision.comes = False  # that was said of another time
    for booking in by_fate[Fate.CANCEL]:
        booking.cancelled_at, booking.cancelled_by_id = act.now, act.actor.id
    act.session.flush()
    for booking in hit:
        act.session.expire(booking, ["holds"])
    stations = {station.id: station for station in places.stations(act.session, in_use=False)}
    moved = [booking for booking, span in moves if span != before[booking.id]]
    _require_in_order(act, {booking.station_id: stations[booking.station_id] for booking in moved}.values())
    for booking in moved:
        _require_all(act, booking, stations[booking.station_id])
    units = {unit.id: unit for station in stations.values() for unit in station.units}
    has_now: dict[int, list[StationUnit]] = {}
    for row in held:
        has_now.setdefault(row["booking_id"], []).append(units[row["unit_id"]])
    zone = records.zone(act.session)
    tell = _Teller(act, closed=closed, cause=cause)
    for booking, _ in moves:
        tell("booking.moved", booking, words.moved(booking, has_now[booking.id], closed, zone=zone))
    for booking in by_fate[Fate.CANCEL]:
        tell("booking.cancelled", booking, words.cancelled(booking, closed, zone=zone))
    for booking in by_fate[Fate.KEEP]:
        tell("", booking, words.kept(booking, closed, zone=zone))
    if given_up:
        follow(act, *given_up)
    mail.queue_all(act.session, tell.letters, by=act.actor, now=act.now)
    told = [*(booking for booking, _ in moves), *by_fate[Fate.CANCEL]]
    tell_of_classes_moved(act, told, before=before, because=words.because(closed, zone=zone))
    offering.pass_on(act, freed)


def _withdraw_offers(act: Act, stations: Sequence[Station], scope: Scope, span: Span) -> None:
    offering.withdraw(act, unit_ids=[unit.id for unit in queries.units_in(stations, scope)], span=span)


class _Teller:
    """Tells the record, and gathers what is to be written to whoever's time it is."""

    def __init__(self, act: Act, *, closed: Closed, cause: str) -> None:
        self.act, self.closed, self.cause = act, closed, cause
        self.letters: list[mail.Letter] = []

    def __call__(self, name: str, booking: Booking, said: Said) -> None:
        if name:
            times = {"from": booking.starts_at.isoformat(), "to": booking.ends_at.isoformat()}
            self.act.tell(name, about=booking, facts={"because": self.cause, **times})
        message = Message(CLOSURE, f"booking {booking.id}, {self.cause}", *said)
        self.letters.append(mail.Letter(message, booking.person))


def _new_holds(
    act: Act, *, moves: Sequence[tuple[Booking, Span]], closed: Closed, cancelled: Sequence[Booking]
) -> list[_Row]:
    """The holds of all bookings that are moved, each at its new time. Raises NewTimeGone or BookingRefused."""
    if not moves:
        return []
    within = moving.around([span for _, span in moves])
    without = [booking.id for booking in (*(moved for moved, _ in moves), *cancelled)]
    where = ground(act.session, within=within, closed=closed, without=without)
    clear = moving.cleared(act.session, [Hit(booking, (span,)) for booking, span in moves], where, now=act.now)
    rows: list[_Row] = []
    for (booking, span), hit in zip(moves, clear, strict=True):
        if span != hit.span:
            booking_rules.check_can_cancel(arrived_at=booking.arrived_at)
            booking_rules.check_span(span, openings=(), now=act.now)
        held = where.take(booking, span) if hit.moves else []
        if not held:
            when = booking_rules.span_in_words(span, zone=where.calendar.zone)
            raise rules.NewTimeGone(booking.person.name, when)
        rows += [
            {"booking_id": booking.id, "unit_id": unit_id, "starts_at": time.start, "ends_at": time.end}
            for unit_id, time in held
        ]
    return rows


def _require_in_order(act: Act, stations: Iterable[Station]) -> None:
    """Raise ClosingRefused where equipment closes a place to which bookings were moved, or what comes with it."""
    held = [each for station in stations for each in (station, *(row.brings for row in station.brings))]
    closed = closed_by_equipment(act.session, held, now=act.now) if held else None
    if closed is not None:
        raise rules.ClosingRefused(booking_rules.closed_in_words(closed, zone=records.zone(act.session)))


def _require_all(act: Act, booking: Booking, station: Station) -> None:
    """Raise NewTimeRefused unless all that is asked of a booking holds at the time to which it was moved.

    Asked once all are moved: two who go to the same time are company to each other.
    """
    asked = Asked(
        *(Occasion.MOVE, booking.person, [station, *(row.brings for row in station.brings)], booking.process),
        *([Span(booking.starts_at, booking.ends_at)], booking.units, booking.class_name, booking),
        also=booking.also,
    )
    try:
        require_all(act, asked)
    except Refused as refusal:
        when = booking_rules.span_in_words(Span(booking.starts_at, booking.ends_at), zone=records.zone(act.session))
        raise rules.NewTimeRefused(booking.person.name, when, str(refusal)) from refusal


def _set_units(act: Act, station: Station, *, wanted: int) -> None:
    """Step: add units, those taken away earlier first, or take the last ones away where nothing stands on them."""
    places.lock_units(act.session, [station.id])
    leaving = [unit for unit in station.units if unit.number > wanted]
    if leaving:
        stands = queries.next_on_units(act.session, unit_ids=[unit.id for unit in leaving], now=act.now)
        if stands is not None:
            number, who, starts_at = stands
            zone = records.zone(act.session)
            when = f"{day_words(to_local(starts_at, zone=zone).date())}, {clock_words(starts_at, zone=zone)}"
            raise PlaceRefused(
                f"{who} is booked on {station.name} {number} from {when}. Close that unit for a time first: the page "
                "offers to move what stands on it.",
                field="units",
            )
        offering.withdraw(act, unit_ids=[unit.id for unit in leaving], span=Span(act.now, FOR_GOOD))
        for unit in leaving:
            unit.removed_at = act.now
    by_number = {unit.number: unit for unit in station.every_unit}
    for number in range(1, wanted + 1):
        if number in by_number:
            by_number[number].removed_at = None
        else:
            act.session.add(StationUnit(station_id=station.id, number=number))
    act.session.flush()
    act.session.expire(station, ["units", "every_unit"])
