"""Decisions about courses: on which days one meets, and what may be done with a meeting."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from labsys.bookings.rules import span_on_the_clock
from labsys.records.errors import Refused
from labsys.timetable.public_holidays import NoSuchRegion, public_holidays
from labsys.timetable.recurrence import RuleUnreadable, RuleWithoutEnd, TooManyDates, occurrences, parts_of
from labsys.timetable.spans import Span

MOST_MEETINGS = 120
LONGEST_TERM = timedelta(days=500)
MOST_INSTRUCTORS = 10
DOOR_OPENS = timedelta(minutes=30)  # how long before a meeting somebody can be ticked in
DEFAULT_RULE = "FREQ=WEEKLY"
REGION_OF_NATION = {
    "England": ("GB", "ENG"),
    "Scotland": ("GB", "SCT"),
    "Wales": ("GB", "WLS"),
    "Northern Ireland": ("GB", "NIR"),
}
_SEVERAL_A_DAY = ("HOURLY", "MINUTELY", "SECONDLY")
_NOT_IN_A_DAY = ("BYHOUR", "BYMINUTE", "BYSECOND")


class CourseRefused(Refused):
    """The course or meeting cannot be so; the message says why and what to do."""


@dataclass(frozen=True)
class Term:
    """When a course meets: by a rule, on the wall clock, with the public holidays that are left out."""

    first_day: date
    starts_minute: int
    ends_minute: int
    rule: str = DEFAULT_RULE
    last_day: date | None = None
    country: str = ""
    part: str = ""


def meeting_days(term: Term, *, zone: ZoneInfo) -> list[date]:
    """Return the days on which a course meets by its rule, holidays among them. Raises CourseRefused."""
    if term.last_day is not None:
        if term.last_day < term.first_day:
            raise CourseRefused("The term ends before it begins. Change one of the days.", field="last_day")
        if term.last_day > term.first_day + LONGEST_TERM:
            raise CourseRefused(f"A term is {LONGEST_TERM.days} days at most. Check the years.", field="last_day")
    start = datetime.combine(term.first_day, time(*divmod(term.starts_minute, 60)))
    try:
        parts = parts_of(term.rule)
        if parts["FREQ"] in _SEVERAL_A_DAY or any(name in parts for name in _NOT_IN_A_DAY):
            raise CourseRefused("A course meets once a day at most. Make two courses of it.", field="rule")
        shown = occurrences(term.rule, start=start, zone=zone, last=term.last_day, limit=MOST_MEETINGS)
    except RuleWithoutEnd as endless:
        raise CourseRefused(
            f"{endless} Say how many meetings there are, or enter the last day of the term.", field="last_day"
        ) from endless
    except TooManyDates as many:
        raise CourseRefused(
            f"That is more than {MOST_MEETINGS} meetings. Shorten the term, or make several courses.", field="rule"
        ) from many
    except RuleUnreadable as unreadable:
        raise CourseRefused(str(unreadable), field="rule") from unreadable
    days = [local.date() for local in shown]
    if not days:
        raise CourseRefused("The rule gives no date in this term. Check the days and the rule.", field="first_day")
    if days[-1] > term.first_day + LONGEST_TERM:
        raise CourseRefused(f"A term is {LONGEST_TERM.days} days at most. Shorten it.", field="last_day")
    return days


def holidays_of(term: Term, days: Sequence[date]) -> dict[date, str]:
    """The public holidays among these days, by what they are called. Raises CourseRefused."""
    if not term.country:
        return {}
    try:
        known = public_holidays(term.country, term.part, first=days[0], last=days[-1])
    except NoSuchRegion as unknown:
        raise CourseRefused(str(unknown), field="part" if term.part else "country") from unknown
    return {day: known[day] for day in days if day in known}


def span_of(term: Term, day: date, *, zone: ZoneInfo) -> Span:
    """When a course meets on a day. Raises BookingRefused where the clock skips one of the ends."""
    return span_on_the_clock(day=day, from_minute=term.starts_minute, to_minute=term.ends_minute, zone=zone)


def check_register_open(*, starts_at: datetime, ends_at: datetime, ended_at: datetime | None, now: datetime) -> None:
    """Raise CourseRefused unless a meeting is on, or about to begin."""
    if ended_at is not None:
        raise CourseRefused("This meeting is over: who stayed was confirmed.")
    if now < starts_at - DOOR_OPENS:
        minutes = DOOR_OPENS // timedelta(minutes=1)
        raise CourseRefused(f"It is too early: the register opens {minutes} minutes before the meeting.")
    if now > ends_at + timedelta(days=7):
        raise CourseRefused("This meeting is more than a week past. Its register is closed.")


def check_can_end(*, starts_at: datetime, ended_at: datetime | None, now: datetime) -> None:
    """Raise CourseRefused unless a meeting has begun and nobody has confirmed its end."""
    if ended_at is not None:
        raise CourseRefused("Who stayed was confirmed already.")
    if now < starts_at:
        raise CourseRefused("It has not begun. Confirm who stayed at its end.")
