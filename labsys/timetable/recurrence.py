"""Dates that come back by a rule of RFC 5545, worked on the clock on the wall: nine o'clock stays nine o'clock."""

import re
from collections.abc import Iterable, Iterator
from datetime import UTC, date, datetime, time, timedelta
from itertools import islice
from zoneinfo import ZoneInfo

from dateutil.rrule import rrulestr

from labsys.timetable.local_time import NoSuchLocalTime, to_instant

FURTHEST_YEARS = 30  # no rule is followed further than this
LONGEST_RULE = 200
_PART = re.compile(r"([A-Z]+)=([A-Z0-9,+:-]+)")
_PARTS = frozenset({"FREQ", "UNTIL", "COUNT", "INTERVAL", "BYSETPOS", "WKST"}) | frozenset(
    f"BY{what}" for what in ("SECOND", "MINUTE", "HOUR", "DAY", "MONTHDAY", "YEARDAY", "WEEKNO", "MONTH")
)
_UNTIL = re.compile(r"(\d{4})(\d{2})(\d{2})(?:T(\d{2})(\d{2})(\d{2})(Z?))?")
_NUMBER = re.compile(r"[1-9][0-9]{0,5}")


class RuleUnreadable(ValueError):
    """This is no rule of RFC 5545, or one with a part that is none; the message says which."""


class RuleWithoutEnd(ValueError):
    """The rule goes on for ever, and no last day is given."""


class TooManyDates(ValueError):
    """The rule gives more dates than were asked for."""

    def __init__(self, limit: int):
        super().__init__(f"The rule gives more than {limit} dates.")
        self.limit = limit


def parts_of(rule: str) -> dict[str, str]:
    """Return the parts of a rule by name.

    Parameters:
        rule: What stands after "RRULE:", which may stand before it. [-]
    Returns:
        The parts in their order. [-]
    Raises:
        RuleUnreadable: A part is none of RFC 5545, stands twice, or FREQ is missing.
    Source:
        RFC 5545 (B. Desruisseaux, 2009), section 3.3.10.

    >>> parts_of("FREQ=WEEKLY;COUNT=12")
    {'FREQ': 'WEEKLY', 'COUNT': '12'}
    """
    text = rule.strip().upper().removeprefix("RRULE:").rstrip(";")
    if len(text) > LONGEST_RULE:
        raise RuleUnreadable("A rule is shorter than that.")
    parts: dict[str, str] = {}
    for part in text.split(";"):
        match = _PART.fullmatch(part.strip())
        if match is None or match[1] not in _PARTS or match[1] in parts:
            raise RuleUnreadable(f"“{part[:40]}” is no part of a rule.")
        parts[match[1]] = match[2]
    if "FREQ" not in parts:
        raise RuleUnreadable("A rule begins with FREQ, such as FREQ=WEEKLY.")
    for name in ("COUNT", "INTERVAL"):
        if name in parts and not _NUMBER.fullmatch(parts[name]):
            raise RuleUnreadable(f"{name} is a whole number above zero.")
    if "COUNT" in parts and "UNTIL" in parts:
        raise RuleUnreadable("A rule has COUNT or UNTIL, not both.")
    return parts


def occurrences(
    rule: str,
    *,
    start: datetime,
    zone: ZoneInfo,
    last: date | None = None,
    without: frozenset[date] = frozenset(),
    limit: int = 1_000,
) -> list[datetime]:
    """Return when something that comes back takes place, on the clock on the wall, without a zone.

    A time that the clock skips on that day is left out and does not count, as the standard says.

    Parameters:
        rule: A rule of RFC 5545. [-]
        start: When it takes place first, if the rule agrees. [-]
        zone: The zone of the clock. [-]
        last: The last day, whatever the rule says. [-]
        without: Days left out after they were counted, as EXDATE does. [-]
        limit: How many dates there may be. [-]
    Returns:
        Wall-clock times in order. [-]
    Raises:
        RuleUnreadable: It cannot be read as a rule.
        RuleWithoutEnd: Neither the rule nor `last` ends it, or not within 30 years.
        TooManyDates: There are more than `limit`.
    Source:
        RFC 5545 (B. Desruisseaux, 2009), sections 3.3.10, 3.8.5.1 and 3.8.5.3; worked by python-dateutil.

    >>> occurrences("FREQ=WEEKLY;COUNT=2", start=datetime(2026, 10, 21, 19, 30), zone=ZoneInfo("Europe/London"))
    [datetime.datetime(2026, 10, 21, 19, 30), datetime.datetime(2026, 10, 28, 19, 30)]
    """
    parts = parts_of(rule)
    until, count = parts.pop("UNTIL", None), int(parts.pop("COUNT", 0))
    ends = [_until(until, zone=zone)] if until else []
    if last is not None:
        ends.append(datetime.combine(last, time.max))
    if not ends and not count:
        raise RuleWithoutEnd("The rule goes on for ever.")
    horizon = datetime.combine(start.date() + timedelta(days=366 * FURTHEST_YEARS), time.max)
    end = min([*ends, horizon])
    try:
        following = rrulestr(";".join(f"{name}={value}" for name, value in parts.items()), dtstart=start, cache=False)
    except (ValueError, KeyError, IndexError, TypeError, AttributeError) as error:
        raise RuleUnreadable("This rule cannot be read. Check each part of it.") from error
    shown = _shown(following, end=end, zone=zone)
    every = list(islice(shown, min(count, limit + 1) if count else limit + 1))
    if len(every) > limit:
        raise TooManyDates(limit)
    if not ends and len(every) < count:
        raise RuleWithoutEnd(f"The rule does not give {count} dates within {FURTHEST_YEARS} years.")
    return [local for local in every if local.date() not in without]


def _until(text: str, *, zone: ZoneInfo) -> datetime:
    match = _UNTIL.fullmatch(text)
    if match is None:
        raise RuleUnreadable("UNTIL is a day such as 20261218, or a time such as 20261218T170000Z.")
    year, month, day, hour, minute, second, utc = match.groups()
    try:
        when = date(int(year), int(month), int(day))
        if hour is None:
            return datetime.combine(when, time.max)
        local = datetime.combine(when, time(int(hour), int(minute), int(second)))
        return local.replace(tzinfo=UTC).astimezone(zone).replace(tzinfo=None) if utc else local
    except (ValueError, OverflowError) as error:
        raise RuleUnreadable("There is no such day or time as UNTIL names.") from error


def _shown(following: Iterable[datetime], *, end: datetime, zone: ZoneInfo) -> Iterator[datetime]:
    for local in following:
        if local > end:
            return
        try:
            to_instant(local, zone=zone)
        except NoSuchLocalTime:
            continue
        yield local
