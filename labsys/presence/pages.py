"""What the page of who is in the building shows."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from labsys.membership.models import EmergencyContact
from labsys.presence.queries import Head
from labsys.quantities import counted
from labsys.timetable.local_time import clock_words

NOBODY: Mapping[int, EmergencyContact] = {}


@dataclass(frozen=True)
class HeadView:
    """Somebody in the building as the page and the list show them."""

    key: str
    name: str
    what: str
    since: str
    until: str
    is_overdue: bool
    to_call: str = ""  # in an emergency; empty where it is not known, or not for this reader


def head_views(
    heads: Sequence[Head],
    *,
    now: datetime,
    after: timedelta,
    zone: ZoneInfo,
    contacts: Mapping[int, EmergencyContact] = NOBODY,
) -> list[HeadView]:
    """`contacts` are whom to call for each person, for who may read that."""
    return [
        HeadView(
            key=head.key,
            name=head.name,
            what=f"{head.what}, with {counted(head.guests, 'guest')}" if head.guests else head.what,
            since=clock_words(head.since, zone=zone),
            until=clock_words(head.until, zone=zone),
            is_overdue=head.until + after <= now,
            to_call=_to_call(contacts.get(head.person_id or 0)),
        )
        for head in heads
    ]


def _to_call(contact: EmergencyContact | None) -> str:
    return f"{contact.name}, {contact.telephone}" if contact else ""


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
