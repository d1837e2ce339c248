"""Pages of the chemical store: what is there of each product, and its bottles from their delivery on."""

from flask import g, render_template, request
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import form_page, refusals, row_key, saved
from labsys.chemistry.care import KIND_NAMES
from labsys.database import db
from labsys.ledger.models import Unit
from labsys.people import queries as people
from labsys.people.access import current_person, permits, this_act
from labsys.people.permissions import Permission, may, require_any
from labsys.products import pages as product_pages
from labsys.products import queries as product_queries
from labsys.products.forms.safety import ConfirmForm
from labsys.products.hazards import hazards_of
from labsys.store import counting, pages, queries, rules, service
from labsys.store.blueprint import bp
from labsys.store.clashes import INSTEAD, clashes_with
from labsys.store.forms import (
    CorrectBottleForm,
    LiquidBottleForm,
    LiquidLevelForm,
    PowderBottleForm,
    PowderLevelForm,
    ShelfLifeForm,
    shelf_options,
    to_minute,
)
from labsys.timetable.local_time import day_words

MOST_BATHS = 50


@bp.get("/store")
@permits(Permission.SEE_LAB)
def index() -> ResponseReturnValue:
    """Show every product with its bottles."""
    products = product_queries.products(db.session)
    stocked = pages.bottles_by_product(products, queries.bottles(db.session), now=clock.now(), zone=g.zone)
    standings = product_queries.standings(db.session, products, now=clock.now())
    unlabelled = queries.unlabelled_here(db.session)
    return render_template("store/index.html", stocked=stocked, standings=standings, unlabelled=unlabelled)


@bp.get("/store/products/<int:product_id>")
@permits(Permission.SEE_LAB)
def product(product_id: int) -> ResponseReturnValue:
    """Show all that is entered of a product, and whether it is confirmed."""
    product = product_queries.product_or_raise(db.session, product_id)
    bottles = queries.bottles(db.session, product_id=product_id)
    standing = product_queries.standing(db.session, product, now=clock.now())
    return render_template(
        "store/product.html",
        sheet=product.sheet,
        hazards=(hazards := hazards_of(product)),
        pictograms=product_pages.pictograms(hazards.label),
        bottles=[pages.bottle_view(bottle, now=clock.now(), zone=g.zone) for bottle in bottles],
        confirmers=people.people_who_may(db.session, Permission.CONFIRM_PRODUCT),
        product=product,
        form=ConfirmForm(formdata=None, version=str(product.version)),
        standing=standing,
        steps=pages.next_steps(
            product, standing, bottles=bottles, is_assessed=queries.is_assessed(db.session, product_id)
        ),
        allowed=[permission for permission in Permission if may(current_person(), permission)],
        dilutions=product_pages.dilutions(product),
        estimate=product_pages.ESTIMATE,
        restricted=product_pages.kept_restricted(product),
        reference_notes=product_pages.reference_notes(product),
        floor_notes=product_pages.floor_notes(product),
        day_words=day_words,
        life_words=rules.life_words(queries.shelf_life(db.session, product_id)),
    )


@bp.route("/store/bottles/receive", methods=["GET", "POST"])
@permits(Permission.KEEP_STOCK)
def receive() -> ResponseReturnValue:
    """Put a bottle from the supplier into the store; without a product, ask for it first."""
    product_id = request.args.get("product_id", type=row_key)
    if product_id is None:
        known = product_queries.products(db.session)
        return render_template("store/choose_product.html", products=known, kinds=KIND_NAMES)
    product = product_queries.product_or_raise(db.session, product_id)
    form = LiquidBottleForm() if product.unit is Unit.UL else PowderBottleForm()
    shelves = queries.shelves(db.session)
    form.shelf_id.choices = shelf_options(shelves, first="not on a shelf yet")
    if form.validate_on_submit():
        with refusals(form):
            bottles = service.receive_case(
                this_act(form),
                product_id=product_id,
                amount=form.amount.amount or 0,
                noted=form.noted(),
                shelf_id=int(form.shelf_id.data) if form.shelf_id.data else None,
                bottles=1 if form.bottles.data is None else form.bottles.data,
            )
            if len(bottles) > 1:
                words = f"{len(bottles)} bottles are in the store: {bottles[0].code} to {bottles[-1].code}. "
                labels = [f"bottle-{bottle.id}" for bottle in bottles]
                return saved(f"{words}Print their labels and stick one on each.", "documents.labels", label=labels)
            (bottle,) = bottles
            return saved(f"In the store. Write {bottle.code} on the bottle.", ".bottle", bottle_id=bottle.id)
    standing = queries.standing_on(db.session, [shelf.id for shelf in shelves])
    return form_page(
        "store/receive.html",
        form,
        product=product,
        standing=product_queries.standing(db.session, product, now=clock.now()),
        shelves=shelves,
        advice=pages.advice(product, standing),
    )


@bp.get("/store/bottles/<int:bottle_id>")
@permits(Permission.SEE_LAB)
def bottle(bottle_id: int) -> ResponseReturnValue:
    """Show a bottle: what is left of it, what to mind, and the baths it went into."""
    bottle = queries.bottle_or_raise(db.session, bottle_id)
    product = product_queries.product_or_raise(db.session, bottle.product_id)
    place = queries.place_of(db.session, bottle_id)
    beside = queries.standing_on(db.session, [place.shelf_id])[place.shelf_id] if place else []
    return render_template(
        "store/bottle.html",
        standing=product_queries.standing(db.session, product, now=clock.now()),
        place=place,
        clashes=clashes_with(product, [neighbour.product for neighbour in beside]) if bottle.vessel.level else (),
        instead=INSTEAD,
        view=pages.bottle_view(bottle, now=clock.now(), zone=g.zone),
        bottle=bottle,
        product=product,
        kind=KIND_NAMES[product.kind],
        hazards=(hazards := hazards_of(product)),
        pictograms=product_pages.pictograms(hazards.label),
        went=queries.where_it_went(db.session, bottle_id=bottle_id, limit=MOST_BATHS),
        left=queries.left_of(db.session, bottle_id),
        quarantines=queries.quarantines_of(db.session, bottle_id),
        why_not_used=rules.why_not_used(bottle, today=pages.today(clock.now(), zone=g.zone)),
        most=MOST_BATHS,
    )


@bp.route("/store/bottles/<int:bottle_id>/correct", methods=["GET", "POST"])
@permits(Permission.KEEP_STOCK)
def correct_bottle(bottle_id: int) -> ResponseReturnValue:
    """Put a bottle's lot and dates right."""
    bottle = queries.bottle_or_raise(db.session, bottle_id)
    before = bottle.received_at
    shown = {**vars(bottle), "received_at": to_minute(before, zone=g.zone)}
    form = CorrectBottleForm(data=shown if request.method == "GET" else None)
    if form.validate_on_submit():
        with refusals(form):
            service.correct_bottle(
                this_act(form),
                bottle_id=bottle_id,
                noted=form.noted(received_at=form.received(before=before, zone=g.zone)),
            )
            return saved("Put right. Print its label anew where that shows.", ".bottle", bottle_id=bottle_id)
    return form_page("store/correct.html", form, bottle=bottle)


@bp.route("/store/products/<int:product_id>/keeping", methods=["GET", "POST"])
@permits(Permission.SEE_LAB)
def keeping(product_id: int) -> ResponseReturnValue:
    """Show how long a product keeps in its bottle, or say it anew."""
    require_any(current_person(), Permission.KEEP_STOCK, Permission.CONFIRM_PRODUCT)
    product = product_queries.product_or_raise(db.session, product_id)
    life = queries.shelf_life(db.session, product_id)
    form = ShelfLifeForm(obj=life)
    if form.validate_on_submit():
        with refusals(form):
            service.state_shelf_life(this_act(form), product_id=product_id, **form.stated)
            return saved("Kept. Every bottle of it goes by that now.", ".product", product_id=product_id)
    return form_page("store/keeping.html", form, product=product)


@bp.route("/store/bottles/<int:bottle_id>/level", methods=["GET", "POST"])
@permits(Permission.KEEP_STOCK)
def correct_level(bottle_id: int) -> ResponseReturnValue:
    """Set the book right by what was found in the bottle."""
    bottle = queries.bottle_or_raise(db.session, bottle_id)
    form = LiquidLevelForm() if bottle.vessel.unit is Unit.UL else PowderLevelForm()
    if form.validate_on_submit():
        with refusals(form):
            counting.correct_level(
                this_act(form),
                bottle_id=bottle_id,
                found=form.level,
                found_at=form.found_at.instant or clock.now(),
                reason=form.why,
                note=form.note.data or "",
            )
            return saved("The level is corrected.", ".bottle", bottle_id=bottle_id)
    view = pages.bottle_view(bottle, now=clock.now(), zone=g.zone)
    return form_page("store/level.html", form, view=view, bottle=bottle)
