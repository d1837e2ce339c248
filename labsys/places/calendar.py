"""When the lab, a room or a place is open: its week, other hours of single days, and what closes it. Plain values."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from labsys.places.models import Station
from labsys.places.rules import hours_in_words
from labsys.timetable.local_time import to_local
from labsys.timetable.opening import Hours, open_spans
from labsys.timetable.spans import Span, merged

THE_LAB = "The lab"
FOR_GOOD = datetime(2200, 1, 1, tzinfo=UTC)  # nobody knows until when
OfDays = Mapping[date, tuple[Hours, ...]]


@dataclass(frozen=True)
class Closed:
    """Closed for a time although the hours say open: what, and why."""

    span: Span
    reason: str
    what: str = THE_LAB
    room_id: int | None = None
    station_id: int | None = None
    unit_id: int | None = None

    @property
    def is_of_lab(self) -> bool:
        return self.room_id is self.station_id is self.unit_id is None


@dataclass(frozen=True)
class Opening:
    """When the lab or a part of it is open: its week, days with other hours, and the closures that matter here."""

    hours: tuple[Hours, ...]
    closures: tuple[Closed, ...]
    zone: ZoneInfo
    special: OfDays = field(default_factory=dict)
    name: str = THE_LAB

    def hours_on(self, day: date) -> tuple[Hours, ...]:
        """The hours of a day as they are written: its own where it has some, else its weekday's."""
        return self.special.get(day) or tuple(hours for hours in self.hours if hours.weekday == day.weekday())

    def on(self, day: date) -> list[Span]:
        """When it is open on a day."""
        closures = [closed.span for closed in self.closures]
        return open_spans(day, hours=self.hours_on(day), closures=closures, zone=self.zone)

    def around(self, span: Span) -> list[Span]:
        """When it is open from the day before a span to the day after; open past midnight is one span."""
        first = to_local(span.start, zone=self.zone).date() - timedelta(days=1)
        last = to_local(span.end, zone=self.zone).date() + timedelta(days=1)
        return merged(
            opened for number in range((last - first).days + 1) for opened in self.on(first + timedelta(days=number))
        )

    def closed_because(self, span: Span) -> Closed | None:
        """The first closure that meets a span."""
        return next((closed for closed in self.closures if closed.span.overlaps(span)), None)

    def in_words(self, day: date) -> str:
        """The hours of a day, such as "10:00-13:00, 14:00-22:00", or an empty text."""
        return hours_in_words(self.hours_on(day))


@dataclass(frozen=True)
class Calendar:
    """All hours and closures that meet a stretch of time, to be asked about the lab or any part of it.

    Hours are by room, those of the lab under None. A room without hours of its own keeps the lab's. A day on which the
    lab has other hours has them in every room, but for those that have their own for that day.
    """

    hours: Mapping[int | None, tuple[Hours, ...]]
    special: Mapping[int | None, OfDays]
    closures: tuple[Closed, ...]
    zone: ZoneInfo

    @property
    def lab(self) -> Opening:
        """The lab as a whole."""
        whole = tuple(closed for closed in self.closures if closed.is_of_lab)
        return Opening(self.hours.get(None, ()), whole, self.zone, self.special.get(None, {}))

    def of(self, station: Station) -> Opening:
        """A place, in its room, in the lab. What is wrong with one of its units is not asked here."""
        closures = tuple(
            closed
            for closed in self.closures
            if closed.unit_id is None
            and closed.room_id in (None, station.room_id)
            and closed.station_id in (None, station.id)
        )
        own = self.hours.get(station.room_id)
        days = {**self.special.get(None, {}), **self.special.get(station.room_id, {})}
        hours = own or self.hours.get(None, ())
        has_own = bool(own or station.room_id in self.special)
        return Opening(hours, closures, self.zone, days, station.room.name if has_own else THE_LAB)

    def of_unit(self, unit_id: int) -> tuple[Closed, ...]:
        """What closes one unit alone."""
        return tuple(closed for closed in self.closures if closed.unit_id == unit_id)

    @property
    def closed_units(self) -> dict[int, list[Span]]:
        """When units are closed, by unit: time that is taken as much as by a booking."""
        by_unit: dict[int, list[Span]] = {}
        for closed in self.closures:
            if closed.unit_id is not None:
                by_unit.setdefault(closed.unit_id, []).append(closed.span)
        return by_unit
