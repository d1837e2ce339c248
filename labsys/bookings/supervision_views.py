"""What supervisors say of a booking, each at a touch: that they come or cannot, that they are here, that they go."""

from flask import Blueprint, abort
from flask.typing import ResponseReturnValue

from labsys.answers import refusals_at, saved
from labsys.bookings import supervising
from labsys.forms import LabForm
from labsys.people.access import permits, this_act
from labsys.people.permissions import Permission

bp = Blueprint("supervision", __name__)

_ACTS = {
    "come": (supervising.come, "You supervise this booking."),
    "not-come": (supervising.not_come, "You do not come. The booking is suspended until somebody else does."),
    "arrive": (supervising.arrive, "You are here. The work may begin."),
    "leave": (supervising.leave, "You have left. The work stops until somebody supervises it."),
}


@bp.post("/bookings/<int:booking_id>/supervise/<said>")
@permits(Permission.BOOK_FOR_OTHERS)
def say(booking_id: int, said: str) -> ResponseReturnValue:
    """Note what a supervisor says of a booking."""
    act, message = _ACTS.get(said) or abort(404)
    with refusals_at("bookings.show", booking_id=booking_id):
        act(this_act(LabForm()), booking_id=booking_id)
    return saved(message, "bookings.show", booking_id=booking_id)
