"""What follows once somebody came, went, or is not coming: rooms below this one, which it cannot import, hand it in.

It is part of the act that caused it, and stands or falls with it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from flask import Flask, current_app, has_app_context

from labsys.bookings.models import Booking
from labsys.people.acts import Act
from labsys.timetable.spans import Span

_HANDED_IN = "labsys-followers-of-presence"


@dataclass(frozen=True)
class Freed:
    """Time for which somebody was booked and will not be there."""

    booking: Booking
    span: Span

    @classmethod
    def of(cls, booking: Booking) -> "Freed":
        """All of a booking's time, before it is moved or given up."""
        return cls(booking, Span(booking.starts_at, booking.ends_at))


class Follower(Protocol):
    """Does what follows: who is here has changed, or who will be there in the times that were freed."""

    def __call__(self, act: Act, freed: Sequence[Freed]) -> None: ...


def register_presence_follower(app: Flask, follower: Follower) -> None:
    """Let the application know what follows in a room below this one."""
    app.extensions.setdefault(_HANDED_IN, []).append(follower)


def follow(act: Act, *freed: Freed) -> None:
    """Step: let everything follow that does."""
    followers: Sequence[Follower] = current_app.extensions.get(_HANDED_IN, ()) if has_app_context() else ()
    for follower in followers:
        follower(act, freed)
