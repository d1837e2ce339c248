"""Between UTC instants and the clock on the lab's wall, clock changes included."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo


class NoSuchLocalTime(ValueError):
    """The clock on the wall skipped this time: it lies in the hour lost when the clocks go forward."""

    def __init__(self, local: datetime, zone: ZoneInfo):
        super().__init__(f"{local:%H:%M on %-d %B %Y} did not exist: the clocks went forward over it.")
        self.local = local
        self.zone = zone


def to_instant(local: datetime, *, zone: ZoneInfo) -> datetime:
    """Return the UTC instant at which the lab's wall clock showed this time.

    A time shown twice (the hour repeated when the clocks go back) means the first of the two.

    Parameters:
        local: Wall-clock time without a zone. [-]
        zone: The lab's time zone. [-]
    Returns:
        The instant, in UTC. [-]
    Raises:
        NoSuchLocalTime: The time lies in a gap.
    Source:
        Python Enhancement Proposal 495 (A. Belopolsky, T. Peters, 2015): `fold`; a round trip finds a gap.

    >>> to_instant(datetime(2026, 7, 1, 12, 0), zone=ZoneInfo("Europe/London")).isoformat()
    '2026-07-01T11:00:00+00:00'
    """
    if local.tzinfo is not None:
        raise ValueError("wall-clock time carries no zone")
    instant = local.replace(tzinfo=zone, fold=0).astimezone(UTC)
    if instant.astimezone(zone).replace(tzinfo=None) != local:
        raise NoSuchLocalTime(local, zone)
    return instant


def to_local(instant: datetime, *, zone: ZoneInfo) -> datetime:
    """Return what the lab's wall clock shows at an instant, with the zone.

    Parameters:
        instant: An instant with a zone. [-]
        zone: The lab's time zone. [-]
    Returns:
        The same instant in the lab's zone. [-]
    Raises:
        ValueError: The instant has no zone.
    Source:
        IANA time zone database through `zoneinfo`.

    >>> to_local(datetime(2026, 7, 1, 11, 0, tzinfo=UTC), zone=ZoneInfo("Europe/London")).hour
    12
    """
    if instant.tzinfo is None:
        raise ValueError("an instant carries a zone")
    return instant.astimezone(zone)


def clock_words(instant: datetime, *, zone: ZoneInfo) -> str:
    """Return what the lab's wall clock shows, with the zone's name where the clock shows that time twice.

    Parameters:
        instant: An instant with a zone. [-]
        zone: The lab's time zone. [-]
    Returns:
        Hours and minutes, such as "14:30", or "01:30 GMT" in the hour that is repeated. [-]
    Raises:
        ValueError: The instant has no zone.
    Source:
        IANA time zone database through `zoneinfo`; `fold` as in Python Enhancement Proposal 495.

    >>> clock_words(datetime(2026, 10, 25, 1, 30, tzinfo=UTC), zone=ZoneInfo("Europe/London"))
    '01:30 GMT'
    """
    local = to_local(instant, zone=zone)
    shown_twice = local.replace(fold=0).utcoffset() > local.replace(fold=1).utcoffset()  # type: ignore[operator]
    return f"{local:%H:%M} {local:%Z}" if shown_twice else f"{local:%H:%M}"


def end_words(end: datetime, *, start: datetime, zone: ZoneInfo) -> str:
    """Return what the clock shows at the end of something; the midnight that closes the day it began on is 24:00.

    Parameters:
        end: When it is over. [-]
        start: When it began. [-]
        zone: The lab's time zone. [-]
    Returns:
        Hours and minutes, such as "24:00"; of any other midnight "00:00". [-]
    Raises:
        ValueError: An instant has no zone.
    Source:
        Definition, as opening hours are written.

    >>> eve = datetime(2026, 7, 1, 20, 0, tzinfo=UTC)
    >>> end_words(datetime(2026, 7, 1, 23, 0, tzinfo=UTC), start=eve, zone=ZoneInfo("Europe/London"))
    '24:00'
    """
    local = to_local(end, zone=zone)
    is_midnight = local.hour == local.minute == 0
    closes = is_midnight and local.date() == to_local(start, zone=zone).date() + timedelta(days=1)
    return "24:00" if closes else clock_words(end, zone=zone)


def day_words(day: date) -> str:
    """Show a day of the calendar as every page does.

    >>> day_words(date(2026, 3, 2))
    '2 Mar 2026'
    """
    return f"{day:%-d %b %Y}"
