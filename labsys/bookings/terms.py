"""Many bookings of one class: what stands against each time, what is free instead, and all of them in one act."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from sqlalchemy import insert
from sqlalchemy.exc import IntegrityError

from labsys.bookings import fair_use, queries, rules
from labsys.bookings.conditions import Asked, Occasion, require_all
from labsys.bookings.fair_use import Limits
from labsys.bookings.free import LOOK_AROUND, Demand, choose_units, nearest_free
from labsys.bookings.holding import demand_of
from labsys.bookings.keeping_fair import limits_of
from labsys.bookings.models import NO_OVERLAP, Booking, BookingProcess, Hold
from labsys.bookings.rules import Plan
from labsys.bookings.service import check_may_hold, facts_of, put_plan
from labsys.database import DbSession, violates
from labsys.inductions import gate
from labsys.inductions.rules import Subject, joined, not_decided
from labsys.people.acts import Act
from labsys.people.models import Person
from labsys.places import queries as places
from labsys.places.models import Station
from labsys.processes import queries as processes
from labsys.processes.models import Process
from labsys.timetable.spans import Span

SAID = 5  # dates named in one refusal
_AROUND = LOOK_AROUND + timedelta(days=2)


@dataclass(frozen=True)
class ClassWanted:
    """What a class takes each time: so many units of a place, for its instructor, with what is planned.

    `override` says why it may be more than fair use; `students` is how many come, where that is known.
    """

    person_id: int
    station_id: int
    units: int
    class_name: str
    plan: Plan
    override: str = ""
    students: int | None = None
    teachers: int = 1
    also: tuple[int, ...] = ()  # processes besides that of the plan


@dataclass
class Ground:
    """The place of a class as it stands over a term: what is open, and what is taken."""

    stations: Sequence[Station]
    demand: Demand
    taken: dict[int, list[Span]]
    process: Process | None
    subjects: Sequence[Subject]
    limits: Limits | None
    also: Sequence[Process] = ()

    @property
    def zone(self) -> ZoneInfo:
        return self.demand.openings[0].zone

    def against(self, span: Span, *, now: datetime) -> str | None:
        """Why the class cannot be held then, in words; None where it can."""
        try:
            rules.check_span(span, openings=self.demand.openings, now=now)
            if self.limits is not None:
                fair_use.check(span, limits=self.limits, others=(), now=now, zone=self.zone, is_class=True)
        except rules.BookingRefused as refusal:
            return str(refusal)
        for need in self.demand.needs:
            free = sum(
                not any(other.overlaps(need.held(span)) for other in self.taken.get(unit, ())) for unit in need.unit_ids
            )
            if free < need.wanted:
                return f"{need.place}: {free or 'none'} free, {need.wanted} needed."
        return self.demand.why_full(span)

    def nearest(self, span: Span, *, now: datetime) -> list[Span]:
        """The nearest times at which all of it is free."""
        return nearest_free(span, demand=self.demand, taken=self.taken, now=now)

    def take(self, span: Span) -> list[tuple[int, Span]]:
        """Take the units for a span: each with the time held; nothing where not all is free."""
        by_need = [(need, choose_units(need, span=span, taken=self.taken)) for need in self.demand.needs]
        if not all(unit_ids for _, unit_ids in by_need):
            return []
        held = [(unit_id, need.held(span)) for need, unit_ids in by_need for unit_id in unit_ids]
        for unit_id, time in held:
            self.taken[unit_id].append(time)
        return held


class TermTaken(rules.BookingRefused):
    """Some of the times cannot be booked after all; nothing was booked."""

    def __init__(self, lost: Mapping[Span, str], *, zone: ZoneInfo):
        some = [f"{rules.span_in_words(span, zone=zone)}: {why}" for span, why in lost.items()]
        more = f" And {len(some) - SAID} more." if len(some) > SAID else ""
        super().__init__(f"Not any more: {' '.join(some[:SAID])}{more} Nothing was booked. Look again and choose.")


def ground(session: DbSession, *, wanted: ClassWanted, spans: Sequence[Span], but_for: Sequence[int] = ()) -> Ground:
    """The place of a class over all these spans. Raises NotFound or BookingRefused. Nothing is locked."""
    stations_by_id = {station.id: station for station in places.stations(session)}
    first = stations_by_id.get(wanted.station_id) or places.station_or_raise(session, wanted.station_id)
    stations = [first, *(stations_by_id.get(row.brings_id, row.brings) for row in first.brings)]
    for station in stations:
        if station.closed_at is not None:
            raise rules.BookingRefused(f"{station.name} is out of use. Choose another place.", field="station")
    within = Span(min(span.start for span in spans) - _AROUND, max(span.end for span in spans) + _AROUND)
    calendar = places.calendar(session, within=within)
    units = [unit for station in stations for unit in station.units]
    there = queries.present(session, room_ids={station.room_id for station in stations}, within=within, but_for=but_for)
    like = Booking(units=wanted.units, class_name=wanted.class_name, students=wanted.students, teachers=wanted.teachers)
    demand = demand_of(like, stations=stations, units=units, calendar=calendar, there=there)
    for need in demand.needs:
        rules.check_units(need.wanted, place=need.place, have=len(need.unit_ids))
    process = processes.process_or_raise(session, wanted.plan.process_id) if wanted.plan.process_id else None
    taken = queries.taken(
        session, unit_ids=[unit.id for unit in units], within=within, but_for=but_for, closed=calendar.closed_units
    )
    limits = None if wanted.override else limits_of(session, session.get_one(Person, wanted.person_id))
    every_work = gate.work_by_process(session).values() if process is None else ()
    subjects = gate.subjects_of(stations=stations, process=process, every_work=every_work)
    also = [processes.process_or_raise(session, process_id) for process_id in wanted.also]
    return Ground(stations, demand, taken, process, [*subjects, *map(gate.work_of, also)], limits, also)


def not_cleared(
    session: DbSession, *, person_id: int, subjects: Sequence[Subject], spans: Sequence[Span], now: datetime
) -> dict[Span, str]:
    """The spans which somebody may not work through, and why. Who may at the last may at all: a lapse stays one."""

    def missing(at: datetime) -> str:
        answers = gate.clearances(session, person_ids=[person_id], subjects=subjects, at=at, now=now)
        lacked = joined(missing for subject in subjects for missing in answers[person_id, subject].missing)
        return " ".join([*(missing.sentence_for_others for missing in lacked), *not_decided(lacked)])

    last = max(span.end for span in spans)
    if not missing(last):
        return {}
    return {span: why for span in spans if (why := missing(span.end))}


def lock_ground(session: DbSession, station_id: int) -> None:
    """Keep a place, what comes with it and all their units from being booked until the act is over."""
    places.lock_stations(session, [station_id])
    station = places.station_or_raise(session, station_id)
    station_ids = [station_id, *(row.brings_id for row in station.brings)]
    stations = places.lock_stations(session, station_ids)
    places.lock_units(session, station_ids)
    places.lock_rooms(session, {locked.room_id for locked in stations})


def book_all(act: Act, *, person: Person, wanted: ClassWanted, spans: Sequence[Span]) -> dict[Span, Booking]:
    """Step: book a class at all these times or at none, and tell the record. Mails nobody. Its limits are `person`'s.

    Raises NotPermitted, NotFound, BookingRefused, TermTaken, NotCleared or NotOpen.
    """
    check_may_hold(act, person)
    lock_ground(act.session, wanted.station_id)
    where = ground(act.session, wanted=wanted, spans=spans)
    asked = Asked(
        *(Occasion.BOOK, person, where.stations, where.process, spans, wanted.units, wanted.class_name), also=where.also
    )
    require_all(act, asked)
    held: dict[Span, list[tuple[int, Span]]] = {}
    lost: dict[Span, str] = {}
    for span in spans:
        if (why := where.against(span, now=act.now)) is None:
            held[span] = where.take(span)
        else:
            lost[span] = why
    if lost:
        raise TermTaken(lost, zone=where.zone)
    made = {span: _booking(act, person=person, wanted=wanted, span=span, process=where.process) for span in spans}
    act.session.add_all(made.values())
    act.session.flush()
    _insert_holds(act.session, made, held, zone=where.zone)
    for booking in made.values():
        act.tell("class.booked", about=booking, facts=facts_of(booking))
    return made


def count_anew(act: Act, booked: Sequence[Booking], *, wanted: ClassWanted) -> None:
    """Step: so many people come to these bookings of a class now. Raises BookingRefused where a room is too full."""
    if not booked:
        return
    lock_ground(act.session, wanted.station_id)
    spans = [Span(booking.starts_at, booking.ends_at) for booking in booked]
    where = ground(act.session, wanted=wanted, spans=spans, but_for=[booking.id for booking in booked])
    for booking, span in zip(booked, spans, strict=True):
        if (why := where.demand.why_full(span)) is not None:
            raise rules.BookingRefused(f"{rules.span_in_words(span, zone=where.zone)}: {why}", field="roster")
        booking.students, booking.teachers = wanted.students, wanted.teachers
    act.session.flush()


def _insert_holds(
    session: DbSession, made: Mapping[Span, Booking], held: Mapping[Span, Sequence[tuple[int, Span]]], *, zone: ZoneInfo
) -> None:
    rows = [
        {"booking_id": booking.id, "unit_id": unit_id, "starts_at": time.start, "ends_at": time.end}
        for span, booking in made.items()
        for unit_id, time in held[span]
    ]
    try:
        with session.begin_nested():
            session.execute(insert(Hold), rows)
    except IntegrityError as error:
        if not violates(error, NO_OVERLAP):
            raise
        raise TermTaken(dict.fromkeys(made, "somebody books there at this moment."), zone=zone) from error
    for booking in made.values():
        session.expire(booking, ["holds"])


def _booking(act: Act, *, person: Person, wanted: ClassWanted, span: Span, process: Process | None) -> Booking:
    booking = Booking(
        person=person,
        station_id=wanted.station_id,
        units=wanted.units,
        class_name=wanted.class_name,
        students=wanted.students,
        teachers=wanted.teachers,
        starts_at=span.start,
        ends_at=span.end,
        made_at=act.now,
        made_by_id=act.actor.id,
    )
    booking.override_reason = wanted.override
    booking.also_rows = [BookingProcess(process_id=process_id) for process_id in wanted.also]
    put_plan(booking, wanted.plan, process)
    return booking
