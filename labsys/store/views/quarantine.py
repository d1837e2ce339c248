"""Pages of what is kept apart: doubtful bottles, and those found without a label."""

from flask import render_template
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import form_page, refusals, saved
from labsys.database import db
from labsys.forms import given
from labsys.people.access import permits, this_act
from labsys.people.permissions import Permission
from labsys.products import queries as product_queries
from labsys.store import quarantine, queries
from labsys.store.blueprint import bp
from labsys.store.forms import ClearForm, EndUnlabelledForm, SetApartForm, UnlabelledForm
from labsys.store.models import UnlabelledEnd


@bp.route("/store/bottles/<int:bottle_id>/set-apart", methods=["GET", "POST"])
@permits(Permission.KEEP_STOCK)
def set_apart(bottle_id: int) -> ResponseReturnValue:
    """Put a bottle in quarantine, with the reason."""
    bottle = queries.bottle_or_raise(db.session, bottle_id)
    form = SetApartForm()
    if form.validate_on_submit():
        with refusals(form):
            quarantine.set_apart(this_act(form), bottle_ids=[bottle_id], reason=given(form.reason.data))
            return saved(f"{bottle.code} is in quarantine. Write so on it.", ".bottle", bottle_id=bottle_id)
    return form_page("store/set_apart.html", form, bottle=bottle)


@bp.route("/store/bottles/<int:bottle_id>/clear", methods=["GET", "POST"])
@permits(Permission.RELEASE_WASTE)
def clear(bottle_id: int) -> ResponseReturnValue:
    """Say that a bottle may be used again, and how that is known."""
    bottle = queries.bottle_or_raise(db.session, bottle_id)
    form = ClearForm()
    if form.validate_on_submit():
        with refusals(form):
            quarantine.clear(this_act(form), bottle_id=bottle_id, note=given(form.note.data))
            return saved(f"{bottle.code} may be used again.", ".bottle", bottle_id=bottle_id)
    now = next((each for each in queries.quarantines_of(db.session, bottle_id) if each.ended_at is None), None)
    return form_page("store/clear.html", form, bottle=bottle, quarantine=now)


@bp.route("/store/unlabelled/report", methods=["GET", "POST"])
@permits(Permission.REPORT_INCIDENT)
def report_unlabelled() -> ResponseReturnValue:
    """Write down a bottle found without a label: anybody may."""
    form = UnlabelledForm()
    if form.validate_on_submit():
        with refusals(form):
            found = quarantine.report_unlabelled(
                this_act(form),
                looks=given(form.looks.data),
                place=given(form.place.data),
                stands=given(form.stands.data),
                found_at=form.found_at.instant or clock.now(),
            )
            words = f"Written down. Write {found.code} on it, and: not known, do not open."
            return saved(words, ".unlabelled", unlabelled_id=found.id)
    return form_page("store/report_unlabelled.html", form)


@bp.get("/store/unlabelled/<int:unlabelled_id>", endpoint="unlabelled")
@permits(Permission.SEE_LAB)
def show_unlabelled(unlabelled_id: int) -> ResponseReturnValue:
    """Show a bottle found without a label, what to do with it, and what became of it."""
    return render_template("store/unlabelled.html", found=queries.unlabelled_or_raise(db.session, unlabelled_id))


@bp.route("/store/unlabelled/<int:unlabelled_id>/decide", methods=["GET", "POST"])
@permits(Permission.RELEASE_WASTE)
def end_unlabelled(unlabelled_id: int) -> ResponseReturnValue:
    """Say what it is and how that is known, or who took it away as not known."""
    found = queries.unlabelled_or_raise(db.session, unlabelled_id)
    form = EndUnlabelledForm()
    products = product_queries.products(db.session)
    form.offer(products)
    if form.validate_on_submit():
        with refusals(form):
            quarantine.end_unlabelled(
                this_act(form),
                unlabelled_id=unlabelled_id,
                ending=UnlabelledEnd(form.ending.data),
                note=given(form.note.data),
                known_as=form.known_as(products),
            )
            return saved(f"{found.code} is decided.", ".unlabelled", unlabelled_id=unlabelled_id)
    return form_page("store/end_unlabelled.html", form, found=found)
