"""What membership leaves to be done: the lab says who comes here, and somebody supervises."""

from collections.abc import Iterable, Iterator

from flask import url_for

from labsys.bookings.cells import Shown
from labsys.desk.duty import Duty, OfferedAct, Urgency
from labsys.people.permissions import Permission
from labsys.records.models import Admits


def of_suspended(bookings: Iterable[Shown]) -> Iterator[Duty]:
    """Bookings that may not begin, or not go on, since nobody supervises them as it is asked."""
    for shown in bookings:
        if shown.is_suspended and not (shown.is_past or shown.has_left):
            href = url_for("bookings.show", booking_id=shown.booking_id)
            what = f"Your booking, {shown.times}" if shown.is_mine else f"{shown.name}, {shown.times}"
            stopped = "may not go on" if shown.is_here else "no start as it stands"
            why = f"{shown.station}: suspended, {stopped}"
            urgency = Urgency.YOURS if shown.is_mine else Urgency.NOW if shown.is_here else Urgency.SOON
            yield Duty(urgency, what, href, why, OfferedAct("See why", href, alone=f"{what}: see why"))


def of_memberships(admits: Admits) -> Iterator[Duty]:
    if admits is Admits.NOT_STATED:
        act = OfferedAct("Say it", url_for("membership.rules"), alone="Say whether people under 18 come here")
        why = "Nobody has said whether people under 18 come here, so that nobody is asked for their age"
        yield Duty(Urgency.LATER, "Who comes here", act.href, why, act, needed=Permission.KEEP_LAB)
