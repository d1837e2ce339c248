"""The board: one day as a table of places by quarter-hours, and the same day as a list by time. Plain data."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from itertools import groupby
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import func, select
from sqlalchemy.orm import aliased

from labsys.bookings.cells import Cell, CellKind, Frame, Part, Shown, cells_of, joined
from labsys.bookings.models import Booking, Hold, Supervision, Wait
from labsys.bookings.queries import LONGEST_HOLD
from labsys.bookings.rules import SHORTEST, closed_in_words, used_until
from labsys.bookings.words import moment, plan_in_words
from labsys.database import DbSession
from labsys.people.models import Person
from labsys.people.permissions import Permission, may
from labsys.places import queries as places
from labsys.places.calendar import Calendar
from labsys.places.models import Station, StationUnit
from labsys.processes.models import Process
from labsys.timetable.local_time import clock_words, end_words, to_local
from labsys.timetable.opening import QUARTER, day_span, quarters
from labsys.timetable.spans import Span, merged


@dataclass(frozen=True)
class BoardRow:
    """One unit; the last row may stand for `also` more units below it that nobody uses that day."""

    number: int
    cells: tuple[Cell, ...]
    also: int = 0

    @property
    def label(self) -> str:
        return f"{self.number}–{self.number + self.also}" if self.also else str(self.number)


@dataclass(frozen=True)
class FreeTime:
    """A stretch in which at least one unit of a station is free."""

    times: str
    book_at: str


@dataclass(frozen=True)
class BoardStation:
    station_id: int
    name: str
    note: str
    rows: tuple[BoardRow, ...]
    free: tuple[FreeTime, ...]


@dataclass(frozen=True)
class Hour:
    """The head of some columns: the quarter-hours of one hour on the clock."""

    label: str
    quarters: int
    is_now: bool


@dataclass(frozen=True)
class Board:
    """One day. Without stations or hours it says why in `closed`."""

    day: date
    is_today: bool
    hours: tuple[Hour, ...]
    stations: tuple[BoardStation, ...]
    bookings: tuple[Shown, ...]
    offers: tuple[Shown, ...]
    opening: str
    closed: tuple[str, ...]

    @property
    def quarters(self) -> int:
        return sum(hour.quarters for hour in self.hours)

    @property
    def here(self) -> int:
        return sum(booking.is_here for booking in self.bookings)


def board(
    session: DbSession,
    *,
    day: date,
    zone: ZoneInfo,
    viewer: Person,
    now: datetime,
    calendar: Calendar | None = None,
    every: Sequence[Station] | None = None,
) -> Board:
    """Read one day as it is for a viewer: a fixed number of queries, whatever is booked.

    A calendar that holds the day, and all stations with their units, need not be read twice.
    """
    whole = day_span(day, zone=zone)
    calendar = calendar or places.calendar(session, within=whole, zone=zone, now=now)
    rows = _holds(session, whole)
    busy = {row.unit_station_id for row in rows}
    every = places.stations_with_units(session) if every is None else every
    stations = [station for station in every if station.closed_at is None or station.id in busy]
    sees_plans = may(viewer, Permission.BOOK_FOR_OTHERS)
    at_tablet = viewer.confined_to is not None  # where nothing tells who is under 18
    shown = {
        _whose(row): _shown(row, is_mine=row.person_id == viewer.id, sees_plans=sees_plans, zone=zone, now=now)
        for row in rows
    }
    if at_tablet:
        shown = {booking_id: replace(seen, is_suspended=False) for booking_id, seen in shown.items()}
    parts: dict[int, list[Part]] = {}
    for row in rows:
        parts.setdefault(row.unit_id, []).extend(_parts(row, shown[_whose(row)]))
    in_order = sorted(shown.values(), key=lambda seen: (seen.starts_at, seen.station, seen.booking_id, seen.wait_id))
    lab = calendar.lab
    open_at = {station.id: tuple(calendar.of(station).on(day)) for station in stations}
    used = merged(
        [
            *lab.on(day),
            *(span for opened in open_at.values() for span in opened),
            *(_clipped(part.span, whole) for of_unit in parts.values() for part in of_unit),
        ]
    )
    columns = tuple(quarters(Span(used[0].start, used[-1].end))) if used else ()
    frames = {opened: Frame(columns, opened, zone, now) for opened in {*open_at.values(), tuple(lab.on(day))}}
    return Board(
        day=day,
        is_today=to_local(now, zone=zone).date() == day,
        hours=tuple(_hours(frames[tuple(lab.on(day))])),
        stations=tuple(
            _station(station, parts=parts, frame=frames[open_at[station.id]], calendar=calendar) for station in stations
        )
        if columns
        else (),
        bookings=tuple(seen for seen in in_order if not seen.is_offer),
        offers=tuple(seen for seen in in_order if seen.is_offer),
        opening=lab.in_words(day),
        closed=_closed(calendar, whole),
    )


def _holds(session: DbSession, whole: Span) -> Sequence[Any]:
    """Each hold of a day with what is shown of its booking or offer: columns, since a busy day has hundreds."""
    booked = aliased(Station)
    person_id = func.coalesce(Booking.person_id, Wait.person_id)
    station_id = func.coalesce(Booking.station_id, Wait.station_id)
    query = (
        select(
            *(Hold.unit_id, Hold.starts_at.label("held_from"), Hold.ends_at.label("held_until")),
            *(Hold.booking_id, Hold.wait_id, person_id.label("person_id"), station_id.label("station_id")),
            *(Booking.units, Booking.class_name, Booking.starts_at, Booking.ends_at),
            *(Booking.arrived_at, Booking.left_at, Booking.planned_size, Booking.planned_count),
            *(Wait.offer_starts_at, Wait.minutes, Wait.offered_until),
            StationUnit.station_id.label("unit_station_id"),
            booked.name.label("station_name"),
            Person.name.label("person_name"),
            Process.name.label("process_name"),
            Supervision.suspended_at,
        )
        .outerjoin(Booking, Hold.booking_id == Booking.id)
        .outerjoin(Wait, Hold.wait_id == Wait.id)
        .join(Hold.unit)
        .join(booked, booked.id == station_id)
        .join(Person, Person.id == person_id)
        .outerjoin(Process, Booking.process_id == Process.id)
        .outerjoin(Booking.supervision)
        .where(Hold.starts_at < whole.end, Hold.starts_at > whole.start - LONGEST_HOLD, Hold.ends_at > whole.start)
        .order_by(Hold.starts_at, Hold.id)
    )
    return session.execute(query).all()


def _whose(row: Any) -> tuple[int, int]:
    """What tells the bookings and offers of a day apart."""
    return row.booking_id or 0, row.wait_id or 0


def _shown(row: Any, *, is_mine: bool, sees_plans: bool, zone: ZoneInfo, now: datetime) -> Shown:
    if row.wait_id is not None:
        return _shown_offer(row, is_mine=is_mine, may_open=is_mine or sees_plans, zone=zone)
    plan = plan_in_words(count=row.planned_count, size=row.planned_size, process=row.process_name or "")
    until = used_until(starts_at=row.starts_at, ends_at=row.ends_at, left_at=row.left_at)
    is_here = row.arrived_at is not None and row.left_at is None
    return Shown(
        booking_id=row.booking_id,
        name=row.person_name,
        plan=plan if is_mine or sees_plans else "",
        station=row.station_name,
        units=row.units,
        times=f"{clock_words(row.starts_at, zone=zone)} to {end_words(until, start=row.starts_at, zone=zone)}",
        is_mine=is_mine,
        is_class=bool(row.class_name),
        class_name=row.class_name,
        is_here=is_here,
        has_left=row.left_at is not None,
        is_suspended=row.suspended_at is not None and (is_mine or sees_plans),
        is_past=until <= now and not is_here,
        starts_at=row.starts_at,
        ends_at=until,
    )


def _shown_offer(row: Any, *, is_mine: bool, may_open: bool, zone: ZoneInfo) -> Shown:
    span = Span(row.offer_starts_at, row.offer_starts_at + timedelta(minutes=row.minutes))
    return Shown(
        booking_id=0,
        name=row.person_name,
        plan="",
        station=row.station_name,
        units=1,
        times=f"{clock_words(span.start, zone=zone)} to {end_words(span.end, start=span.start, zone=zone)}",
        is_mine=is_mine,
        is_class=False,
        class_name="",
        is_here=False,
        has_left=False,
        is_past=False,
        starts_at=span.start,
        ends_at=span.end,
        wait_id=row.wait_id,
        offered_until=moment(row.offered_until, zone=zone),
        may_open=may_open,
    )


def _parts(row: Any, shown: Shown) -> Iterable[Part]:
    """A hold as work and the clearing up after it."""
    until = min(row.held_until, shown.ends_at)
    if row.unit_station_id != row.station_id:
        shown = replace(shown, with_station=shown.station)
    yield Part(CellKind.BOOKED, Span(row.held_from, until), shown)
    if until < row.held_until:
        yield Part(CellKind.MARGIN, Span(until, row.held_until), shown)


def _clipped(span: Span, whole: Span) -> Span:
    """The part of a span within a day; what only touches the day counts as its nearest quarter-hour."""
    start = min(max(span.start, whole.start), whole.end - QUARTER)
    return Span(start, max(min(span.end, whole.end), start + QUARTER))


def _hours(frame: Frame) -> Iterable[Hour]:
    for (_hour, fold), grouped in groupby(frame.columns, key=frame.hour):
        group = list(grouped)
        local = to_local(group[0], zone=frame.zone)
        label = f"{local:%H}" if local.minute == 0 else f"{local:%H:%M}"
        is_now = group[0] <= frame.now < group[-1] + QUARTER
        yield Hour(f"{label} again" if fold else label, len(group), is_now)


def _station(station: Station, *, parts: dict[int, list[Part]], frame: Frame, calendar: Calendar) -> BoardStation:
    in_use = station.closed_at is None
    units = [unit for unit in station.every_unit if unit.removed_at is None or unit.id in parts]
    drawn = [
        cells_of(
            parts.get(unit.id, []),
            frame=frame,
            in_use=in_use and unit.removed_at is None,
            closed=calendar.of_unit(unit.id),
        )
        for unit in units
    ]
    rows = [BoardRow(unit.number, cells) for unit, cells in zip(units, joined(drawn), strict=True)]
    return BoardStation(station.id, station.name, station.note, _folded(rows, drawn), tuple(_free(drawn, frame=frame)))


def _folded(rows: Sequence[BoardRow], drawn: Sequence[Sequence[Cell]]) -> tuple[BoardRow, ...]:
    """Draw the units at the end that nobody uses as one row: the lowest free unit is always the next to be taken."""
    kept = len(rows)
    while kept > 1 and not any(cell.booking or cell.why for cells in drawn[kept - 2 : kept] for cell in cells):
        kept -= 1
    return (*rows[: kept - 1], replace(rows[kept - 1], also=len(rows) - kept)) if rows else ()


def _free(drawn: Sequence[Sequence[Cell]], *, frame: Frame) -> Iterable[FreeTime]:
    """When at least one unit is free for half an hour or more, and not past."""
    free = [cell.span for cells in drawn for cell in cells if cell.kind is CellKind.FREE and not cell.is_past]
    for span in merged(free):
        if span.length >= SHORTEST:
            yield FreeTime(frame.times(span), frame.book_at(span.start))


def _closed(calendar: Calendar, whole: Span) -> tuple[str, ...]:
    """What is closed on a day or for a part of it, and why."""
    return tuple(
        closed_in_words(closed, zone=calendar.zone) for closed in calendar.closures if closed.span.overlaps(whole)
    )
