"""Pages that close something: for a time or out of use, after saying whom it hits; and a place with fewer units."""

from flask import Blueprint, g, request
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import form_page, refusals, refusals_at, saved
from labsys.closing import pages, queries, service
from labsys.closing.forms import ClosureForm, DecidingForm
from labsys.closing.moving import Hit
from labsys.closing.rules import OUT_OF_USE, NewTimeGone, NotAnswered, Scope
from labsys.database import db
from labsys.people.access import permits, this_act
from labsys.people.permissions import Permission
from labsys.places import queries as places
from labsys.places.calendar import FOR_GOOD
from labsys.places.forms import ChangeStationForm
from labsys.timetable.spans import Span

bp = Blueprint("closing", __name__)


@bp.route("/places/closures/add", methods=["GET", "POST"])
@permits(Permission.KEEP_PLACES)
def add() -> ResponseReturnValue:
    """Show the form of a closure; say whom it hits; close, with what was decided about each."""
    form = ClosureForm(data={"what": request.args.get("what", "lab")} if request.method == "GET" else None)
    form.offer(queries.scopes(db.session))
    hits: list[Hit] = []
    if form.validate_on_submit():

        def hit() -> list[Hit]:
            return service.hits_of(
                db.session, scope=form.scope, span=form.span, reason=form.reason.data or "", now=clock.now()
            )

        with refusals(form):
            hits = hit()
            try:
                closure = service.close(
                    this_act(form),
                    scope=form.scope,
                    span=form.span,
                    reason=form.reason.data or "",
                    answers=form.answers(hits, sent=request.form),
                )
            except NotAnswered:
                if "asked" in request.form:
                    raise  # the first time the page only asks
            except NewTimeGone:
                hits = hit()
                raise
            else:
                return saved(f"{closure.what} is closed then.{_told(hits)}", "places.index")
    return form_page("closing/add.html", form, hits=pages.hit_views(hits, zone=g.zone, sent=request.form))


@bp.post("/places/closures/<int:closure_id>/remove")
@permits(Permission.KEEP_PLACES)
def lift(closure_id: int) -> ResponseReturnValue:
    """Take a closure back."""
    service.lift(this_act(), closure_id=closure_id)
    return saved("The closure is taken back: the lab is open as in any other week.", "places.index")


@bp.route("/places/stations/<int:station_id>/close", methods=["GET", "POST"])
@permits(Permission.KEEP_PLACES)
def take_out_of_use(station_id: int) -> ResponseReturnValue:
    """Ask whether a place shall be taken out of use, and say what that hits; do it."""
    station = places.station_or_raise(db.session, station_id)
    form = DecidingForm()
    hits = service.hits_of(
        db.session,
        scope=Scope(station_id=station_id),
        span=Span(clock.now(), FOR_GOOD),
        reason=OUT_OF_USE,
        now=clock.now(),
    )
    if form.validate_on_submit():
        with refusals(form):
            closed = service.take_out_of_use(
                this_act(form), station_id=station_id, answers=form.answers(hits, sent=request.form)
            )
            return saved(f"{closed.name} is out of use.{_told(hits)}", "places.station", station_id=station_id)
    views = pages.hit_views(hits, zone=g.zone, sent=request.form)
    return form_page("closing/take_out_of_use.html", form, station=station, hits=views)


@bp.post("/places/stations/<int:station_id>/bring-back")
@permits(Permission.KEEP_PLACES)
def bring_back(station_id: int) -> ResponseReturnValue:
    """Bring a place back into use."""
    with refusals_at("places.station", station_id=station_id):
        station = service.bring_back(this_act(), station_id=station_id)
    return saved(f"{station.name} is in use again and can be booked.", "places.station", station_id=station_id)


@bp.route("/places/stations/<int:station_id>/change", methods=["GET", "POST"])
@permits(Permission.KEEP_PLACES)
def change_station(station_id: int) -> ResponseReturnValue:
    """Show the form of a place, or change it."""
    station = places.station_or_raise(db.session, station_id)
    form = ChangeStationForm.of(station)
    if form.validate_on_submit():
        with refusals(form):
            changed = service.change_station(this_act(form), station_id=station_id, **form.values)
            return saved(f"{changed.name} is changed.", "places.station", station_id=station_id)
    return form_page("places/change_station.html", form, station=station)


def _told(hits: list[Hit]) -> str:
    return f" {len(hits)} booked then: each is told by mail what becomes of it." if hits else ""
