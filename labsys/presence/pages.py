"""What the page of who is in the building shows."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from labsys.presence.queries import Head
from labsys.quantities import counted
from labsys.timetable.local_time import clock_words


@dataclass(frozen=True)
class HeadView:
    """Somebody in the building as the page and the list show them."""

    key: str
    name: str
    what: str
    since: str
    until: str
    is_overdue: bool


def head_views(heads: Sequence[Head], *, now: datetime, after: timedelta, zone: ZoneInfo) -> list[HeadView]:
    return [
        HeadView(
            key=head.key,
            name=head.name,
            what=f"{head.what}, with {counted(head.guests, 'guest')}" if head.guests else head.what,
            since=clock_words(head.since, zone=zone),
            until=clock_words(head.until, zone=zone),
            is_overdue=head.until + after <= now,
        )
        for head in heads
    ]


def how_many(heads: Sequence[Head]) -> int:
    """Everybody, those who came along counted."""
    return sum(1 + head.guests for head in heads)


def in_a_sentence(number: int) -> str:
    """How many are known to be in.

    >>> in_a_sentence(1)
    '1 person is known to be in the building.'
    """
    if not number:
        return "Nobody is known to be in the building."
    return f"{number} {'person is' if number == 1 else 'people are'} known to be in the building."
