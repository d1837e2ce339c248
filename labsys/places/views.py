"""Pages about places: rooms and what stands in them, opening hours, closures."""

from datetime import date

from flask import Blueprint, g, render_template, request
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import form_page, refusals, refusals_at, row_key, saved
from labsys.config import this_config
from labsys.database import db
from labsys.drawing.qr import scan_code_of
from labsys.forms import given
from labsys.people.access import permits, this_act
from labsys.people.permissions import Permission
from labsys.places import pages, queries, service
from labsys.places.forms import CompanionsForm, HoursForm, RoomForm, SpecialHoursForm, StationForm
from labsys.records import queries as records
from labsys.records.models import CodeKind
from labsys.timetable.local_time import day_words, to_local

bp = Blueprint("places", __name__)


@bp.get("/places")
@permits(Permission.SEE_LAB)
def index() -> ResponseReturnValue:
    """Show when the lab is open, what closes it, and its rooms with their places."""
    rooms = queries.rooms(db.session)
    return render_template(
        "places/index.html",
        week=pages.week_in_words(queries.week(db.session)),
        special=pages.special_in_words(
            queries.special_days(db.session, first=to_local(clock.now(), zone=g.zone).date()), rooms=rooms
        ),
        closures=queries.closures_from(db.session, clock.now()),
        rooms=pages.rooms_with_stations(
            rooms, queries.stations(db.session, in_use=False), own_hours=queries.hours_of_rooms(db.session)
        ),
    )


@bp.route("/places/rooms/add", methods=["GET", "POST"])
@permits(Permission.KEEP_PLACES)
def add_room() -> ResponseReturnValue:
    """Show the form of a new room, or add it."""
    form = RoomForm()
    if form.validate_on_submit():
        with refusals(form):
            room = service.add_room(this_act(form), name=form.name.data or "", facts=form.facts)
            return saved(f"{room.name} is added. Now add the places in it.", ".add_station", room=room.id)
    return form_page("places/add_room.html", form)


@bp.route("/places/rooms/<int:room_id>/change", methods=["GET", "POST"])
@permits(Permission.KEEP_PLACES)
def change_room(room_id: int) -> ResponseReturnValue:
    """Show the form of a room, or change what is said of it."""
    room = queries.room_or_raise(db.session, room_id)
    form = RoomForm(obj=room if request.method == "GET" else None)
    if form.validate_on_submit():
        with refusals(form):
            changed = service.change_room(this_act(form), room_id=room_id, name=form.name.data or "", facts=form.facts)
            return saved(f"{changed.name} is changed.", ".index")
    return form_page("places/change_room.html", form, room=room)


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
    station = queries.station_or_raise(db.session, station_id)
    code = records.code_of(db.session, kind=CodeKind.STATION, row_id=station_id)
    return render_template(
        "places/station.html",
        station=station,
        height=pages.height_in_words(station),
        code_words=code,
        code=scan_code_of(code, public_url=this_config().public_url) if code else None,
    )


@bp.post("/places/stations/<int:station_id>/code")
@permits(Permission.KEEP_PLACES)
def give_code(station_id: int) -> ResponseReturnValue:
    """Give a place a code to scan."""
    with refusals_at(".station", station_id=station_id):
        station = service.give_code(this_act(), station_id=station_id)
    return saved(f"{station.name} has a code. Print it and stick it on.", ".station", station_id=station_id)


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


@bp.route("/places/opening-hours", methods=["GET", "POST"])
@permits(Permission.KEEP_PLACES)
def opening_hours() -> ResponseReturnValue:
    """Show the week of the lab, or of a room that the address names, to change; or set it all at once."""
    room_id = request.args.get("room", type=row_key)
    room = queries.room_or_raise(db.session, room_id) if room_id else None
    form = HoursForm.of(queries.week(db.session, room_id=room_id))
    if form.validate_on_submit():
        service.set_opening_hours(this_act(form), hours=form.week, room_id=room_id or None)
        return saved(f"The opening hours{f' of {room.name}' if room else ''} are set.", ".index")
    return form_page("places/opening_hours.html", form, room=room)


@bp.route("/places/special-hours", methods=["GET", "POST"])
@permits(Permission.KEEP_PLACES)
def special_hours() -> ResponseReturnValue:
    """Show the form of a day with other hours, or set them."""
    form = SpecialHoursForm(room=request.args.get("room", 0, type=row_key), day=_day(request.args.get("day")))
    form.offer(queries.rooms(db.session))
    if form.validate_on_submit():
        with refusals(form):
            day = given(form.day.data)
            service.set_special_hours(this_act(form), day=day, hours=form.opened, room_id=form.room.data or None)
            return saved(f"The hours of {day_words(day)} are set.", ".index")
    return form_page("places/special_hours.html", form)


def _day(text: str | None) -> date | None:
    """The day that an address names."""
    try:
        return date.fromisoformat(text or "")
    except ValueError:
        return None
