"""Fair use: what somebody may book, by the widest of their roles. Plain values."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from labsys.bookings.rules import BookingRefused
from labsys.timetable.local_time import to_local
from labsys.timetable.opening import MINUTES_PER_DAY
from labsys.timetable.spans import Span


class BeyondFairUse(BookingRefused):
    """More than the lab lets somebody of this role book; whoever books for others may, and says why."""


@dataclass(frozen=True)
class Limits:
    """What one role may book; None is not limited. The usual stands where the lab has set nothing."""

    furthest_days: int = 120
    notice_minutes: int = 0
    longest_minutes: int = 12 * 60
    most_open: int | None = None
    week_minutes: int | None = None
    may_overlap: bool = True


def widest(limits: Sequence[Limits]) -> Limits:
    """What somebody of several roles may book: of each limit the widest.

    >>> both = widest([Limits(longest_minutes=60, most_open=2), Limits(longest_minutes=120)])
    >>> both.longest_minutes, both.most_open
    (120, None)
    """
    opens = [each.most_open for each in limits]
    weeks = [each.week_minutes for each in limits]
    return Limits(
        furthest_days=max(each.furthest_days for each in limits),
        notice_minutes=min(each.notice_minutes for each in limits),
        longest_minutes=max(each.longest_minutes for each in limits),
        most_open=None if None in opens else max(number for number in opens if number is not None),
        week_minutes=None if None in weeks else max(number for number in weeks if number is not None),
        may_overlap=any(each.may_overlap for each in limits),
    )


def minutes_in_words(minutes: int) -> str:
    """A length of time as the pages say it.

    >>> minutes_in_words(90), minutes_in_words(120), minutes_in_words(2880)
    ('1 h 30 min', '2 h', '2 days')
    """
    if minutes and minutes % MINUTES_PER_DAY == 0:
        days = minutes // MINUTES_PER_DAY
        return f"{days} day{'' if days == 1 else 's'}"
    hours, rest = divmod(minutes, 60)
    return " ".join(
        part for part in (f"{hours} h" if hours else "", f"{rest} min" if rest or not hours else "") if part
    )


def check(
    span: Span,
    *,
    limits: Limits,
    others: Sequence[Span],
    now: datetime,
    zone: ZoneInfo,
    starts_anew: bool = True,
    is_class: bool = False,
) -> None:
    """Raise BeyondFairUse unless somebody may book this beside their `others`, of this week or still to come.

    A booking whose start stays needs no notice. A class is not counted against whoever teaches it.
    """
    if span.length > timedelta(minutes=limits.longest_minutes):
        longest = minutes_in_words(limits.longest_minutes)
        raise BeyondFairUse(f"Book {longest} at most. Check that the end is right.", field="ends")
    if span.start > now + timedelta(days=limits.furthest_days):
        raise BeyondFairUse(f"Book up to {limits.furthest_days} days ahead. Choose an earlier day.", field="day")
    if is_class:
        return
    if starts_anew and limits.notice_minutes and span.start < now + timedelta(minutes=limits.notice_minutes):
        notice = minutes_in_words(limits.notice_minutes)
        raise BeyondFairUse(f"Book at least {notice} ahead. Choose a later time.", field="starts")
    if not limits.may_overlap and any(other.overlaps(span) for other in others):
        raise BeyondFairUse("Another place is booked for the same time. One place at a time is fair.", field="starts")
    open_now = sum(other.end > now for other in others)
    if limits.most_open is not None and open_now >= limits.most_open:
        are = "One booking is" if open_now == 1 else f"{open_now} bookings are"
        raise BeyondFairUse(f"{are} open, and {limits.most_open} at once is fair. Use or cancel one first.")
    week = to_local(span.start, zone=zone).date().isocalendar()[:2]
    booked = sum(
        (other.length for other in others if to_local(other.start, zone=zone).date().isocalendar()[:2] == week),
        timedelta(),
    )
    if limits.week_minutes is not None and booked + span.length > timedelta(minutes=limits.week_minutes):
        had = minutes_in_words(booked // timedelta(minutes=1))
        most = minutes_in_words(limits.week_minutes)
        raise BeyondFairUse(f"{had} are booked in that week, and {most} a week is fair. Book less, or another week.")
