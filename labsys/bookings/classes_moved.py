"""Who else is told when a class is moved or called off, on whatever page: rooms below hand in how they tell theirs."""

from collections.abc import Mapping, Sequence
from typing import Protocol

from flask import Flask, current_app, has_app_context

from labsys.bookings.models import Booking
from labsys.people.acts import Act
from labsys.timetable.spans import Span

_HANDED_IN = "labsys-followers-of-classes"


class TellsItsOwn(Protocol):
    """Tells those who come to these classes that each is at another time than `before`, or does not take place."""

    def __call__(self, act: Act, moved: Sequence[Booking], *, before: Mapping[int, Span], because: str) -> None: ...


def register_told_of_classes(app: Flask, teller: TellsItsOwn) -> None:
    """Let the application know who follows classes in a room below this one."""
    app.extensions.setdefault(_HANDED_IN, []).append(teller)


def tell_of_classes_moved(
    act: Act, bookings: Sequence[Booking], *, before: Mapping[int, Span], because: str = ""
) -> None:
    """Step: have whoever comes to these classes told; `before` is when each was. Another unit then is no news."""
    moved = [
        booking
        for booking in bookings
        if booking.class_name
        and (booking.cancelled_at is not None or before[booking.id] != Span(booking.starts_at, booking.ends_at))
    ]
    tellers: Sequence[TellsItsOwn] = current_app.extensions.get(_HANDED_IN, ()) if has_app_context() else ()
    for teller in tellers if moved else ():
        teller(act, moved, before=before, because=because)
