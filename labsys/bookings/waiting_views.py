"""Pages of the waiting list: wait for a place, see where one stands, take or decline what is offered."""

from typing import Any

from flask import Blueprint, abort, g, render_template, request, url_for
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import form_page, refusals, refusals_at, row_key, saved
from labsys.bookings import pages, queries, waiting
from labsys.bookings.forms import WaitForm
from labsys.bookings.models import Wait
from labsys.bookings.waiting import FreeAlready, OfferOver
from labsys.database import db
from labsys.inductions.rules import Missing, NotCleared
from labsys.people.access import current_person, permits, this_act
from labsys.people.permissions import Permission, may
from labsys.places import queries as places
from labsys.processes import queries as processes
from labsys.timetable.opening import day_span
from labsys.timetable.spans import Span

bp = Blueprint("waiting", __name__)


@bp.get("/bookings/waiting")
@permits(Permission.BOOK_STATION)
def index() -> ResponseReturnValue:
    """Show what one waits for; to those who book for others also who else waits."""
    person, now = current_person(), clock.now()
    own = queries.waits_of_person(db.session, person.id)
    others = []
    if may(person, Permission.BOOK_FOR_OTHERS):
        others = [wait for wait in queries.all_waits(db.session) if wait.person_id != person.id]
    return render_template(
        "bookings/waiting.html",
        own=[_view(wait) for wait in own],
        others=[pages.wait_view(wait, before=0, zone=g.zone, now=now) for wait in others],
    )


@bp.route("/bookings/waiting/begin", methods=["GET", "POST"])
@permits(Permission.BOOK_STATION)
def begin() -> ResponseReturnValue:
    """Show the form to wait for a place, or begin to wait."""
    now = clock.now()
    day = pages.day_of(request.args.get("day"), zone=g.zone, now=now)
    calendar = places.calendar(db.session, within=day_span(day, zone=g.zone), now=clock.now())
    stations = places.stations(db.session)
    station_id = request.args.get("station", type=row_key)
    wanted = next((station for station in stations if station.id == station_id), None)
    opening = calendar.of(wanted) if wanted else calendar.lab
    at, until = request.args.get("from"), request.args.get("to")
    begin = pages.prefill(day=day, at=at, until=until, opening=opening, now=now)
    form = WaitForm(
        station=station_id,
        day=begin.day,
        starts=begin.starts,
        ends=begin.ends,
        **{name: value for name in ("minutes", "process_id", "size", "count") if (value := request.args.get(name))},
    )
    form.offer(stations)
    starts = pages.time_choices(places.widest_week(db.session))
    form.offer_times(starts, [minute + pages.QUARTER_MINUTES for minute in starts])
    form.offer_processes(processes.processes(db.session))
    offers: list[pages.Offer] = []
    missing: tuple[Missing, ...] = ()
    if form.validate_on_submit():
        with refusals(form):
            try:
                wait = waiting.wait(
                    this_act(form),
                    station_id=form.station.data,
                    window=form.span(zone=g.zone),
                    minutes=form.minutes.data,
                    plan=form.plan,
                )
            except FreeAlready as free:
                offers = _offers(free.nearest, station_id=form.station.data)
                raise
            except NotCleared as refusal:
                missing = refusal.missing
                raise
            return saved("You are on the waiting list.", ".show", wait_id=wait.id)
    return form_page("bookings/wait.html", form, offers=offers, missing=missing)


@bp.get("/bookings/waiting/<int:wait_id>")
@permits(Permission.BOOK_STATION)
def show(wait_id: int) -> ResponseReturnValue:
    """Show where somebody stands, and what is offered to them."""
    return render_template("bookings/wait_show.html", **_shown(wait_id))


@bp.post("/bookings/waiting/<int:wait_id>/accept")
@permits(Permission.BOOK_STATION)
def accept(wait_id: int) -> ResponseReturnValue:
    """Take what is offered; where that is too late, say so and what is free nearest to it."""
    wait = queries.wait_or_raise(db.session, wait_id)
    with refusals_at(".show", wait_id=wait_id):
        try:
            booking = waiting.accept(this_act(), wait_id=wait_id)
        except OfferOver as over:
            offers = _offers(over.nearest, station_id=wait.station_id)
            return render_template("bookings/wait_show.html", over=str(over), offers=offers, **_shown(wait_id)), 422
    return saved("Booked.", "bookings.show", booking_id=booking.id)


@bp.post("/bookings/waiting/<int:wait_id>/decline")
@permits(Permission.BOOK_STATION)
def decline(wait_id: int) -> ResponseReturnValue:
    """Decline what is offered."""
    with refusals_at(".show", wait_id=wait_id):
        waiting.decline(this_act(), wait_id=wait_id)
    return saved("Declined. It goes to whoever waits next.", ".index")


@bp.post("/bookings/waiting/<int:wait_id>/leave")
@permits(Permission.BOOK_STATION)
def leave(wait_id: int) -> ResponseReturnValue:
    """Wait no longer."""
    with refusals_at(".show", wait_id=wait_id):
        waiting.leave_list(this_act(), wait_id=wait_id)
    return saved("You are off the waiting list.", ".index")


def _view(wait: Wait) -> pages.WaitView:
    before = queries.places_before(db.session, wait) if wait.ended_at is None else 0
    return pages.wait_view(wait, before=before, zone=g.zone, now=clock.now())


def _shown(wait_id: int) -> dict[str, Any]:
    wait = queries.wait_or_raise(db.session, wait_id)
    if not waiting.may_see(current_person(), wait):
        abort(403)
    return {"view": _view(wait), "is_own": wait.person_id == current_person().id}


def _offers(nearest: tuple[Span, ...], *, station_id: int) -> list[pages.Offer]:
    """Free times as links that fill in the form to book."""

    def book(**when: Any) -> str:
        return url_for("bookings.book", station=station_id, **when)

    return pages.offers(nearest, zone=g.zone, href=book)
