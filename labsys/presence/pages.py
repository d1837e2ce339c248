"""What the page of who is in the building shows."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from labsys.presence.queries import Head
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
            what=head.what,
            since=clock_words(head.since, zone=zone),
            until=clock_words(head.until, zone=zone),
            is_overdue=head.until + after <= now,
        )
        for head in heads
    ]


def in_a_sentence(number: int) -> str:
    """How many are known to be in.

    >>> in_a_sentence(1)
    '1 person is known to be in the building.'
    """
    if not number:
        return "Nobody is known to be in the building."
    return f"{number} {'person is' if number == 1 else 'people are'} known to be in the building."
