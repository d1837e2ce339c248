"""Decisions about shared tablets: PINs, cards, how long somebody is known there, and how often one may guess."""

from datetime import UTC, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from labsys.people.permissions import Permission
from labsys.records.errors import Refused
from labsys.timetable.local_time import to_local

SHORTEST_PIN, LONGEST_PIN = 4, 8
TRIES_PER_PERSON = 5
TRIES_PER_DEVICE = 10
VISIT_LASTS = timedelta(minutes=3)
NIGHT_ENDS = time(4, 0)  # on the lab's wall clock: the last people have gone home
TABLET_PERMISSIONS = frozenset(
    {Permission.SEE_LAB, Permission.LOG_USE, Permission.BOOK_STATION, Permission.REPORT_INCIDENT}
)


class DeviceRefused(Refused):
    """A tablet, a card or a PIN cannot be had so; the message says why and what to do."""


class NotKnown(Exception):
    """The card, or the name and PIN, do not say who somebody is; which part is wrong is not told."""


def check_pin(pin: str) -> None:
    """Raise DeviceRefused unless a PIN is 4 to 8 digits and not of the kind that is tried first.

    >>> check_pin("2580")
    >>> check_pin("1234")
    Traceback (most recent call last):
    labsys.devices.rules.DeviceRefused: That is among the first anybody tries. Choose other digits.
    """
    if not (pin.isascii() and pin.isdigit() and SHORTEST_PIN <= len(pin) <= LONGEST_PIN):
        raise DeviceRefused(f"Use {SHORTEST_PIN} to {LONGEST_PIN} digits.", field="pin")
    steps = {(int(after) - int(before)) % 10 for before, after in pairwise(pin)}
    if steps <= {0} or steps == {1} or steps == {9}:
        raise DeviceRefused("That is among the first anybody tries. Choose other digits.", field="pin")


def night_ends(*, now: datetime, zone: ZoneInfo) -> datetime:
    """When tonight's code stops: the next time the lab's wall clock shows 04:00.

    Parameters:
        now: An instant. [-]
        zone: The lab's time zone. [-]
    Returns:
        The instant, in UTC; where the clocks skip 04:00, the instant they go forward or up to an hour after. [-]

    >>> night_ends(now=datetime(2026, 3, 28, 23, tzinfo=UTC), zone=ZoneInfo("Europe/London")).isoformat()
    '2026-03-29T03:00:00+00:00'
    """
    here = to_local(now, zone=zone)
    day = here.date() if here.time() < NIGHT_ENDS else here.date() + timedelta(days=1)
    return datetime.combine(day, NIGHT_ENDS, tzinfo=zone).astimezone(UTC)
