"""Decisions about bottles and where they stand."""

from datetime import date

from labsys.records.errors import Refused

MOST_OVER_NOMINAL = 1.5  # a litre bottle filled to the brim holds a tenth more; half as much again is a slip


class ShelfRefused(Refused):
    """The storage place cannot be as entered; the message says why."""


class BottleRefused(Refused):
    """The bottle cannot be used so; the message says why and what to do."""


def check_bottle(*, amount: int, expires_on: date | None, received_on: date) -> None:
    """Raise BottleRefused unless a bottle received today makes sense."""
    if amount <= 0:
        raise BottleRefused("Enter how much is in the bottle.", field="amount")
    if expires_on is not None and expires_on < received_on:
        raise BottleRefused(
            "It was past its date when it arrived. Send it back, or check the date.", field="expires_on"
        )
