"""Pages about shelves: what stands where, what should not stand together, and moving a bottle."""

from flask import flash
from flask.typing import ResponseReturnValue

from labsys.answers import form_page, refusals, saved
from labsys.database import db
from labsys.people.access import current_person, permits, this_act
from labsys.people.permissions import Permission, require
from labsys.places import queries as places
from labsys.stock import clashes, queries, shelf_pages, shelf_queries, shelves
from labsys.stock.forms import PlaceForm, ShelfForm
from labsys.stock.shelf_models import ShelfKind
from labsys.stock.views import bp


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
            added = shelves.add_shelf(
                this_act(form),
                name=form.name.data or "",
                kind=ShelfKind(form.kind.data),
                room_id=int(form.room_id.data) if form.room_id.data else None,
            )
            return saved(f"{added.name} is on the list. Put its bottles on it.", ".shelves")
    found = shelf_queries.shelves(db.session)
    standing = shelf_queries.standing_on(db.session, [one.id for one in found])
    return form_page(
        "stock/shelves.html",
        form,
        shelves=[shelf_pages.shelf_view(one, standing[one.id]) for one in found],
        nowhere=shelf_queries.nowhere(db.session),
        instead=clashes.INSTEAD,
    )


@bp.route("/store/bottles/<int:bottle_id>/shelf", methods=["GET", "POST"])
@permits(Permission.KEEP_STOCK)
def put_on_shelf(bottle_id: int) -> ResponseReturnValue:
    """Say on which shelf a bottle stands; what it should not stand with is said beside each."""
    bottle = queries.bottle_or_raise(db.session, bottle_id)
    product = queries.product_or_raise(db.session, bottle.product_id)
    found = shelf_queries.shelves(db.session)
    advice = shelf_pages.advice(product, shelf_queries.standing_on(db.session, [one.id for one in found]))
    form = PlaceForm()
    form.offer(found)
    if form.validate_on_submit():
        chosen = form.shelf_id.data
        with refusals(form):
            shelves.put_on_shelf(this_act(form), bottle_id=bottle_id, shelf_id=int(chosen))
            if chosen in advice:
                flash(f"{advice[chosen]} {clashes.INSTEAD}", "problem")
            return saved(f"{bottle.code} has its place.", ".bottle", bottle_id=bottle_id)
    stands = shelf_queries.place_of(db.session, bottle_id)
    return form_page(
        "stock/put_on_shelf.html",
        form,
        bottle=bottle,
        product=product,
        shelves=found,
        advice=advice,
        stands=stands,
        instead=clashes.INSTEAD,
    )
