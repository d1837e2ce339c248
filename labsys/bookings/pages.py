"""What the pages of bookings show, worked out from what the queries read."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from labsys.bookings import rules
from labsys.bookings.fair_use import minutes_in_words
from labsys.bookings.forms import minute_of
from labsys.bookings.keeping_fair import Lapses
from labsys.bookings.models import Booking, Wait
from labsys.bookings.rules import EARLIEST_YEAR, LATEST_YEAR, next_quarter, span_in_words, used_until
from labsys.bookings.words import moment, plan_in_words, plan_of
from labsys.places.calendar import Calendar, Opening
from labsys.timetable.local_time import clock_words, to_local
from labsys.timetable.opening import MINUTES_PER_DAY, QUARTER, Hours, day_span, quarters
from labsys.timetable.spans import Span, common

QUARTER_MINUTES = 15


def day_of(text: str | None, *, zone: ZoneInfo, now: datetime) -> date:
    """The day an address names, or today where it names none that can be."""
    try:
        day = date.fromisoformat(text or "")
    except ValueError:
        return to_local(now, zone=zone).date()
    return day if EARLIEST_YEAR <= day.year <= LATEST_YEAR else to_local(now, zone=zone).date()


def time_choices(week: Sequence[Hours]) -> list[int]:
    """Quarter-hours to begin at, from the earliest opening of the week to the latest closing; all day without hours."""
    first = min((hours.opens_minute for hours in week), default=0)
    last = max((hours.closes_minute for hours in week), default=MINUTES_PER_DAY)
    return list(range(first, last, QUARTER_MINUTES))


def times_of_day(opening: Opening, day: date) -> tuple[list[int], list[int]]:
    """When a booking may begin on a day and when it may end, as minutes of the clock: only while it is open.

    Open past midnight is one stretch: what begins before may end after it. Nothing at all where it is closed.
    """
    zone = opening.zone
    whole = day_span(day, zone=zone)
    stretches = [span for span in opening.around(whole) if span.overlaps(whole)]
    starts = [_minute_at(quarter, zone) for span in common(stretches, [whole]) for quarter in quarters(span)]
    until = whole.end + timedelta(hours=12)
    ends = [
        _minute_at(quarter + QUARTER, zone) or MINUTES_PER_DAY
        for span in stretches
        for quarter in quarters(Span(max(span.start, whole.start), min(span.end, until)))
    ]
    return sorted(set(starts)), sorted(set(ends))


def _minute_at(instant: datetime, zone: ZoneInfo) -> int:
    return minute_of(to_local(instant, zone=zone))


@dataclass(frozen=True)
class Prefill:
    """What an empty form begins with."""

    day: date
    starts: int
    ends: int


def prefill(*, day: date, at: str | None, until: str | None, opening: Opening, now: datetime) -> Prefill:
    """From and until what is asked for, else two hours from opening or from now, ending by closing time."""
    begin = _prefill(day=day, at=at, opening=opening, now=now)
    end = _minute(until)
    return begin if end is None else replace(begin, ends=end or MINUTES_PER_DAY)


def _prefill(*, day: date, at: str | None, opening: Opening, now: datetime) -> Prefill:
    opened = [span for span in opening.on(day) if span.end > now]
    zone = opening.zone
    wanted = _minute(at)
    if not opened:
        start = wanted if wanted is not None else 10 * 60
        return Prefill(day, start, min(start + rules.USUAL_LENGTH // timedelta(minutes=1), MINUTES_PER_DAY))
    first = next_quarter(max(opened[0].start, now))
    start = minute_of(to_local(first, zone=zone)) if wanted is None else wanted
    closes = [minute_of(to_local(span.end, zone=zone)) or MINUTES_PER_DAY for span in opened]
    end = start + rules.USUAL_LENGTH // timedelta(minutes=1)
    within = min((minute for minute in closes if minute > start), default=MINUTES_PER_DAY)
    return Prefill(day, start, min(end, within))


def _minute(text: str | None) -> int | None:
    """A minute of the day, written as 14:15 in an address."""
    hour, _, minute = (text or "").partition(":")
    if not (hour.isascii() and hour.isdigit() and minute.isascii() and minute.isdigit()):
        return None
    of_day = int(hour[:3]) * 60 + int(minute[:3])
    return of_day if of_day < MINUTES_PER_DAY else None


@dataclass(frozen=True)
class Offer:
    """A free time to book instead, and the address of the form filled in with it."""

    words: str
    href: str


def offers(nearest: Sequence[Span], *, zone: ZoneInfo, href: Callable[..., str]) -> list[Offer]:
    """Free times as links; `href` makes an address of its arguments."""
    links = []
    for span in nearest:
        start, end = to_local(span.start, zone=zone), to_local(span.end, zone=zone)
        if start.fold or end.fold:
            continue  # a form cannot name the second of two equal hours
        arguments = {"day": start.date().isoformat(), "from": f"{start:%H:%M}", "to": f"{end:%H:%M}"}
        links.append(Offer(span_in_words(span, zone=zone), href(**arguments)))
    return links


@dataclass(frozen=True)
class BookingView:
    """A booking as its page and the lists show it."""

    booking: Booking
    times: str
    day: str
    plan: str
    state: str
    closed: str | None
    can_arrive: bool
    can_leave: bool
    can_change: bool
    can_cancel: bool


def view_of(booking: Booking, *, zone: ZoneInfo, now: datetime, calendar: Calendar | None = None) -> BookingView:
    """Say how a booking stands; with `calendar`, also whether its place has come to be closed then."""
    span = Span(booking.starts_at, booking.ends_at)
    is_open = booking.cancelled_at is None and booking.left_at is None and booking.missed_at is None
    is_to_come = is_open and booking.ends_at > now
    return BookingView(
        booking=booking,
        times=span_in_words(span, zone=zone),
        day=to_local(booking.starts_at, zone=zone).date().isoformat(),
        plan=plan_of(booking),
        state=_state(booking, zone=zone, now=now),
        closed=why_closed(booking, calendar=calendar) if calendar and is_to_come else None,
        can_arrive=is_to_come and booking.arrived_at is None and now >= booking.starts_at - rules.EARLIEST_ARRIVAL,
        can_leave=booking.is_here,
        can_change=is_to_come,
        can_cancel=is_to_come and booking.arrived_at is None,
    )


HEADS = ("Day", "From", "To", "Place", "Class", "Plan", "Remark", "State")


def cells(booking: Booking, *, zone: ZoneInfo, now: datetime) -> tuple[str, ...]:
    """A booking as a row of a table under `HEADS`; the day is the one it begins on."""
    return (
        to_local(booking.starts_at, zone=zone).date().isoformat(),
        clock_words(booking.starts_at, zone=zone),
        clock_words(booking.ends_at, zone=zone),
        booking.station.name,
        booking.class_name,
        plan_of(booking),
        booking.note,
        _state(booking, zone=zone, now=now) or "booked",
    )


def why_closed(booking: Booking, *, calendar: Calendar) -> str | None:
    """Why a booking cannot be kept as it stands: its place, or a unit that it holds, has come to be closed then."""
    span = Span(booking.starts_at, booking.ends_at)
    if (why := rules.why_closed(span, opening=calendar.of(booking.station))) is not None:
        return why
    of_units = (closed for hold in booking.holds for closed in calendar.of_unit(hold.unit_id))
    return next(
        (rules.closed_in_words(closed, zone=calendar.zone) for closed in of_units if closed.span.overlaps(span)), None
    )


def _state(booking: Booking, *, zone: ZoneInfo, now: datetime) -> str:
    if booking.cancelled_at is not None:
        return "cancelled late" if booking.is_late_cancel else "cancelled"
    if booking.missed_at is not None:
        return f"nobody came; given free at {clock_words(booking.missed_at, zone=zone)}"
    if booking.left_at is not None:
        until = used_until(starts_at=booking.starts_at, ends_at=booking.ends_at, left_at=booking.left_at)
        early = until < booking.ends_at
        if booking.left_at < booking.starts_at:
            return f"left before it began, at {clock_words(booking.left_at, zone=zone)}"
        return f"left early, at {to_local(booking.left_at, zone=zone):%H:%M}" if early else "left"
    if booking.arrived_at is not None:
        return "here now" if booking.ends_at > now else "still here, past the end"
    return "" if booking.ends_at > now else "nobody came"


@dataclass(frozen=True)
class WaitView:
    """A wait as its page and the lists show it."""

    wait: Wait
    wants: str
    plan: str
    state: str
    offered: str = ""  # the time that is held, while the offer stands
    until: str = ""


def wait_view(wait: Wait, *, before: int, zone: ZoneInfo, now: datetime) -> WaitView:
    """Say where somebody stands of whom `before` came first."""
    wants = f"{minutes_in_words(wait.minutes)} between {span_in_words(wait.window, zone=zone)}"
    process = wait.process.name if wait.process else ""
    plan = plan_in_words(count=wait.planned_count, size=wait.planned_size, process=process)
    if wait.ending is not None:
        return WaitView(wait, wants, plan, wait.ending.value)
    if wait.offered is None or wait.offered_until is None:
        line = "nobody waits before you" if not before else f"{before} {'waits' if before == 1 else 'wait'} before you"
        return WaitView(wait, wants, plan, line)
    offered, until = span_in_words(wait.offered, zone=zone), moment(wait.offered_until, zone=zone)
    if wait.offered_until <= now:
        return WaitView(wait, wants, plan, f"offered until {until}, not taken")
    return WaitView(wait, wants, plan, f"offered: answer by {until}", offered, until)


def lapses_in_words(lapses: Lapses) -> str:
    """How often somebody cancelled late or did not come, where they ever did."""
    told = (("cancelled late", lapses.late), ("did not come", lapses.missed))
    counted = ", ".join(f"{what} {number}" for what, number in told if number)
    return f"In the last 90 days: {counted}." if counted else ""
