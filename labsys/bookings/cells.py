"""The cells of a board: what each unit is used for, quarter-hour by quarter-hour. Plain data."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum
from functools import cached_property
from itertools import groupby
from zoneinfo import ZoneInfo

from labsys.bookings.rules import SHORTEST, USUAL_LENGTH
from labsys.places.calendar import Closed
from labsys.timetable.local_time import clock_words, to_local
from labsys.timetable.opening import QUARTER
from labsys.timetable.spans import Span


class CellKind(StrEnum):
    FREE = "free"
    CLOSED = "closed"
    BOOKED = "booked"
    MARGIN = "margin"


@dataclass(frozen=True)
class Shown:
    """A booking, or an offer, as the viewer may see it. The plan is for its person and those who book for others."""

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
    ends_at: datetime  # where somebody left early, when they did
    with_station: str = ""
    is_suspended: bool = False  # as its person and those who book for others see it
    wait_id: int = 0
    offered_until: str = ""  # of an offer
    may_open: bool = True

    @property
    def is_offer(self) -> bool:
        return bool(self.wait_id)

    @property
    def state(self) -> str:
        if self.is_suspended:
            return "suspended"
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
    book_until: str = ""  # and the end, two hours later or where it is free no longer


@dataclass(frozen=True)
class Part:
    """What a unit is used for over some time: work or clearing up."""

    kind: CellKind
    span: Span
    booking: Shown


Use = tuple[CellKind, Part | None, object]  # of one quarter-hour; quarters of equal use are one cell


@dataclass(frozen=True)
class Frame:
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
    def idle(self) -> tuple[Use, ...]:
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
        end = self.words[span.end]
        return f"{self.words[span.start]} to {'24:00' if end == '00:00' else end}"

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


def cells_of(parts: Sequence[Part], *, frame: Frame, in_use: bool, closed: Sequence[Closed]) -> list[Cell]:
    """One unit's quarters as cells: bookings and margins whole, free time by the hour."""
    if in_use and not parts and not closed:
        return frame.idle_cells
    uses: list[Use] = list(frame.idle) if in_use else [(CellKind.CLOSED, None, None)] * len(frame.columns)
    for of_unit in closed:
        for place in frame.reach(of_unit.span):
            uses[place] = (CellKind.CLOSED, None, of_unit.reason)
    for part in reversed(parts):  # where two touch one quarter, the first is shown
        for place in frame.reach(part.span):
            uses[place] = (part.kind, part, None)
    return _drawn(uses, frame=frame)


def _drawn(uses: Sequence[Use], *, frame: Frame) -> list[Cell]:
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
        book_until = to_local(span.start + min(free, USUAL_LENGTH), zone=frame.zone) if book_at else None
        why = str(detail) if kind is CellKind.CLOSED and detail else ""
        until = f"{book_until:%H:%M}" if book_until else ""
        times = frame.times(span)
        cells.append(Cell(kind, span, count, times, is_past, booking, why=why, book_at=book_at, book_until=until))
    return cells[::-1]


def joined(drawn: Sequence[Sequence[Cell]]) -> list[tuple[Cell, ...]]:
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
