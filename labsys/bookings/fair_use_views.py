"""Pages of fair use: what each role may book, and what becomes of a place that nobody comes to."""

from flask import Blueprint, abort, g, render_template, request
from flask.typing import ResponseReturnValue

from labsys.answers import form_page, refusals, saved
from labsys.bookings import keeping_fair
from labsys.bookings.fair_use import minutes_in_words
from labsys.bookings.forms import ArrivingForm, LimitsForm
from labsys.database import db
from labsys.people.access import permits, this_act
from labsys.people.models import Role
from labsys.people.permissions import GRANTED, Permission

bp = Blueprint("fair_use", __name__)
BOOKING_ROLES = tuple(role for role in Role if Permission.BOOK_STATION in GRANTED[role])


@bp.get("/bookings/fair-use")
@permits(Permission.SEE_LAB)
def index() -> ResponseReturnValue:
    """Show what each role may book."""
    by_role = keeping_fair.limits_by_role(db.session)
    limits = {role: by_role[role] for role in BOOKING_ROLES}
    return render_template("bookings/fair_use.html", limits=limits, lab=g.lab, in_words=minutes_in_words)


@bp.route("/bookings/fair-use/change", methods=["GET", "POST"])
@permits(Permission.KEEP_PLACES)
def change() -> ResponseReturnValue:
    """Show what the role that the address names may book, to change; or set it."""
    wanted = request.args.get("role", Role.MEMBER.value)
    role = next((role for role in BOOKING_ROLES if role.value == wanted), None) or abort(404)
    form = LimitsForm.of(keeping_fair.limits_by_role(db.session)[role])
    if form.validate_on_submit():
        with refusals(form):
            keeping_fair.set_limits(this_act(form), role=role, limits=form.limits)
            return saved(f"What a {role} may book is set.", ".index")
    return form_page("bookings/change_fair_use.html", form, role=role)


@bp.route("/bookings/fair-use/arriving", methods=["GET", "POST"])
@permits(Permission.KEEP_PLACES)
def arriving() -> ResponseReturnValue:
    """Show when a place that nobody came to is given free and how long an offer stands, to change; or set it."""
    late = g.lab.late_cancel_minutes
    form = ArrivingForm(
        free_after_minutes=g.lab.free_after_minutes,
        late_cancel_hours=late and -(-late // 60),
        offer_minutes=g.lab.offer_minutes,
    )
    if form.validate_on_submit():
        hours = form.late_cancel_hours.data
        keeping_fair.set_arriving(
            this_act(form),
            **form.values_of("free_after_minutes", "offer_minutes"),
            late_cancel_minutes=hours and hours * 60,
        )
        return saved("That is set.", ".index")
    return form_page("bookings/arriving.html", form)
