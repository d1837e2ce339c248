"""The waiting list: wait for a place, leave the list, take or decline an offer; and offers that lapse."""

from dataclasses import replace
from datetime import datetime, timedelta

from sqlalchemy import select

from labsys.bookings import fair_use, offering, queries, rules, service, words
from labsys.bookings.conditions import Asked, Occasion, require_all
from labsys.bookings.free import LOOK_AROUND, nearest_free
from labsys.bookings.ground import ground
from labsys.bookings.keeping_fair import limits_of
from labsys.bookings.models import Booking, Wait, WaitEnd
from labsys.bookings.rules import BookingRefused, Plan
from labsys.database import DbSession
from labsys.jobs.kinds import Kind, Made, Task
from labsys.people.acts import Act, act
from labsys.people.models import Person
from labsys.people.permissions import NotPermitted, Permission, may, require
from labsys.records import queries as records
from labsys.timetable.spans import Span

MOST_WAITS = 10  # open at once, of one person


class FreeAlready(BookingRefused):
    """Nobody waits for what is free: it can be booked."""

    def __init__(self, nearest: list[Span], *, words: str):
        super().__init__(f"There is no need to wait: {words} is free. Book it.", field="station")
        self.nearest = tuple(nearest)


class OfferOver(BookingRefused):
    """An offer taken too late; `nearest` are the free times closest to what was offered."""

    def __init__(self, said: str, *, nearest: list[Span], words: str):
        super().__init__(f"{said} {words}")
        self.nearest = tuple(nearest)


@act
def wait(act: Act, *, station_id: int, window: Span, minutes: int, plan: Plan) -> Wait:
    """Wait, oneself, for a place between two times. Whoever could not book it cannot wait for it.

    Raises NotPermitted, NotFound, BookingRefused, FreeAlready, NotCleared or NotOpen.
    """
    require(act.actor, Permission.BOOK_STATION)
    person = service.person_to_book_for(act, person_id=act.actor.id)
    length = timedelta(minutes=minutes)
    rules.check_window(window, length=length, now=act.now)
    process = service.process_of(act.session, plan)
    stations = service.stations_to_book(act.session, station_id)
    where = ground(act.session, within=window)
    made = Wait(
        person=person,
        station=stations[0],
        station_id=station_id,
        from_at=window.start,
        until_at=window.end,
        minutes=minutes,
        process=process,
        planned_size=plan.size,
        planned_count=plan.count,
        note=plan.note,
        made_at=act.now,
    )
    with act.session.no_autoflush:
        demand = where.demand(offering.like(made))
        by_hours = replace(demand, openings=tuple(replace(opening, closures=()) for opening in demand.openings))
        rules.check_opens(window, length=length, opened=by_hours.opened(window), openings=by_hours.openings)
        latest = Span(window.end - length, window.end)
        require_all(act, Asked(Occasion.WAIT, person, stations, process, [latest]))
        limits, zone = limits_of(act.session, person), where.calendar.zone
        fair_use.check(latest, limits=limits, others=(), now=act.now, zone=zone, starts_anew=False)
        _check_waits(act, made)
        if free := offering.free_for(act, made, where):
            raise FreeAlready(free, words=f"{stations[0].name}, {rules.span_in_words(free[0], zone=zone)},")
    act.session.add(made)
    act.session.flush()
    act.tell("wait.begun", about=made, facts={"station": station_id, "minutes": minutes, **_times(window)})
    return made


@act
def leave_list(act: Act, *, wait_id: int) -> Wait:
    """Wait no longer; what was held for it passes on. Raises NotPermitted, NotFound or BookingRefused."""
    return _end(act, wait_id, WaitEnd.LEFT)


@act
def decline(act: Act, *, wait_id: int) -> Wait:
    """Decline what is offered: it passes on, and the wait is over. Raises NotPermitted, NotFound or BookingRefused."""
    wait = _own(act, wait_id)
    _check_open(wait)
    if wait.offered is None:
        raise BookingRefused("Nothing is offered to you yet. You may leave the list.")
    return _end(act, wait_id, WaitEnd.DECLINED)


@act
def accept(act: Act, *, wait_id: int) -> Booking:
    """Take what is offered: it becomes a booking, by the same checks as any.

    Raises NotPermitted, NotFound, BookingRefused, OfferOver, NotCleared or NotOpen; the offer then stands as it was.
    """
    wait = _own(act, wait_id)
    span, until = wait.offered, wait.offered_until
    if wait.ending is WaitEnd.LAPSED or (until is not None and until <= act.now):
        raise _over(act, wait)
    _check_open(wait)
    if span is None:
        raise BookingRefused("Nothing is offered to you yet. You keep your place on the waiting list.")
    offering.let_go(act, wait)
    plan = Plan(wait.process_id, wait.planned_size, wait.planned_count, wait.note)
    booking = service.make(act, person=wait.person, station_id=wait.station_id, span=span, plan=plan)
    wait.ended_at, wait.ending, wait.booking_id = act.now, WaitEnd.BOOKED, booking.id
    act.tell("booking.made", about=booking, facts={**service.facts_of(booking), "wait": wait.id})
    return booking


@act
def lapse(act: Act, *, wait_id: int) -> Wait | None:
    """Pass an offer on that nobody took in time; nothing where it was taken meanwhile."""
    wait = queries.wait_or_raise(act.session, wait_id, lock=True)
    if wait.ended_at is not None or wait.offered_until is None or wait.offered_until > act.now:
        return None
    freed = offering.end(act, wait, WaitEnd.LAPSED)
    act.tell("offer.lapsed", about=wait)
    offering.pass_on(act, freed)
    return wait


@act
def end_old(act: Act) -> int:
    """End the waits whose time came and went, and those of people who left the lab. Returns how many."""
    waits = [queries.wait_or_raise(act.session, wait_id, lock=True) for wait_id in _old_ids(act.session, now=act.now)]
    freed: list[Span] = []
    for wait in waits:
        freed += offering.end(act, wait, WaitEnd.OVER if wait.person.is_active else WaitEnd.LEFT)
        act.tell("wait.ended", about=wait)
    offering.pass_on(act, freed)
    return len(waits)


@act
def offer_free(act: Act, *, window: Span) -> int:
    """Offer what has become free otherwise, such as by longer hours, to those who wait then. Returns how many."""
    return len(offering.pass_on(act, [window]))


def pass_on_what_is_due(task: Task) -> Made:
    """Pass on the offers that lapsed, end old waits, and offer what has become free; each an act of its own."""

    def by_the_lab() -> Act:
        return Act(task.session, by=None, now=task.now())

    lapsed = [lapse(by_the_lab(), wait_id=wait_id) for wait_id in lapsed_ids(task.session, now=task.now())]
    if _old_ids(task.session, now=task.now()):
        end_old(by_the_lab())
    for window in windows_with_room(task.session, now=task.now()):
        offer_free(by_the_lab(), window=window)
    return Made(f"Passed on {sum(wait is not None for wait in lapsed)} offers.")


PASS_ON = Kind(
    name="waiting list",
    title="Offer what is free to those who wait",
    run=pass_on_what_is_due,
    every=timedelta(minutes=1),
)


def lapsed_ids(session: DbSession, *, now: datetime) -> list[int]:
    """Offers that nobody took in time, the earliest first."""
    query = select(Wait.id).where(Wait.ended_at.is_(None), Wait.offered_until <= now)
    return list(session.execute(query.order_by(Wait.offered_until, Wait.id)).scalars())


def windows_with_room(session: DbSession, *, now: datetime) -> list[Span]:
    """When somebody waits for what is free, whether they may have it or not; one look a day that is waited for."""
    lab = Act(session, by=None, now=now)
    by_day: dict[object, list[Wait]] = {}
    for wait in queries.open_waits(session, now=now):
        by_day.setdefault(wait.from_at.date(), []).append(wait)
    windows = []
    for waits in by_day.values():
        where = ground(session, within=offering.around(waits))
        windows += [wait.window for wait in waits if offering.free_for(lab, wait, where)]
    return windows


def may_see(actor: Person, wait: Wait) -> bool:
    """Whether somebody sees a wait: their own, or anybody's who books for others."""
    return wait.person_id == actor.id or may(actor, Permission.BOOK_FOR_OTHERS)


def _old_ids(session: DbSession, *, now: datetime) -> list[int]:
    query = (
        select(Wait.id)
        .join(Wait.person)
        .where(
            Wait.ended_at.is_(None),
            ((Wait.offered_until.is_(None)) & (Wait.until_at <= now)) | Person.left_at.is_not(None),
        )
    )
    return list(session.execute(query.order_by(Wait.id)).scalars())


def _own(act: Act, wait_id: int) -> Wait:
    require(act.actor, Permission.BOOK_STATION)
    wait = queries.wait_or_raise(act.session, wait_id, lock=True)
    if wait.person_id != act.actor.id:
        raise NotPermitted(Permission.BOOK_FOR_OTHERS)
    return wait


def _check_open(wait: Wait) -> None:
    if wait.ending is not None:
        raise BookingRefused(f"This is over: {wait.ending.value}. Wait again if you still want a place.")


def _end(act: Act, wait_id: int, ending: WaitEnd) -> Wait:
    wait = _own(act, wait_id)
    _check_open(wait)
    freed = offering.end(act, wait, ending)
    act.tell("wait.ended", about=wait, facts={"ending": ending})
    offering.pass_on(act, freed)
    return wait


def _check_waits(act: Act, made: Wait) -> None:
    """Raise BookingRefused where somebody waits for it already, or for very much."""
    others = queries.waits_of_person(act.session, act.actor.id)
    if any(other.station_id == made.station_id and other.window.overlaps(made.window) for other in others):
        raise BookingRefused("You wait for that place then already. Leave the list first to wait for another time.")
    if len(others) >= MOST_WAITS:
        raise BookingRefused(f"You wait for {MOST_WAITS} places already. Leave one of the lists first.")


def _over(act: Act, wait: Wait) -> OfferOver:
    """What to say to whoever comes late, with what is free nearest to what was offered."""
    zone = records.zone(act.session)
    span = wait.offered or wait.window
    where = ground(act.session, within=Span(span.start - LOOK_AROUND, span.end + LOOK_AROUND))
    demand = where.demand(offering.like(wait))
    nearest = (
        nearest_free(span, demand=demand, taken=where.taken, now=act.now) if where.is_in_use(wait.station_id) else []
    )
    until = words.moment(wait.offered_until, zone=zone) if wait.offered_until else "then"
    said = f"This offer stood until {until}, and goes to whoever waits next."
    return OfferOver(said, nearest=nearest, words=rules.free_in_words(nearest, zone=zone))


def _times(span: Span) -> dict[str, str]:
    return {"from": span.start.isoformat(), "until": span.end.isoformat()}
