"""Pages of tests that belong to no bath: the wash of a line, and the safelights."""

from flask import Blueprint, render_template
from flask.typing import ResponseReturnValue

from labsys.answers import form_page, refusals, saved
from labsys.baths import queries as baths
from labsys.chemistry.sizes import MATERIAL_NAMES
from labsys.database import db
from labsys.forms import given
from labsys.people.access import permits, this_act
from labsys.people.permissions import Permission
from labsys.places import queries as places
from labsys.places.models import RoomKind
from labsys.proving import queries, service
from labsys.proving.forms import SafelightForm, WashForm

bp = Blueprint("proving", __name__)


@bp.get("/baths/lines/<int:line_id>/wash")
@permits(Permission.SEE_LAB)
def wash(line_id: int) -> ResponseReturnValue:
    """Show how well the work of a line was washed."""
    line = baths.line_or_raise(db.session, line_id)
    tests = queries.wash_tests(db.session, line_id=line_id)
    every = queries.WASH_DUE_AFTER_DAYS
    return render_template("proving/wash.html", line=line, tests=tests, materials=MATERIAL_NAMES, every=every)


@bp.route("/baths/lines/<int:line_id>/wash/test", methods=["GET", "POST"])
@permits(Permission.TEST_BATH)
def test_wash(line_id: int) -> ResponseReturnValue:
    """Write down a test of a line's washing."""
    line = baths.line_or_raise(db.session, line_id)
    form = WashForm(material=line.work.materials[0])
    form.offer(line.work, queries.fixers_of_line(db.session, line_id=line_id))
    if form.validate_on_submit():
        with refusals(form):
            tested = service.test_wash(
                this_act(form), line_id=line_id, found=form.found, tested_at=given(form.when.instant)
            )
            return saved(f"Written down: {tested.finding}. {_what_to_do(tested.is_washed)}", ".wash", line_id=line_id)
    return form_page("proving/test_wash.html", form, line=line)


def _what_to_do(is_washed: bool | None) -> str:
    if is_washed is None:
        return "No limit is published for it: ask the technician."
    return "Washed." if is_washed else "Not washed enough: wash it again, and look at the wash before the next."


@bp.get("/places/safelights")
@permits(Permission.SEE_LAB)
def safelights() -> ResponseReturnValue:
    """Show how long each paper may lie under the safelight of each place."""
    return render_template("proving/safelights.html", tests=queries.safelight_tests(db.session))


@bp.route("/places/safelights/test", methods=["GET", "POST"])
@permits(Permission.TEST_BATH)
def test_safelight() -> ResponseReturnValue:
    """Write down a test of a safelight."""
    form = SafelightForm()
    lit = [station for station in places.stations(db.session) if station.room.kind is not RoomKind.TOTAL_DARK]
    form.offer(lit)
    if form.validate_on_submit():
        with refusals(form):
            tested = service.test_safelight(
                this_act(form), station_id=form.station_id.data, found=form.found, tested_at=given(form.when.instant)
            )
            judged = "Safe there." if tested.is_safe else "Not safe there: change the lamp, its filter or the distance."
            return saved(f"Written down: {tested.finding}. {judged}", ".safelights")
    return form_page("proving/test_safelight.html", form)
