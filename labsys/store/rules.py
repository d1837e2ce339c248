"""Decisions about bottles and where they stand."""

from dataclasses import dataclass, fields
from datetime import date, datetime

from labsys.records.errors import Refused

MOST_OVER_NOMINAL = 1.5  # a litre bottle filled to the brim holds a tenth more; half as much again is a slip


@dataclass(frozen=True, kw_only=True)
class Noted:
    """What is noted of a bottle when it comes, each under the name of its column and of its field."""

    lot: str = ""
    received_at: datetime
    expires_on: date | None = None


NOTED = tuple(field.name for field in fields(Noted))


class ShelfRefused(Refused):
    """The storage place cannot be as entered; the message says why."""


class BottleRefused(Refused):
    """The bottle cannot be used so; the message says why and what to do."""


def check_received(received_at: datetime, *, first_moved_at: datetime | None) -> None:
    """Raise BottleRefused where a bottle would come after something was taken from it."""
    if first_moved_at is not None and first_moved_at < received_at:
        raise BottleRefused("Something was taken from it before that. Check the day and the time.", field="received_at")


def check_bottle(*, amount: int, noted: Noted) -> None:
    """Raise BottleRefused unless a bottle received today makes sense."""
    if amount <= 0:
        raise BottleRefused("Enter how much is in the bottle.", field="amount")
    if noted.expires_on is not None and noted.expires_on < noted.received_at.date():
        raise BottleRefused(
            "It was past its date when it arrived. Send it back, or check the date.", field="expires_on"
        )
