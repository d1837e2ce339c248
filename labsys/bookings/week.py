"""A week as seven small drawings with one scale of hours: how much is taken of all the places. Plain data."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from sqlalchemy import func, select

from labsys.bookings.forms import clock_of, minute_of
from labsys.bookings.models import Booking, Hold
from labsys.bookings.queries import LONGEST_HOLD
from labsys.database import DbSession
from labsys.drawing.scene import Rect, Role, Scene
from labsys.places.calendar import Calendar
from labsys.places.models import Station
from labsys.timetable.local_time import to_local
from labsys.timetable.opening import MINUTES_PER_DAY, day_span
from labsys.timetable.spans import Span, merged

STEP = 30  # minutes that one bar stands for
LITTLE, MUCH, ALL = 1 / 3, 2 / 3, 0.95  # shares of the units that are taken
_WIDE, _HIGH, _CLASS_EDGE = 4.0, 52.0, 3.0
Minutes = tuple[int, int]


@dataclass(frozen=True)
class WeekDay:
    """One day of a week: when it is open, how much is taken, in words and as a drawing."""

    day: date
    is_today: bool
    hours: str
    words: str
    drawing: Scene


@dataclass(frozen=True)
class _Taken:
    """Time at one unit, by the minutes of a day's clock."""

    start: int
    end: int
    class_id: int | None


def week_of(day: date, *, zone: ZoneInfo) -> Span:
    """The week of a day, from the midnight before Monday."""
    monday = day - timedelta(days=day.weekday())
    return Span(day_span(monday, zone=zone).start, day_span(monday + timedelta(days=6), zone=zone).end)


def week(
    session: DbSession, *, day: date, calendar: Calendar, stations: Sequence[Station], now: datetime
) -> list[WeekDay]:
    """The week of a day, Monday first, from its calendar and the places in use: one query, whatever is booked."""
    zone = calendar.zone
    whole = week_of(day, zone=zone)
    monday = to_local(whole.start, zone=zone).date()
    days = [monday + timedelta(days=number) for number in range(7)]
    units = sum(len(station.units) for station in stations)
    openings = [calendar.of(station) for station in stations] or [calendar.lab]
    opened = {
        each: [_minutes(span, each, zone) for span in merged(span for opening in openings for span in opening.on(each))]
        for each in days
    }
    taken = _taken(session, whole, days, zone)
    every = [minutes for of_day in opened.values() for minutes in of_day]
    first = min((start for start, _ in every), default=8 * 60) // 60 * 60
    last = -(-max((end for _, end in every), default=20 * 60) // 60) * 60
    today = to_local(now, zone=zone).date()
    return [
        _day(each, is_today=each == today, opened=opened[each], taken=taken[each], units=units, scale=(first, last))
        for each in days
    ]


def _taken(session: DbSession, whole: Span, days: Sequence[date], zone: ZoneInfo) -> Mapping[date, list[_Taken]]:
    query = (
        select(Hold.starts_at, Hold.ends_at, Booking.id, func.coalesce(Booking.class_name, "") != "")
        .outerjoin(Booking, Hold.booking_id == Booking.id)
        .where(Hold.starts_at < whole.end, Hold.starts_at > whole.start - LONGEST_HOLD, Hold.ends_at > whole.start)
    )
    by_day: dict[date, list[_Taken]] = {day: [] for day in days}
    for start, end, booking_id, is_class in session.execute(query):
        held = Span(start, end)
        for day in {to_local(start, zone=zone).date(), to_local(end, zone=zone).date()} & set(days):
            from_minute, to_minute = _minutes(held, day, zone)
            if from_minute < to_minute:
                by_day[day].append(_Taken(from_minute, to_minute, booking_id if is_class else None))
    return by_day


def _minutes(span: Span, day: date, zone: ZoneInfo) -> Minutes:
    """From which minute of a day's clock to which a span lasts, as far as it lies on that day."""
    start, end = to_local(span.start, zone=zone), to_local(span.end, zone=zone)
    return (minute_of(start) if start.date() == day else 0, minute_of(end) if end.date() == day else MINUTES_PER_DAY)


def _day(
    day: date, *, is_today: bool, opened: Sequence[Minutes], taken: Sequence[_Taken], units: int, scale: Minutes
) -> WeekDay:
    steps = range(scale[0], scale[1], STEP)
    is_open = {step: any(start <= step and step + STEP <= end for start, end in opened) for step in steps}
    shares = {
        step: min(1.0, sum(held.start < step + STEP and held.end > step for held in taken) / units) if units else 0.0
        for step in steps
    }
    words = in_words([(step, shares[step]) for step in steps if is_open[step]])
    hours = ", ".join(f"{clock_of(start)}–{clock_of(end)}" for start, end in opened)
    bars = [*_closed(steps, is_open, scale[0]), *_bars(shares, scale[0]), *_classes(taken, scale)]
    width = len(steps) * _WIDE
    ground = Rect(0, _HIGH - 1, width, 1, Role.INK)
    return WeekDay(day, is_today, hours, words, Scene("week", width, _HIGH, words, (*bars, ground), stretches=True))


def in_words(shares: Sequence[tuple[int, float]]) -> str:
    """How much of a day is free, from the share taken at each step of its open time.

    >>> in_words([(600, 0.9), (630, 0.8), (660, 0.1), (690, 0.0), (720, 0.0)])
    'free after 11:00'
    """
    if not shares:
        return "closed"
    levels = [share for _, share in shares]
    if not any(levels):
        return "free"
    if all(level >= ALL for level in levels):
        return "full"
    busy = [step for step, level in shares if level >= LITTLE]
    if not busy:
        return "mostly free"
    after = busy[-1] + STEP
    if shares[-1][0] + STEP - after >= 2 * STEP and busy[0] == shares[0][0]:
        return f"free after {clock_of(after)}"
    mean = sum(levels) / len(levels)
    return "mostly free" if mean < LITTLE else "half taken" if mean < MUCH else "mostly taken"


def _closed(steps: range, is_open: Mapping[int, bool], first: int) -> Iterable[Rect]:
    """What is closed, joined where it touches."""
    spans = merged_minutes([(step, step + STEP) for step in steps if not is_open[step]])
    for start, end in spans:
        yield Rect(_x(start, first), 0, _x(end, first) - _x(start, first), _HIGH, Role.LINE)


def merged_minutes(spans: Sequence[Minutes]) -> list[Minutes]:
    """Join stretches of minutes that touch; they come in order."""
    joined: list[Minutes] = []
    for start, end in spans:
        if joined and joined[-1][1] == start:
            joined[-1] = (joined[-1][0], end)
        else:
            joined.append((start, end))
    return joined


def _bars(shares: Mapping[int, float], first: int) -> Iterable[Rect]:
    for step, share in shares.items():
        if share:
            yield Rect(_x(step, first), _HIGH * (1 - share), _WIDE, _HIGH * share, Role.INK)


def _classes(taken: Sequence[_Taken], scale: Minutes) -> Iterable[Rect]:
    """A bar of full height where a class begins."""
    begins = {held.class_id: held.start for held in taken if held.class_id is not None and held.start >= scale[0]}
    for start in sorted(begins.values()):
        yield Rect(_x(start, scale[0]), 0, _CLASS_EDGE / 2, _HIGH, Role.INK)


def _x(minute: int, first: int) -> float:
    return (minute - first) / STEP * _WIDE
