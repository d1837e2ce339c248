"""What is free: which units of a place at a time, and what is free instead. Plain values."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from labsys.bookings.rules import next_quarter
from labsys.places.calendar import Opening
from labsys.timetable.opening import QUARTER
from labsys.timetable.spans import Span, common

LOOK_AROUND = timedelta(days=3)  # how far from the time wanted another is offered
Taken = Mapping[int, Sequence[Span]]


@dataclass(frozen=True)
class UnitsWanted:
    """Units wanted of one station: its units in the order in which to try them, and its time to clear up."""

    place: str
    unit_ids: tuple[int, ...]
    margin: timedelta
    wanted: int = 1

    def held(self, span: Span) -> Span:
        """What is taken of a unit for a booking of this span."""
        return Span(span.start, span.end + self.margin)


@dataclass(frozen=True)
class Present:
    """People of one booking in a room, clearing up included; `taught` are the students among them."""

    span: Span
    people: int
    taught: int


@dataclass(frozen=True)
class RoomShare:
    """The people whom a booking brings into a room, and those who are booked in it already."""

    name: str
    most_people: int | None
    most_taught: int | None
    people: int
    taught: int
    margin: timedelta
    there: Sequence[Present]

    def why_full(self, span: Span) -> str | None:
        """Why these people do not fit in as well at some time of a span, or None where they do.

        For fire everybody counts, whoever teaches too; a limit that is not stated limits nothing.
        """
        held = Span(span.start, span.end + self.margin)
        meeting = [present for present in self.there if present.span.overlaps(held)]
        moments = {held.start, *(present.span.start for present in meeting if present.span.start > held.start)}
        # The most there are at one time is reached where somebody comes, or at the start.
        at_once = [[one for one in meeting if one.span.start <= moment < one.span.end] for moment in moments]
        people = max(sum(one.people for one in there) for there in at_once)
        taught = max(sum(one.taught for one in there) for there in at_once)
        if self.most_people and people + self.people > self.most_people:
            most = "one person" if self.most_people == 1 else f"{self.most_people} people"
            return f"{self.name} is full then: {most} at most, for fire."
        if self.most_taught and self.taught and taught + self.taught > self.most_taught:
            return f"{self.name} takes {self.most_taught} students at once, and that would be more."
        return None


@dataclass(frozen=True)
class Demand:
    """All that a booking takes at once: units of each place, each place being open, and room for its people."""

    needs: tuple[UnitsWanted, ...]
    openings: tuple[Opening, ...]
    rooms: tuple[RoomShare, ...] = ()

    def opened(self, span: Span) -> list[Span]:
        """When all the places are open, from the day before a span to the day after."""
        first, *others = (opening.around(span) for opening in self.openings)
        for other in others:
            first = common(first, other)
        return first

    def fits(self, span: Span, *, taken: Taken) -> bool:
        """Whether everything is free for a span, where the places are open."""
        units = all(choose_units(need, span=span, taken=taken) for need in self.needs)
        return units and self.why_full(span) is None

    def why_full(self, span: Span) -> str | None:
        """The first room that would be over-full, in words."""
        return next((why for room in self.rooms if (why := room.why_full(span)) is not None), None)


def choose_units(wanted: UnitsWanted, *, span: Span, taken: Taken) -> tuple[int, ...]:
    """The first units that are free for a span and the clearing up after it; none at all where too few are."""
    held = wanted.held(span)
    free = [unit for unit in wanted.unit_ids if not any(other.overlaps(held) for other in taken.get(unit, ()))]
    return tuple(free[: wanted.wanted]) if len(free) >= wanted.wanted else ()


def nearest_free(
    wanted: Span,
    *,
    demand: Demand,
    taken: Taken,
    now: datetime,
    limit: int = 3,
    look_around: timedelta = LOOK_AROUND,
    also_busy: Sequence[Span] = (),
) -> list[Span]:
    """Free times as long as the one wanted and closest to it, apart from each other, in order of time.

    `also_busy` is when whoever wants it cannot come.
    """
    opened = demand.opened(Span(wanted.start - look_around, wanted.end + look_around))
    offered: list[Span] = []
    for start in sorted(_starts(opened, length=wanted.length, now=now), key=lambda start: abs(start - wanted.start)):
        span = Span(start, start + wanted.length)
        if abs(start - wanted.start) > look_around or len(offered) == limit:
            break
        if any(span.overlaps(other) for other in (*offered, *also_busy)):
            continue
        if demand.fits(span, taken=taken):
            offered.append(span)
    return sorted(offered)


def free_in(
    window: Span,
    *,
    length: timedelta,
    demand: Demand,
    taken: Taken,
    now: datetime,
    limit: int,
    also_busy: Sequence[Span] = (),
) -> list[Span]:
    """The first free times of a length within a stretch of time, apart from each other; each begins after now."""
    opened = common(demand.opened(window), [window])
    free: list[Span] = []
    for start in _starts(opened, length=length, now=now):
        span = Span(start, start + length)
        if start <= now or any(span.overlaps(other) for other in (*free, *also_busy)):
            continue
        if demand.fits(span, taken=taken):
            free.append(span)
        if len(free) == limit:
            break
    return free


def _starts(opened: Iterable[Span], *, length: timedelta, now: datetime) -> Iterable[datetime]:
    for span in opened:
        start = next_quarter(max(span.start, now))
        while start + length <= span.end:
            yield start
            start += QUARTER
