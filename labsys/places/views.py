"""Pages about places: rooms and what stands in them, opening hours, closures."""

from flask import Blueprint, render_template, request
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import form_page, refusals, refusals_at, row_key, saved
from labsys.database import db
from labsys.people.access import permits, this_act
from labsys.people.permissions import Permission
from labsys.places import pages, queries, service
from labsys.places.forms import ChangeStationForm, ClosureForm, CompanionsForm, HoursForm, RoomForm, StationForm

bp = Blueprint("places", __name__)


@bp.get("/places")
@permits(Permission.SEE_LAB)
def index() -> ResponseReturnValue:
    """Show when the lab is open, what closes it, and its rooms with their places."""
    return render_template(
        "places/index.html",
        week=pages.week_in_words(queries.week(db.session)),
        closures=queries.closures_from(db.session, clock.now()),
        rooms=pages.rooms_with_stations(queries.rooms(db.session), queries.stations(db.session, in_use=False)),
    )


@bp.route("/places/rooms/add", methods=["GET", "POST"])
@permits(Permission.KEEP_PLACES)
def add_room() -> ResponseReturnValue:
    """Show the form of a new room, or add it."""
    form = RoomForm()
    if form.validate_on_submit():
        with refusals(form):
            room = service.add_room(this_act(form), **form.values_of("name", "kind"))
            return saved(f"{room.name} is added. Now add the places in it.", ".add_station", room=room.id)
    return form_page("places/add_room.html", form)


@bp.route("/places/stations/add", methods=["GET", "POST"])
@permits(Permission.KEEP_PLACES)
def add_station() -> ResponseReturnValue:
    """Show the form of a new place, or add it."""
    form = StationForm(room=request.args.get("room", type=row_key))
    form.room.choices = [(room.id, room.name) for room in queries.rooms(db.session)]
    if form.validate_on_submit():
        with refusals(form):
            station = service.add_station(this_act(form), room_id=form.room.data, **form.values)
            return saved(f"{station.name} is added and can be booked.", ".station", station_id=station.id)
    return form_page("places/add_station.html", form)


@bp.get("/places/stations/<int:station_id>")
@permits(Permission.SEE_LAB)
def station(station_id: int) -> ResponseReturnValue:
    """Show one place."""
    return render_template("places/station.html", station=queries.station_or_raise(db.session, station_id))


@bp.route("/places/stations/<int:station_id>/change", methods=["GET", "POST"])
@permits(Permission.KEEP_PLACES)
def change_station(station_id: int) -> ResponseReturnValue:
    """Show the form of a place, or change it."""
    station = queries.station_or_raise(db.session, station_id)
    form = ChangeStationForm(
        name=station.name,
        units=len(station.units),
        margin=station.margin_minutes,
        position=station.position,
        note=station.note,
    )
    if form.validate_on_submit():
        with refusals(form):
            changed = service.change_station(this_act(form), station_id=station_id, **form.values)
            return saved(f"{changed.name} is changed.", ".station", station_id=station_id)
    return form_page("places/change_station.html", form, station=station)


@bp.route("/places/stations/<int:station_id>/companions", methods=["GET", "POST"])
@permits(Permission.KEEP_PLACES)
def companions(station_id: int) -> ResponseReturnValue:
    """Show what comes with a place, or set it."""
    station = queries.station_or_raise(db.session, station_id)
    form = CompanionsForm(brings=[companion.brings_id for companion in station.brings])
    form.brings.choices = [(other.id, other.name) for other in queries.stations(db.session) if other.id != station_id]
    if form.validate_on_submit():
        with refusals(form):
            changed = service.set_companions(this_act(form), station_id=station_id, brings=form.brings.data or [])
            return saved(f"What comes with {changed.name} is set.", ".station", station_id=station_id)
    return form_page("places/companions.html", form, station=station)


@bp.post("/places/stations/<int:station_id>/close")
@permits(Permission.KEEP_PLACES)
def close_station(station_id: int) -> ResponseReturnValue:
    """Take a place out of use for good."""
    with refusals_at(".station", station_id=station_id):
        closed = service.close_station(this_act(), station_id=station_id)
    return saved(f"{closed.name} is out of use.", ".station", station_id=station_id)


@bp.route("/places/opening-hours", methods=["GET", "POST"])
@permits(Permission.KEEP_PLACES)
def opening_hours() -> ResponseReturnValue:
    """Show the week's opening hours to change, or set them all at once."""
    form = HoursForm.of(queries.week(db.session))
    if form.validate_on_submit():
        service.set_opening_hours(this_act(form), hours=form.week)
        return saved("The opening hours are set.", ".index")
    return form_page("places/opening_hours.html", form)


@bp.route("/places/closures/add", methods=["GET", "POST"])
@permits(Permission.KEEP_PLACES)
def add_closure() -> ResponseReturnValue:
    """Show the form of a closure, or add it."""
    form = ClosureForm()
    if form.validate_on_submit():
        with refusals(form):
            service.add_closure(this_act(form), span=form.span, **form.values_of("reason"))
            return saved("The lab is closed then. Bookings in that time stay: tell their people.", ".index")
    return form_page("places/add_closure.html", form)


@bp.post("/places/closures/<int:closure_id>/remove")
@permits(Permission.KEEP_PLACES)
def remove_closure(closure_id: int) -> ResponseReturnValue:
    """Take a closure back."""
    service.remove_closure(this_act(), closure_id=closure_id)
    return saved("The closure is taken back: the lab is open as in any other week.", ".index")
