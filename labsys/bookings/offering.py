"""Offers to those who wait: what becomes free is held for the first who may have it. Steps of acts."""

from collections.abc import Collection, Iterable
from dataclasses import replace
from datetime import timedelta

from sqlalchemy import delete
from sqlalchemy.exc import IntegrityError

from labsys.bookings import queries, words
from labsys.bookings.conditions import Asked, Occasion, require_all
from labsys.bookings.free import free_in
from labsys.bookings.ground import Ground, ground
from labsys.bookings.keeping_fair import check_fair
from labsys.bookings.models import NO_OVERLAP, Booking, Hold, Wait, WaitEnd
from labsys.database import violates
from labsys.mail import service as mail
from labsys.mail.kinds import Message
from labsys.people.acts import Act
from labsys.places import queries as places
from labsys.processes import queries as processes
from labsys.records import queries as records
from labsys.records.errors import Refused
from labsys.timetable.spans import Span, merged

TRIED = 3  # free times for which one person is asked about


def held_by(booking: Booking) -> list[Span]:
    """The time that a booking takes, clearing up included; nothing where it holds nothing any more."""
    return merged(Span(hold.starts_at, hold.ends_at) for hold in booking.holds)


def pass_on(act: Act, freed: Iterable[Span]) -> list[Wait]:
    """Step: offer what is free within these times to those who wait, the first first. Comes last in an act.

    Whoever may not have it (gate, fair use, every other condition, asked anew) is passed over and goes on waiting.
    """
    spans = merged(freed)
    if not spans:
        return []
    act.session.flush()
    meeting = Span(spans[0].start, spans[-1].end)
    waits = queries.open_waits(act.session, meeting=meeting, now=act.now, lock=True)
    waits = [wait for wait in waits if any(wait.window.overlaps(span) for span in spans)]
    if not waits:
        return []
    _lock_places(act, {wait.station_id for wait in waits})
    where = ground(act.session, within=around(waits))
    return [wait for wait in waits if _offer_first_free(act, wait, where)]


def around(waits: Collection[Wait]) -> Span:
    """All the time in which these people wait."""
    return Span(min(wait.from_at for wait in waits), max(wait.until_at for wait in waits))


def free_for(act: Act, wait: Wait, where: Ground, *, also_busy: Collection[Span] = ()) -> list[Span]:
    """The first times at which what somebody waits for is free, whether they may have it or not."""
    if not where.is_in_use(wait.station_id):
        return []
    return free_in(
        wait.window,
        length=wait.length,
        demand=where.demand(like(wait)),
        taken=where.taken,
        now=act.now,
        limit=TRIED,
        also_busy=list(also_busy),
    )


def like(wait: Wait) -> Booking:
    """What the wait is for, as a booking that is not made."""
    return Booking(person=wait.person, station_id=wait.station_id, units=1, class_name="")


def withdraw(act: Act, *, unit_ids: Collection[int], span: Span) -> None:
    """Step: take offers back that hold units which are to be closed; their people wait on where they stood."""
    zone = records.zone(act.session)
    for wait in queries.waits_that_hold(act.session, unit_ids=unit_ids, span=span):
        offered = let_go(act, wait)
        wait.offer_starts_at = wait.offered_until = None
        act.tell("offer.withdrawn", about=wait)
        for was in offered:
            _tell(act, wait, words.withdrawn(wait, span=was, zone=zone, at=act.now))


def end(act: Act, wait: Wait, ending: WaitEnd) -> list[Span]:
    """Step: end a wait. What was held for it is free, and returned; what was offered stays written."""
    freed = let_go(act, wait)
    wait.ended_at, wait.ending = act.now, ending
    return freed


def let_go(act: Act, wait: Wait) -> list[Span]:
    """Step: let go of what is held for somebody; the time that was offered, where something was."""
    act.session.execute(delete(Hold).where(Hold.wait_id == wait.id))
    return [] if wait.offered is None else [wait.offered]


def take_off(act: Act, *, person_id: int) -> int:
    """Step: take somebody off the waiting list who leaves the lab; how often they stood on it."""
    waits = queries.waits_of_person(act.session, person_id)
    freed: list[Span] = []
    for wait in waits:
        freed += end(act, wait, WaitEnd.LEFT)
        act.tell("wait.ended", about=wait)
    pass_on(act, freed)
    return len(waits)


def _lock_places(act: Act, station_ids: Collection[int]) -> None:
    stations = places.lock_stations(act.session, station_ids)
    with_them = {*station_ids, *(row.brings_id for station in stations for row in station.brings)}
    every = places.lock_stations(act.session, with_them)
    places.lock_units(act.session, with_them)
    places.lock_rooms(act.session, {station.room_id for station in every})


def _offer_first_free(act: Act, wait: Wait, where: Ground) -> bool:
    """Step: hold the first free time that somebody may have. Returns whether there is one."""
    if not wait.person.is_active:
        return False
    busy = queries.times_of_person(act.session, person_id=wait.person_id, since=act.now)
    for span in free_for(act, wait, where, also_busy=busy):
        if _may_have(act, wait, span, where):
            return _hold(act, wait, span, where)
    return False


def _may_have(act: Act, wait: Wait, span: Span, where: Ground) -> bool:
    """Ask everything that a booking of theirs would be asked."""
    theirs = replace(act, by=wait.person, key=None, visit=None)
    process = processes.process_or_raise(act.session, wait.process_id) if wait.process_id else None
    try:
        require_all(theirs, Asked(Occasion.BOOK, wait.person, where.held_with(wait.station_id), process, [span]))
        check_fair(theirs, booking=like(wait), span=span, starts_anew=True, override="")
    except Refused:
        return False
    return True


def _hold(act: Act, wait: Wait, span: Span, where: Ground) -> bool:
    held = where.take(like(wait), span)
    try:
        with act.session.begin_nested():
            act.session.add_all(
                Hold(wait_id=wait.id, unit_id=unit_id, starts_at=time.start, ends_at=time.end) for unit_id, time in held
            )
    except IntegrityError as error:
        if not violates(error, NO_OVERLAP):
            raise
        return False
    stands = timedelta(minutes=records.the_lab(act.session).offer_minutes)
    until = min(act.now + stands, span.start)
    wait.offer_starts_at, wait.offered_until = span.start, until
    units = sorted(unit_id for unit_id, _ in held)
    facts = {"person": wait.person_id, "from": span.start.isoformat(), "until": until.isoformat(), "units": units}
    act.tell("offer.made", about=wait, facts=facts)
    _tell(act, wait, words.offered(wait, span=span, until=until, zone=where.calendar.zone))
    return True


def _tell(act: Act, wait: Wait, message: Message) -> None:
    mail.queue(act.session, message, to=wait.person, by=act.by, now=act.now)
