"""What people do with bookings: book, book a class, change, cancel, arrive, leave."""

from dataclasses import replace
from datetime import datetime, timedelta

from labsys.bookings import offering, queries, rules, words
from labsys.bookings.classes_moved import tell_of_classes_moved
from labsys.bookings.comings_and_goings import Freed, follow
from labsys.bookings.conditions import Asked, Occasion, require_all
from labsys.bookings.free import LOOK_AROUND
from labsys.bookings.holding import hold
from labsys.bookings.keeping_fair import check_fair
from labsys.bookings.models import Booking
from labsys.bookings.rules import Plan
from labsys.bookings.supervising import look_again_at_those_of
from labsys.bookings.supervision import name_supervisor
from labsys.database import DbSession
from labsys.mail import service as mail
from labsys.mail.kinds import Message
from labsys.people.acts import Act, act
from labsys.people.models import Person
from labsys.people.permissions import Permission, may, require
from labsys.places import queries as places
from labsys.places.calendar import Calendar
from labsys.places.models import Station
from labsys.processes import queries as processes
from labsys.processes.models import Process
from labsys.records import queries as lab
from labsys.timetable.spans import Span


@act
def book(
    act: Act, *, person_id: int, station_id: int, span: Span, plan: Plan, number: int | None = None, override: str = ""
) -> Booking:
    """Book a place for oneself, or for somebody else with BOOK_FOR_OTHERS: any unit of it, or the one of a number.

    Raises NotPermitted, NotFound, BookingRefused, SlotTaken, or NotCleared where an induction is missing,
    or NotOpen.
    """
    person = person_to_book_for(act, person_id=person_id)
    booking = make(act, person=person, station_id=station_id, span=span, plan=plan, number=number, override=override)
    act.tell("booking.made", about=booking, facts=facts_of(booking))
    return booking


@act
def book_class(
    act: Act,
    *,
    person_id: int,
    station_id: int,
    span: Span,
    units: int,
    class_name: str,
    plan: Plan,
    students: int | None = None,
    override: str = "",
) -> Booking:
    """Book several units for a class; the instructor must be cleared, those who come are asked when they come.

    Raises NotPermitted, NotFound, BookingRefused, SlotTaken, NotCleared or NotOpen.
    """
    require(act.actor, Permission.BOOK_CLASS)
    person = person_to_book_for(act, person_id=person_id)
    check_may_hold(act, person)
    if not class_name:
        raise rules.BookingRefused("Name the class, such as First prints.", field="class_name")
    booking = make(
        act,
        person=person,
        station_id=station_id,
        span=span,
        plan=plan,
        units=units,
        class_name=class_name,
        students=students,
        override=override,
    )
    act.tell("class.booked", about=booking, facts=facts_of(booking))
    return booking


def check_may_hold(act: Act, person: Person) -> None:
    """Step: raise NotPermitted, or BookingRefused for whoever may not hold a class or has left."""
    require(act.actor, Permission.BOOK_CLASS)
    _check_here(person)
    if not may(person, Permission.BOOK_CLASS):
        raise rules.BookingRefused(f"{person.name} may not hold a class. Choose an instructor.", field="person")


@act
def change(
    act: Act,
    *,
    booking_id: int,
    version: int,
    span: Span,
    plan: Plan,
    units: int | None = None,
    students: int | None = None,
    number: int | None = None,
    override: str = "",
) -> Booking:
    """Change the time, the plan, which unit it shall be and, of a class, the number of units and of students.

    `version` is the one the form was made from. Raises NotPermitted, NotFound, ChangedMeanwhile, BookingRefused,
    SlotTaken, NotCleared or NotOpen; the booking then stands as it was.
    """
    booking = _own_or_permitted(act, booking_id=booking_id)
    if booking.version != version:
        raise rules.ChangedMeanwhile
    if units is not None:
        booking.students = students
    return rebook(act, booking, span=span, plan=plan, units=units, number=number, override=override)


def rebook(
    act: Act,
    booking: Booking,
    *,
    span: Span,
    plan: Plan,
    units: int | None = None,
    number: int | None = None,
    override: str = "",
) -> Booking:
    """Step: put a booking already read for change at another time, and tell its person. Raises as `change` does."""
    person = person_to_book_for(act, person_id=booking.person_id)
    _check_not_over(booking, now=act.now)
    has_started = booking.starts_at <= act.now or booking.arrived_at is not None
    process = process_of(act.session, plan)
    stations = stations_to_book(act.session, booking.station_id)
    calendar = _calendar(act.session, span)
    openings = [calendar.of(station) for station in stations]
    rules.check_span(span, openings=openings, now=act.now, started_at=booking.starts_at if has_started else None)
    asked = Asked(
        *(Occasion.CHANGE, person, stations, process, [span], units or booking.units),
        *(booking.class_name, booking, plan, booking.also),
    )
    require_all(act, asked)
    check_fair(act, booking=booking, span=span, starts_anew=booking.starts_at != span.start, override=override)
    before = {booking.id: Span(booking.starts_at, booking.ends_at)}
    name_supervisor(act, booking, plan, is_moved=span != Span(booking.starts_at, booking.ends_at))
    freed, given_up = offering.held_by(booking), Freed.of(booking)
    booking.starts_at, booking.ends_at = span.start, span.end
    booking.version, booking.changed_at = booking.version + 1, act.now
    booking.wanted_number = number
    if booking.class_name and units is not None:
        rules.check_units(units)
        booking.units = units
    put_plan(booking, plan, process)
    hold(act.session, booking=booking, stations=stations, calendar=calendar, now=act.now)
    _tell(act, booking, words.changed(booking, zone=calendar.zone))
    tell_of_classes_moved(act, [booking], before=before)
    act.tell("booking.changed", about=booking, facts=facts_of(booking))
    look_again_at_those_of(act, booking.person_id)
    offering.pass_on(act, freed)
    follow(act, given_up)
    return booking


@act
def cancel(act: Act, *, booking_id: int) -> Booking:
    """Cancel a booking: its holds go, the booking stays on file. Raises NotPermitted, NotFound or BookingRefused."""
    booking = _own_or_permitted(act, booking_id=booking_id)
    return call_off(act, booking)


def call_off(act: Act, booking: Booking) -> Booking:
    """Step: cancel a booking already read for change, and tell its person. Raises BookingRefused."""
    _check_not_over(booking, now=act.now)
    rules.check_can_cancel(arrived_at=booking.arrived_at)
    freed = offering.held_by(booking)
    booking.holds.clear()
    booking.cancelled_at, booking.cancelled_by_id = act.now, act.actor.id
    late = lab.the_lab(act.session).late_cancel_minutes
    is_own = act.actor.id == booking.person_id
    booking.is_late_cancel = is_own and late is not None and booking.starts_at - act.now < timedelta(minutes=late)
    _tell(act, booking, words.cancelled(booking, by=act.actor, zone=lab.zone(act.session)))
    tell_of_classes_moved(act, [booking], before={})
    act.tell("booking.cancelled", about=booking)
    look_again_at_those_of(act, booking.person_id)
    offering.pass_on(act, freed)
    follow(act, Freed.of(booking))
    return booking


@act
def arrive(act: Act, *, booking_id: int, at: datetime | None = None, fan_runs: bool = False) -> Booking:
    """Note that somebody has come to work; the gate is asked again, with all that is known by now.

    `at` is when they came, where that is told late: all is judged as of then, so that a place given free only later,
    since nobody was known to have come, does not count against them. `fan_runs` is said by whoever has seen that the
    extraction draws, where the assessment asks for it.

    Raises NotPermitted, NotFound, BookingRefused, NotCleared or NotOpen.
    """
    came_at = act.now if at is None else min(at, act.now)
    booking = _own_or_permitted(act, booking_id=booking_id)
    person = person_to_book_for(act, person_id=booking.person_id)
    if booking.missed_at is not None and booking.missed_at > came_at:
        booking.missed_at = None
    _check_not_over(booking, now=came_at)
    zone = lab.zone(act.session)
    rules.check_can_arrive(starts_at=booking.starts_at, arrived_at=booking.arrived_at, now=came_at, zone=zone)
    require_may_begin(replace(act, now=came_at), booking, person=person, fan_runs=fan_runs)
    booking.arrived_at = came_at
    booking.fan_confirmed_at = came_at if fan_runs else None
    told_late = {} if at is None else {"at": came_at.isoformat()}
    act.tell("booking.arrived", about=booking, facts={**told_late, **({"fan_runs": True} if fan_runs else {})})
    follow(act)
    return booking


def require_may_begin(act: Act, booking: Booking, *, person: Person, fan_runs: bool = False) -> None:
    """Step: raise a Refused unless all that is asked at the beginning of a booking holds now."""
    stations = stations_to_book(act.session, booking.station_id)
    span = Span(booking.starts_at, booking.ends_at)
    asked = Asked(
        *(Occasion.BEGIN, person, stations, booking.process, [span], booking.units, booking.class_name, booking),
        also=booking.also,
        fan_runs=fan_runs,
    )
    require_all(act, asked)


@act
def leave(act: Act, *, booking_id: int) -> Booking:
    """Note that somebody has gone; the rest of the time is free again, but for the clearing up.

    Raises NotPermitted, NotFound or BookingRefused.
    """
    booking = _own_or_permitted(act, booking_id=booking_id)
    rules.check_can_leave(arrived_at=booking.arrived_at, left_at=booking.left_at)
    depart(act, booking, at=act.now)
    follow(act)
    return booking


def depart(act: Act, booking: Booking, *, at: datetime) -> None:
    """Step: somebody who was here has gone, at an instant that may be past."""
    until = rules.used_until(starts_at=booking.starts_at, ends_at=booking.ends_at, left_at=at)
    freed = offering.held_by(booking)
    for held in booking.holds:
        held.ends_at -= booking.ends_at - until  # what is over the end is the margin it was booked with
    booking.left_at = at
    act.tell("booking.left", about=booking)
    look_again_at_those_of(act, booking.person_id)
    offering.pass_on(act, freed)


def may_handle(actor: Person, booking: Booking) -> bool:
    """Whether somebody may change, cancel, arrive at and leave a booking: their own, or anybody's with permission."""
    return may(actor, _needed(actor, booking.person_id))


def require_handling(actor: Person, booking: Booking) -> None:
    """Raise NotPermitted unless somebody may handle a booking."""
    require(actor, _needed(actor, booking.person_id))


def _needed(actor: Person, person_id: int) -> Permission:
    return Permission.BOOK_STATION if person_id == actor.id else Permission.BOOK_FOR_OTHERS


def _own_or_permitted(act: Act, *, booking_id: int) -> Booking:
    booking = queries.booking_or_raise(act.session, booking_id, lock=True)
    require_handling(act.actor, booking)
    return booking


def _check_not_over(booking: Booking, *, now: datetime) -> None:
    rules.check_can_change(
        cancelled_at=booking.cancelled_at,
        left_at=booking.left_at,
        ends_at=booking.ends_at,
        missed_at=booking.missed_at,
        now=now,
    )


def person_to_book_for(act: Act, *, person_id: int) -> Person:
    require(act.actor, _needed(act.actor, person_id))
    person = queries.person_here_or_raise(act.session, person_id)
    _check_here(person)
    return person


def _check_here(person: Person) -> None:
    if not person.is_active:
        raise rules.BookingRefused(f"{person.name} has left the lab. Choose somebody else.", field="person")


def make(
    act: Act,
    *,
    person: Person,
    station_id: int,
    span: Span,
    plan: Plan,
    units: int = 1,
    class_name: str = "",
    students: int | None = None,
    number: int | None = None,
    override: str = "",
) -> Booking:
    """Step: check everything, write the booking with its holds, and tell whoever did not book it themselves."""
    process = process_of(act.session, plan)
    stations = stations_to_book(act.session, station_id)
    calendar = _calendar(act.session, span)
    rules.check_span(span, openings=[calendar.of(station) for station in stations], now=act.now)
    require_all(act, Asked(Occasion.BOOK, person, stations, process, [span], units, class_name, None, plan))
    booking = Booking(
        person=person,
        station=stations[0],
        units=units,
        wanted_number=number,
        class_name=class_name,
        students=students,
        starts_at=span.start,
        ends_at=span.end,
        made_at=act.now,
        made_by_id=act.actor.id,
    )
    put_plan(booking, plan, process)
    name_supervisor(act, booking, plan, is_moved=True)
    with act.session.no_autoflush:
        check_fair(act, booking=booking, span=span, starts_anew=True, override=override)
    hold(act.session, booking=booking, stations=stations, calendar=calendar, now=act.now)
    if person.id != act.actor.id:
        _tell(act, booking, words.made(booking, by=act.actor, zone=calendar.zone))
    return booking


def _calendar(session: DbSession, span: Span) -> Calendar:
    """Read once the places are kept as they are, so that nobody closes them meanwhile."""
    around = LOOK_AROUND + timedelta(days=2)
    return places.calendar(session, within=Span(span.start - around, span.end + around))


def process_of(session: DbSession, plan: Plan) -> Process | None:
    process = processes.process_or_raise(session, plan.process_id) if plan.process_id else None
    rules.check_plan(plan, material=process.material if process else None)
    return process


def put_plan(booking: Booking, plan: Plan, process: Process | None) -> None:
    booking.process = process
    booking.planned_material = process.material if process else None
    booking.planned_size, booking.planned_count, booking.note = plan.size, plan.count, plan.note
    booking.guests = plan.guests


def stations_to_book(session: DbSession, station_id: int) -> list[Station]:
    """The station and what comes with it, kept as they are until the act is over."""
    places.lock_stations(session, [station_id])
    station = places.station_or_raise(session, station_id)
    companions = places.lock_stations(session, [companion.brings_id for companion in station.brings])
    if station.closed_at is not None:
        raise rules.BookingRefused(f"{station.name} is out of use. Choose another place.", field="station")
    for other in companions:
        if other.closed_at is not None:
            raise rules.BookingRefused(
                f"{station.name} comes with {other.name}, which is out of use. Ask whoever keeps the places.",
                field="station",
            )
    return [station, *companions]


def plan_of(booking: Booking) -> Plan:
    """What is planned of a booking as it stands, whoever answers for it included."""
    supervision = booking.supervision
    return Plan(
        booking.process_id,
        booking.planned_size,
        booking.planned_count,
        booking.note,
        supervision.supervisor_id if supervision else None,
        supervision.second_adult_id if supervision else None,
        booking.guests,
    )


def _tell(act: Act, booking: Booking, message: Message) -> None:
    mail.queue(act.session, message, to=booking.person, by=act.by, now=act.now)


def facts_of(booking: Booking) -> dict[str, object]:
    """What the record keeps of a booking."""
    return {
        "person": booking.person_id,
        "station": booking.station_id,
        "units": sorted(hold.unit_id for hold in booking.holds),
        "from": booking.starts_at.isoformat(),
        "to": booking.ends_at.isoformat(),
        "class": booking.class_name,
        "process": booking.process_id,
        **({"also": [row.process_id for row in booking.also_rows]} if booking.also_rows else {}),
        "planned": [booking.planned_count, booking.planned_size],
        **({"guests": booking.guests} if booking.guests else {}),
        **({"beyond_fair_use": booking.override_reason} if booking.override_reason else {}),
    }
