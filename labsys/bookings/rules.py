"""Decisions about bookings: may this time be booked, and what may be done with a booking."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from labsys.bookings.models import Booking
from labsys.chemistry.sizes import Material, size_of
from labsys.places.calendar import FOR_GOOD, Closed, Opening
from labsys.places.models import Station
from labsys.records.errors import Refused
from labsys.timetable.local_time import NoSuchLocalTime, clock_words, end_words, to_instant, to_local
from labsys.timetable.opening import MINUTES_PER_DAY, QUARTER
from labsys.timetable.spans import Span, common

SHORTEST = timedelta(minutes=30)
LONGEST = timedelta(hours=24)  # whatever a lab sets
EARLIEST_ARRIVAL = timedelta(minutes=30)
USUAL_LENGTH = timedelta(hours=2)  # filled in, to be changed
LARGEST_COUNT = 500
EARLIEST_YEAR, LATEST_YEAR = 2000, 2200  # of a day that somebody may look at or type

_EPOCH = datetime(2000, 1, 1, tzinfo=UTC)


class BookingRefused(Refused):
    """The booking cannot be so; the message says why and what to do."""


class SlotTaken(BookingRefused):
    """Too few units are free then, or a room is full (`why`); `nearest` are the free times closest to it."""

    def __init__(self, place: str, *, nearest: Sequence[Span], zone: ZoneInfo, why: str | None = None):
        super().__init__(f"{why or f'{place} is taken then.'} {free_in_words(nearest, zone=zone)}")
        self.place = place
        self.nearest = tuple(nearest)


class ChangedMeanwhile(BookingRefused):
    """Somebody else changed the booking after this form was opened."""

    def __init__(self) -> None:
        super().__init__("This booking was changed after you opened this form. Open it again and see how it stands.")


@dataclass(frozen=True)
class Plan:
    """What somebody means to do: nothing here is needed, and nothing here binds."""

    process_id: int | None = None
    size: str = ""
    count: int = 0
    note: str = ""
    supervisor_id: int | None = None  # asked of who is under 18, as is the second adult by the lab's rule
    second_adult_id: int | None = None
    guests: int = 0  # who come along and work with nothing


def span_in_words(span: Span, *, zone: ZoneInfo) -> str:
    """Say from when to when on the lab's clock.

    >>> noon = datetime(2026, 7, 1, 11, tzinfo=UTC)
    >>> span_in_words(Span(noon, noon + timedelta(hours=2)), zone=ZoneInfo("Europe/London"))
    'Wed 1 Jul 2026, 12:00 to 14:00'
    """
    start, end = to_local(span.start, zone=zone), to_local(span.end, zone=zone)
    ends = end_words(span.end, start=span.start, zone=zone)
    if start.date() != end.date() and ends != "24:00":
        ends = f"{end:%a %-d %b}, {ends}"
    return f"{start:%a %-d %b %Y}, {clock_words(span.start, zone=zone)} to {ends}"


def free_in_words(nearest: Sequence[Span], *, zone: ZoneInfo) -> str:
    """What is free instead."""
    offer = "; ".join(span_in_words(span, zone=zone) for span in nearest)
    return f"Free near then: {offer}." if offer else "Nothing is free within three days of it: choose another day."


def span_on_the_clock(*, day: date, from_minute: int, to_minute: int, zone: ZoneInfo) -> Span:
    """The span between two minutes of a day on the wall clock; an end before the start is on the next day.

    A time shown twice means the first. Raises BookingRefused for no time at all, for one that the clock skips, and for
    a year far off.
    """
    if not EARLIEST_YEAR <= day.year <= LATEST_YEAR:
        raise BookingRefused("That day is too far away. Check the year.", field="day")
    if to_minute == from_minute:
        raise BookingRefused("It ends as it begins. Choose a later end.", field="ends")
    if to_minute < from_minute:
        to_minute += MINUTES_PER_DAY
    start = _instant(day, from_minute, zone=zone, field="starts")
    end = _instant(day, to_minute, zone=zone, field="ends")
    if end <= start:
        raise BookingRefused("The clocks go back then, and that leaves no time. Choose a later end.", field="ends")
    return Span(start, end)


def _instant(day: date, minute: int, *, zone: ZoneInfo, field: str) -> datetime:
    days, rest = divmod(minute, MINUTES_PER_DAY)
    try:
        return to_instant(datetime.combine(day + timedelta(days=days), time(*divmod(rest, 60))), zone=zone)
    except NoSuchLocalTime as gap:
        raise BookingRefused(f"{gap} Choose a time before or after.", field=field) from gap


def check_span(span: Span, *, openings: Sequence[Opening], now: datetime, started_at: datetime | None = None) -> None:
    """Raise BookingRefused unless this time may be booked, whoever may have it already.

    `openings` are those of all places that are wanted. The quarter-hour that runs now is not past: somebody stands
    there and wants to begin. A booking that has started (`started_at`) keeps its start and may still be made longer or
    shorter.
    """
    if (span.start - _EPOCH) % QUARTER or (span.end - _EPOCH) % QUARTER:
        raise BookingRefused("Bookings begin and end on a quarter-hour. Choose such as 14:00 or 14:15.", field="starts")
    if started_at is not None:
        if span.start != started_at:
            raise BookingRefused("It has begun, so its beginning stays. Change the end only.", field="starts")
        if span.end <= now:
            raise BookingRefused("That end is past. Choose a later one, or leave instead.", field="ends")
    elif span.start + QUARTER <= now:
        raise BookingRefused("That is past. Choose a time from now on.", field="starts")
    if span.length < SHORTEST:
        raise BookingRefused("Book half an hour or more. Choose a later end.", field="ends")
    if span.length > LONGEST:
        raise BookingRefused("Book 24 hours at most. Check that the end is right.", field="ends")
    for opening in openings:
        if (why := why_closed(span, opening=opening)) is not None:
            raise BookingRefused(f"{why} Choose a time when it is open.", field="starts")


def check_window(window: Span, *, length: timedelta, now: datetime) -> None:
    """Raise BookingRefused unless somebody may wait for a place of this length between these times."""
    if (window.start - _EPOCH) % QUARTER or (window.end - _EPOCH) % QUARTER or length % QUARTER:
        raise BookingRefused("Bookings begin and end on a quarter-hour. Choose such as 14:00 or 14:15.", field="starts")
    if not SHORTEST <= length <= LONGEST:
        raise BookingRefused("Wait for half an hour or more, and 24 hours at most.", field="minutes")
    if window.length > LONGEST:
        raise BookingRefused("Wait on one day at a time. Check that the end is right.", field="ends")
    if window.length < length:
        raise BookingRefused("That is shorter than the time you want. Choose a later end.", field="ends")
    if window.end - length <= now:
        raise BookingRefused("That is past. Choose a time from now on.", field="starts")


def check_opens(window: Span, *, length: timedelta, opened: Sequence[Span], openings: Sequence[Opening]) -> None:
    """Raise BookingRefused unless the hours are long enough at some time waited for; a closure may be lifted."""
    if any(span.length >= length for span in common(opened, [window])):
        return
    why = next(
        (why for opening in openings if (why := why_closed(window, opening=opening)) is not None), "It is closed."
    )
    raise BookingRefused(f"{why} Choose times when it is open.", field="starts")


def why_closed(span: Span, *, opening: Opening) -> str | None:
    """Why a span is not within one stretch of open time, in words, or None where it is."""
    if any(opened.contains(span) for opened in opening.around(span)):
        return None
    if (closed := opening.closed_because(span)) is not None:
        return closed_in_words(closed, zone=opening.zone)
    if not opening.hours and not opening.special:
        return "The lab has no opening hours yet: whoever keeps the places sets them."
    day = to_local(span.start, zone=opening.zone).date()
    hours = opening.in_words(day)
    return f"{opening.name} is {f'open {hours}' if hours else 'closed'} on {day:%A} {day:%-d %B}."


def closed_in_words(closed: Closed, *, zone: ZoneInfo) -> str:
    """What is closed, from when to when, and why."""
    when = "" if closed.span.end == FOR_GOOD else f" {span_in_words(closed.span, zone=zone)}"
    return f"{closed.what} is closed{when}: {closed.reason.rstrip('.')}."


def next_quarter(instant: datetime) -> datetime:
    """The quarter-hour that begins at an instant or next after it."""
    return instant + -(instant - _EPOCH) % QUARTER


def heads(
    *, units: int, is_class: bool, students: int | None = None, teachers: int = 1, along: int = 0
) -> tuple[int, int]:
    """How many people a booking brings, and how many of them are taught: of a class everybody who teaches besides.

    Where nobody has said how many students come, there is one a unit. `along` are guests, and a supervisor without a
    place of their own.

    >>> heads(units=8, is_class=True), heads(units=1, is_class=False), heads(units=1, is_class=False, along=2)
    ((9, 8), (1, 0), (3, 0))
    >>> heads(units=6, is_class=True, students=18, teachers=2)
    (20, 18)
    """
    taught = units if students is None else students
    return (taught + teachers + along, taught) if is_class else (units + along, 0)


def heads_of(booking: Booking) -> tuple[int, int]:
    """How many people a booking brings, and how many of them are taught."""
    return heads(
        units=booking.units,
        is_class=bool(booking.class_name),
        students=booking.students,
        teachers=booking.teachers or 1,
        along=booking.along,
    )


def used_until(*, starts_at: datetime, ends_at: datetime, left_at: datetime | None) -> datetime:
    """When the work at a place is over: at the end booked, or at the quarter-hour after somebody left early."""
    if left_at is None:
        return ends_at
    return min(ends_at, max(next_quarter(left_at), starts_at + QUARTER))


def check_units(wanted: int, *, place: str = "The place", have: int = Station.MOST_UNITS) -> None:
    """Raise BookingRefused unless a place has so many units at all."""
    if not 1 <= wanted <= have:
        raise BookingRefused(f"{place} has {have} in all. Enter a number from 1 to {have}.", field="units")


def check_number(number: int | None, *, place: str, numbers: Sequence[int]) -> None:
    """Raise BookingRefused unless a place has the unit that is wanted."""
    if number is not None and number not in numbers:
        raise BookingRefused(f"{place} has no number {number}. Choose another, or any.", field="number")


def check_plan(plan: Plan, *, material: Material | None) -> None:
    """Raise BookingRefused, or UnknownSize, unless the parts of a plan go together."""
    if plan.guests < 0:
        raise BookingRefused("Enter how many guests come, or 0.", field="guests")
    if not 0 <= plan.count <= LARGEST_COUNT:
        raise BookingRefused(f"Enter a count from 0 to {LARGEST_COUNT}.", field="count")
    if plan.size and not plan.count:
        raise BookingRefused("Say how many of that size, or choose no size.", field="count")
    if plan.count and not plan.size:
        raise BookingRefused("Choose the size of what you bring, or leave the count at 0.", field="size")
    if plan.size and material is not None and not size_of(key=plan.size).is_made_in(material):
        other = "a film process" if material is Material.FILM else "a paper process"
        raise BookingRefused(f"{plan.size} does not go with {other}. Choose another size or process.", field="size")


def check_can_change(
    *,
    cancelled_at: datetime | None,
    left_at: datetime | None,
    ends_at: datetime,
    now: datetime,
    missed_at: datetime | None = None,
) -> None:
    """Raise BookingRefused for a booking that is over one way or another."""
    if missed_at is not None:
        raise BookingRefused("Nobody had come, so the place was given free for others. Book again.")
    if cancelled_at is not None:
        raise BookingRefused("This booking was cancelled. Book again.")
    if left_at is not None or ends_at <= now:
        raise BookingRefused("This booking is over. Book again.")


def check_can_cancel(*, arrived_at: datetime | None) -> None:
    """Raise BookingRefused once somebody has come."""
    if arrived_at is not None:
        raise BookingRefused("The work has begun. Leave instead; the rest of the time is free again then.")


def check_can_arrive(*, starts_at: datetime, arrived_at: datetime | None, now: datetime, zone: ZoneInfo) -> None:
    """Raise BookingRefused when it is too early, or somebody has arrived already."""
    if arrived_at is not None:
        raise BookingRefused("The arrival is noted already.")
    if now < starts_at - EARLIEST_ARRIVAL:
        starts = to_local(starts_at, zone=zone)
        minutes = EARLIEST_ARRIVAL // timedelta(minutes=1)
        raise BookingRefused(f"It begins {starts:%a %-d %b} at {starts:%H:%M}. Arrive up to {minutes} minutes before.")


def check_can_leave(*, arrived_at: datetime | None, left_at: datetime | None) -> None:
    """Raise BookingRefused unless somebody is here."""
    if left_at is not None:
        raise BookingRefused("The leaving is noted already.")
    if arrived_at is None:
        raise BookingRefused("Nobody has arrived on this booking. Cancel it if it is not needed.")
