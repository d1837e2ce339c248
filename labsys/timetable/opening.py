"""Opening hours on the wall clock, and what they come to on a day of 23, 24 or 25 hours."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from labsys.timetable.spans import Span, merged

MINUTES_PER_DAY = 24 * 60
QUARTER = timedelta(minutes=15)


@dataclass(frozen=True)
class Hours:
    """Open on one weekday (Monday is 0) from one minute of the day to another; closing at midnight is 1440."""

    weekday: int
    opens_minute: int
    closes_minute: int

    def __post_init__(self) -> None:
        if not 0 <= self.weekday <= 6:
            raise ValueError("a weekday is 0 (Monday) to 6")
        if not 0 <= self.opens_minute < self.closes_minute <= MINUTES_PER_DAY:
            raise ValueError("opening comes before closing, within one day")


def day_span(day: date, *, zone: ZoneInfo) -> Span:
    """Return a whole day on the wall clock, midnight to midnight: 23, 24 or 25 hours long.

    Parameters:
        day: The date in the lab. [-]
        zone: The lab's time zone. [-]
    Returns:
        The span between the two midnights. [-]
    Source:
        IANA time zone database through `zoneinfo`. A midnight that a clock change skips is the instant after it.

    >>> day_span(date(2026, 3, 29), zone=ZoneInfo("Europe/London")).length
    datetime.timedelta(seconds=82800)
    """
    return Span(_instant(day, 0, zone), _instant(day + timedelta(days=1), 0, zone))


def open_spans(day: date, *, hours: Iterable[Hours], closures: Iterable[Span], zone: ZoneInfo) -> list[Span]:
    """Return when the lab is open on a day: its hours for that weekday less any closure.

    Parameters:
        day: The date in the lab. [-]
        hours: Weekly opening hours. [-]
        closures: Spans in which it is closed all the same. [-]
        zone: The lab's time zone. [-]
    Returns:
        Spans in order of time, none touching another. [-]
    Source:
        Definition; times the clock change skips are moved on by the hour skipped.
    """
    opened = merged(
        Span(start, end)
        for weekly in hours
        if weekly.weekday == day.weekday()
        and (start := _instant(day, weekly.opens_minute, zone)) < (end := _instant(day, weekly.closes_minute, zone))
    )
    for closure in closures:
        opened = [rest for span in opened for rest in _without(span, closure)]
    return opened


def quarters(span: Span) -> list[datetime]:
    """Return the starts of the quarter-hours of a span, from the quarter its start lies in.

    Parameters:
        span: Any span; a whole day has 92, 96 or 100 quarters. [-]
    Returns:
        Instants a quarter of an hour apart, in UTC. [-]
    Source:
        Definition.

    >>> len(quarters(day_span(date(2026, 10, 25), zone=ZoneInfo("Europe/London"))))
    100
    """
    start = span.start.astimezone(UTC)
    first = start - timedelta(minutes=start.minute % 15, seconds=start.second, microseconds=start.microsecond)
    count = -((first - span.end) // QUARTER)
    return [first + number * QUARTER for number in range(count)]


def _instant(day: date, minute: int, zone: ZoneInfo) -> datetime:
    days, rest = divmod(minute, MINUTES_PER_DAY)
    local = datetime.combine(day + timedelta(days=days), time(*divmod(rest, 60)), tzinfo=zone)
    return local.astimezone(UTC)


def _without(span: Span, closure: Span) -> list[Span]:
    if not span.overlaps(closure):
        return [span]
    rest = []
    if span.start < closure.start:
        rest.append(Span(span.start, closure.start))
    if closure.end < span.end:
        rest.append(Span(closure.end, span.end))
    return rest
