"""Pages of shelves: what stands where, what should not stand together, and counting what stands there."""

from flask import flash, render_template, request
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import form_page, refusals, row_key, saved
from labsys.database import db
from labsys.people.access import current_person, permits, this_act
from labsys.people.permissions import Permission, require
from labsys.places import queries as places
from labsys.products import queries as product_queries
from labsys.quantities import counted
from labsys.store import counting, pages, queries, service
from labsys.store.blueprint import bp
from labsys.store.clashes import INSTEAD
from labsys.store.forms import PlaceForm, ShelfForm, count_form
from labsys.store.models import ShelfKind


@bp.route("/store/shelves", methods=["GET", "POST"], endpoint="shelves")
@permits(Permission.SEE_LAB)
def all_shelves() -> ResponseReturnValue:
    """Show what stands on which shelf and what should not stand together, or name a new shelf."""
    form = ShelfForm()
    form.offer(places.rooms(db.session))
    if form.is_submitted():
        require(current_person(), Permission.KEEP_STOCK)
    if form.validate_on_submit():
        with refusals(form):
            added = service.add_shelf(
                this_act(form),
                name=form.name.data or "",
                kind=ShelfKind(form.kind.data),
                room_id=int(form.room_id.data) if form.room_id.data else None,
            )
            return saved(f"{added.name} is on the list. Put its bottles on it.", ".shelves")
    shelves = queries.shelves(db.session)
    standing = queries.standing_on(db.session, [shelf.id for shelf in shelves])
    return form_page(
        "store/shelves.html",
        form,
        shelves=[pages.shelf_view(shelf, standing[shelf.id]) for shelf in shelves],
        nowhere=queries.nowhere(db.session),
        counts=queries.newest_counts(db.session),
        instead=INSTEAD,
    )


@bp.route("/store/bottles/<int:bottle_id>/shelf", methods=["GET", "POST"])
@permits(Permission.KEEP_STOCK)
def put_on_shelf(bottle_id: int) -> ResponseReturnValue:
    """Say on which shelf a bottle stands; what it should not stand with is said beside each."""
    bottle = queries.bottle_or_raise(db.session, bottle_id)
    product = product_queries.product_or_raise(db.session, bottle.product_id)
    shelves = queries.shelves(db.session)
    advice = pages.advice(product, queries.standing_on(db.session, [shelf.id for shelf in shelves]))
    form = PlaceForm()
    form.offer(shelves)
    if form.validate_on_submit():
        shelf_id = form.shelf_id.data
        with refusals(form):
            service.put_on_shelf(this_act(form), bottle_id=bottle_id, shelf_id=int(shelf_id))
            if shelf_id in advice:
                flash(f"{advice[shelf_id]} {INSTEAD}", "problem")
            return saved(f"{bottle.code} has its place.", ".bottle", bottle_id=bottle_id)
    stands = queries.place_of(db.session, bottle_id)
    return form_page(
        "store/put_on_shelf.html",
        form,
        bottle=bottle,
        product=product,
        shelves=shelves,
        advice=advice,
        stands=stands,
        instead=INSTEAD,
    )


@bp.route("/store/count", methods=["GET", "POST"])
@permits(Permission.KEEP_STOCK)
def count() -> ResponseReturnValue:
    """Count what stands on one shelf, or on none: each bottle is looked at, then all is saved at once."""
    shelf_id = request.args.get("shelf", type=row_key)
    shelf = queries.shelf_or_raise(db.session, shelf_id) if shelf_id is not None else None
    bottles = queries.standing_at(db.session, shelf_id)
    form = count_form(bottles)
    if form.validate_on_submit():
        with refusals(form):
            made = counting.count_shelf(
                this_act(form),
                shelf_id=shelf_id,
                counted=form.counted,
                counted_at=form.counted_at.instant or clock.now(),
                also_here=form.codes,
            )
            return saved("Counted. What differed is put right in the book.", ".stock_count", count_id=made.id)
    return form_page("store/count.html", form, shelf=shelf, bottles=bottles)


@bp.get("/store/counts/<int:count_id>", endpoint="stock_count")
@permits(Permission.SEE_LAB)
def show_count(count_id: int) -> ResponseReturnValue:
    """Show what a count found: how many bottles were looked at, and each difference with its reason."""
    count = queries.count_or_raise(db.session, count_id)
    return render_template("store/stock_count.html", count=count, counted=counted)
