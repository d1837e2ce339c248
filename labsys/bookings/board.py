"""The board: one day as a table of places by quarter-hours, and the same day as a list by time. Plain data."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from enum import StrEnum
from functools import cached_property
from itertools import groupby
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy import select
from sqlalchemy.orm import aliased

from labsys.bookings.models import Booking, Hold
from labsys.bookings.queries import LONGEST_HOLD
from labsys.bookings.rules import SHORTEST, closed_in_words, used_until
from labsys.bookings.words import plan_in_words
from labsys.database import DbSession
from labsys.people.models import Person
from labsys.people.permissions import Permission, may
from labsys.places import queries as places
from labsys.places.calendar import Calendar, Closed
from labsys.places.models import Station, StationUnit
from labsys.processes.models import Process
from labsys.timetable.local_time import clock_words, to_local
from labsys.timetable.opening import QUARTER, day_span, quarters
from labsys.timetable.spans import Span, merged


class CellKind(StrEnum):
    FREE = "free"
    CLOSED = "closed"
    BOOKED = "booked"
    MARGIN = "margin"


@dataclass(frozen=True)
class Shown:
    """A booking as the viewer may see it. The plan is for its person and those who book for others."""

    booking_id: int
    name: str
    plan: str
    station: str
    units: int
    times: str
    is_mine: bool
    is_class: bool
    class_name: str
    is_here: bool
    has_left: bool
    is_past: bool
    starts_at: datetime
    with_station: str = ""

    @property
    def state(self) -> str:
        return "here now" if self.is_here else "left" if self.has_left else ""


@dataclass(frozen=True)
class Cell:
    """Some quarter-hours of one unit, and of the units below it where a class takes several."""

    kind: CellKind
    span: Span
    colspan: int
    times: str
    is_past: bool
    booking: Shown | None = None
    rowspan: int = 1
    why: str = ""  # why this unit alone is closed
    book_at: str = ""  # the start to fill in where it can be booked, as 14:15


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
    opening: str
    closed: tuple[str, ...]

    @property
    def quarters(self) -> int:
        return sum(hour.quarters for hour in self.hours)

    @property
    def here(self) -> int:
        return sum(booking.is_here for booking in self.bookings)


@dataclass(frozen=True)
class _Part:
    """What a unit is used for over some time: work or clearing up."""

    kind: CellKind
    span: Span
    booking: Shown


_Use = tuple[CellKind, _Part | None, object]  # of one quarter-hour; quarters of equal use are one cell


@dataclass(frozen=True)
class _Frame:
    """What every cell of a room is drawn against. What does not depend on the unit is worked out once for all."""

    columns: tuple[datetime, ...]
    opened: tuple[Span, ...]  # of the room
    zone: ZoneInfo
    now: datetime

    @cached_property
    def local(self) -> dict[datetime, datetime]:
        """The clock on the wall at the start of each quarter-hour."""
        return {quarter: to_local(quarter, zone=self.zone) for quarter in self.columns}

    @cached_property
    def words(self) -> dict[datetime, str]:
        """That clock in words, also at the end of the last."""
        edges = (*self.columns, self.columns[-1] + QUARTER)
        return {edge: clock_words(edge, zone=self.zone) for edge in edges}

    @cached_property
    def idle(self) -> tuple[_Use, ...]:
        """Each quarter-hour of a unit that nobody uses: closed, or free by the hour, each hour a target."""
        return tuple(
            (CellKind.FREE, None, (self.is_past(quarter), self.hour(quarter)))
            if any(span.start <= quarter and quarter + QUARTER <= span.end for span in self.opened)
            else (CellKind.CLOSED, None, None)
            for quarter in self.columns
        )

    @cached_property
    def idle_cells(self) -> list["Cell"]:
        return _drawn(self.idle, frame=self)

    def is_past(self, quarter: datetime) -> bool:
        return quarter + QUARTER <= self.now

    def times(self, span: Span) -> str:
        return f"{self.words[span.start]} to {self.words[span.end]}"

    def hour(self, quarter: datetime) -> tuple[int, int]:
        local = self.local[quarter]
        return local.hour, local.fold

    def book_at(self, quarter: datetime) -> str:
        """The time to put into a form, or nothing in the second of two equal hours, which a form cannot name."""
        local = self.local[quarter]
        return "" if local.fold else f"{local:%H:%M}"

    def reach(self, span: Span) -> range:
        """The places of the quarter-hours that a span touches."""
        first = (span.start - self.columns[0]) // QUARTER
        last = -((self.columns[0] - span.end) // QUARTER)
        return range(max(first, 0), min(last, len(self.columns)))


def board(session: DbSession, *, day: date, zone: ZoneInfo, viewer: Person, now: datetime) -> Board:
    """Read one day as it is for a viewer: a fixed number of queries, whatever is booked."""
    whole = day_span(day, zone=zone)
    calendar = places.calendar(session, within=whole, zone=zone)
    rows = _holds(session, whole)
    busy = {row.unit_station_id for row in rows}
    every = places.stations_with_units(session)
    stations = [station for station in every if station.closed_at is None or station.id in busy]
    booked = {row.booking_id: row for row in rows}
    sees_plans = may(viewer, Permission.BOOK_FOR_OTHERS)
    shown = {
        booking_id: _shown(row, is_mine=row.person_id == viewer.id, sees_plans=sees_plans, zone=zone, now=now)
        for booking_id, row in booked.items()
    }
    parts: dict[int, list[_Part]] = {}
    for row in rows:
        parts.setdefault(row.unit_id, []).extend(_parts(row, shown[row.booking_id]))
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
    frames = {opened: _Frame(columns, opened, zone, now) for opened in {*open_at.values(), tuple(lab.on(day))}}
    return Board(
        day=day,
        is_today=to_local(now, zone=zone).date() == day,
        hours=tuple(_hours(frames[tuple(lab.on(day))])),
        stations=tuple(
            _station(station, parts=parts, frame=frames[open_at[station.id]], calendar=calendar) for station in stations
        )
        if columns
        else (),
        bookings=tuple(sorted(shown.values(), key=lambda seen: (seen.starts_at, seen.station, seen.booking_id))),
        opening=lab.in_words(day),
        closed=_closed(calendar, whole),
    )


def _holds(session: DbSession, whole: Span) -> Sequence[Any]:
    """Each hold of a day with what is shown of its booking: columns, since a busy day has hundreds."""
    booked = aliased(Station)
    query = (
        select(
            *(Hold.unit_id, Hold.starts_at.label("held_from"), Hold.ends_at.label("held_until")),
            *(Booking.id.label("booking_id"), Booking.person_id, Booking.station_id, Booking.units, Booking.class_name),
            *(Booking.starts_at, Booking.ends_at, Booking.arrived_at, Booking.left_at),
            *(Booking.planned_size, Booking.planned_count),
            StationUnit.station_id.label("unit_station_id"),
            booked.name.label("station_name"),
            Person.name.label("person_name"),
            Process.name.label("process_name"),
        )
        .join(Hold.booking)
        .join(Hold.unit)
        .join(booked, Booking.station_id == booked.id)
        .join(Person, Booking.person_id == Person.id)
        .outerjoin(Process, Booking.process_id == Process.id)
        .where(Hold.starts_at < whole.end, Hold.starts_at > whole.start - LONGEST_HOLD, Hold.ends_at > whole.start)
        .order_by(Hold.starts_at, Hold.id)
    )
    return session.execute(query).all()


def _shown(row: Any, *, is_mine: bool, sees_plans: bool, zone: ZoneInfo, now: datetime) -> Shown:
    plan = plan_in_words(count=row.planned_count, size=row.planned_size, process=row.process_name or "")
    until = used_until(starts_at=row.starts_at, ends_at=row.ends_at, left_at=row.left_at)
    is_here = row.arrived_at is not None and row.left_at is None
    return Shown(
        booking_id=row.booking_id,
        name=row.person_name,
        plan=plan if is_mine or sees_plans else "",
        station=row.station_name,
        units=row.units,
        times=f"{clock_words(row.starts_at, zone=zone)} to {clock_words(until, zone=zone)}",
        is_mine=is_mine,
        is_class=bool(row.class_name),
        class_name=row.class_name,
        is_here=is_here,
        has_left=row.left_at is not None,
        is_past=until <= now and not is_here,
        starts_at=row.starts_at,
    )


def _parts(row: Any, shown: Shown) -> Iterable[_Part]:
    """A hold as work and the clearing up after it."""
    used = used_until(starts_at=row.starts_at, ends_at=row.ends_at, left_at=row.left_at)
    until = min(row.held_until, used)
    if row.unit_station_id != row.station_id:
        shown = replace(shown, with_station=shown.station)
    yield _Part(CellKind.BOOKED, Span(row.held_from, until), shown)
    if until < row.held_until:
        yield _Part(CellKind.MARGIN, Span(until, row.held_until), shown)


def _clipped(span: Span, whole: Span) -> Span:
    """The part of a span within a day; what only touches the day counts as its nearest quarter-hour."""
    start = min(max(span.start, whole.start), whole.end - QUARTER)
    return Span(start, max(min(span.end, whole.end), start + QUARTER))


def _hours(frame: _Frame) -> Iterable[Hour]:
    for (_hour, fold), grouped in groupby(frame.columns, key=frame.hour):
        group = list(grouped)
        local = to_local(group[0], zone=frame.zone)
        label = f"{local:%H}" if local.minute == 0 else f"{local:%H:%M}"
        is_now = group[0] <= frame.now < group[-1] + QUARTER
        yield Hour(f"{label} again" if fold else label, len(group), is_now)


def _station(station: Station, *, parts: dict[int, list[_Part]], frame: _Frame, calendar: Calendar) -> BoardStation:
    in_use = station.closed_at is None
    units = [unit for unit in station.every_unit if unit.removed_at is None or unit.id in parts]
    drawn = [
        _cells(
            parts.get(unit.id, []),
            frame=frame,
            in_use=in_use and unit.removed_at is None,
            closed=calendar.of_unit(unit.id),
        )
        for unit in units
    ]
    rows = [BoardRow(unit.number, cells) for unit, cells in zip(units, _joined(drawn), strict=True)]
    return BoardStation(station.id, station.name, station.note, _folded(rows, drawn), tuple(_free(drawn, frame=frame)))


def _folded(rows: Sequence[BoardRow], drawn: Sequence[Sequence[Cell]]) -> tuple[BoardRow, ...]:
    """Draw the units at the end that nobody uses as one row: the lowest free unit is always the next to be taken."""
    kept = len(rows)
    while kept > 1 and not any(cell.booking or cell.why for cells in drawn[kept - 2 : kept] for cell in cells):
        kept -= 1
    return (*rows[: kept - 1], replace(rows[kept - 1], also=len(rows) - kept)) if rows else ()


def _cells(parts: Sequence[_Part], *, frame: _Frame, in_use: bool, closed: Sequence[Closed]) -> list[Cell]:
    """One unit's quarters as cells: bookings and margins whole, free time by the hour."""
    if in_use and not parts and not closed:
        return frame.idle_cells
    uses: list[_Use] = list(frame.idle) if in_use else [(CellKind.CLOSED, None, None)] * len(frame.columns)
    for of_unit in closed:
        for place in frame.reach(of_unit.span):
            uses[place] = (CellKind.CLOSED, None, of_unit.reason)
    for part in reversed(parts):  # where two touch one quarter, the first is shown
        for place in frame.reach(part.span):
            uses[place] = (part.kind, part, None)
    return _drawn(uses, frame=frame)


def _drawn(uses: Sequence[_Use], *, frame: _Frame) -> list[Cell]:
    """Cells from the last to the first, so that each knows how long it is free from there."""
    cells: list[Cell] = []
    free = timedelta()
    end = len(uses)
    for (kind, part, detail), alike in groupby(reversed(uses)):
        count = len(list(alike))
        span = Span(frame.columns[end - count], frame.columns[end - 1] + QUARTER)
        end -= count
        booking = part.booking if part else None
        is_past = span.end <= frame.now and not (booking and booking.is_here)
        free = free + span.length if kind is CellKind.FREE else timedelta()
        may_book = kind is CellKind.FREE and not is_past and free >= SHORTEST
        book_at = frame.book_at(span.start) if may_book else ""
        why = str(detail) if kind is CellKind.CLOSED and detail else ""
        cells.append(Cell(kind, span, count, frame.times(span), is_past, booking, why=why, book_at=book_at))
    return cells[::-1]


def _joined(drawn: Sequence[Sequence[Cell]]) -> list[tuple[Cell, ...]]:
    """Let the cells of one class that stand below each other be one cell of several rows."""

    def same(cell: Cell, other: Cell | None) -> bool:
        return (
            other is not None
            and cell.booking is not None
            and other.booking is not None
            and cell.booking.is_class
            and (cell.kind, cell.span, cell.booking.booking_id) == (other.kind, other.span, other.booking.booking_id)
        )

    at = [{cell.span.start: cell for cell in cells} for cells in drawn]
    joined = []
    for number, cells in enumerate(drawn):
        kept = []
        for cell in cells:
            if number and same(cell, at[number - 1].get(cell.span.start)):
                continue
            rows = 1
            while number + rows < len(at) and same(cell, at[number + rows].get(cell.span.start)):
                rows += 1
            kept.append(cell if rows == 1 else replace(cell, rowspan=rows))
        joined.append(tuple(kept))
    return joined


def _free(drawn: Sequence[Sequence[Cell]], *, frame: _Frame) -> Iterable[FreeTime]:
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
