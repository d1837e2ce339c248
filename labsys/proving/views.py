"""Pages of tests that belong to no bath: the wash of a line, and the safelights."""

from flask import Blueprint, render_template
from flask.typing import ResponseReturnValue

from labsys.answers import form_page, refusals, saved
from labsys.baths import queries as baths
from labsys.chemistry.sizes import MATERIAL_NAMES, Material
from labsys.database import db
from labsys.forms import given, new_key
from labsys.people.access import current_person, permits, this_act
from labsys.people.permissions import Permission, may
from labsys.places import queries as places
from labsys.places.models import RoomKind
from labsys.products import queries as products
from labsys.proving import capacity, queries, service
from labsys.proving.forms import ApproveForm, SafelightForm, WashForm
from labsys.proving.learning import LEAST_BATHS, RAISING

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


@bp.route("/store/products/<int:product_id>/capacity", methods=["GET", "POST"])
@permits(Permission.SEE_LAB)
def product_capacity(product_id: int) -> ResponseReturnValue:
    """Show what this lab's tests say a litre takes, beside the supplier's figure; two people approve it."""
    product = products.product_or_raise(db.session, product_id)
    learnings = capacity.learnings(db.session, product)
    form = ApproveForm()
    if form.validate_on_submit():
        with refusals(form):
            approved = service.approve_capacity(
                this_act(form),
                product_id=product_id,
                water_parts_milli=given(form.water_parts_milli.data),
                material=Material(given(form.material.data)),
                per_litre=given(form.per_litre.data),
            )
            said = (
                "In force: every bath is counted by it from now on."
                if approved.second_at
                else ("Approved by you. It counts once a second person has approved it too.")
            )
            return saved(said, ".product_capacity", product_id=product_id)
    may_approve = any(may(current_person(), each) for each in (Permission.KEEP_BATHS, Permission.CONFIRM_PRODUCT))
    return form_page(
        "proving/capacity.html",
        form,
        product=product,
        learnings=[capacity.shown(each) for each in learnings],
        may_approve=may_approve,
        new_key=new_key,
        least=LEAST_BATHS,
        raising=RAISING,
    )
