"""Pages of the chemical store: products, bottles, measuring cylinders; the others have files of their own."""

from typing import Any

from flask import Blueprint, flash, g, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import form_page, refusals, row_key, saved
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.measuring import CylinderClass
from labsys.database import db
from labsys.hazards.substances import all_substances
from labsys.hazards.waste_codes import all_waste_codes
from labsys.ledger.models import Unit
from labsys.people.access import current_person, permits, this_act
from labsys.people.permissions import Permission, may, require_any
from labsys.records.errors import Refused
from labsys.stock import (
    entries,
    pages,
    queries,
    rules,
    safety_pages,
    safety_queries,
    service,
    shelf_pages,
    shelf_queries,
)
from labsys.stock.clashes import INSTEAD, clashes_with
from labsys.stock.forms import (
    ChangeProductForm,
    ConfirmForm,
    CylinderForm,
    LiquidBottleForm,
    LiquidLevelForm,
    NewProductForm,
    PowderBottleForm,
    PowderLevelForm,
    ProductForm,
    SdsRuleForm,
    options,
    shelf_options,
)
from labsys.stock.forms.safety import SDS_RULE_NAMES
from labsys.stock.models import Product
from labsys.timetable.local_time import day_words

bp = Blueprint("stock", __name__)

MOST_BATHS = 50


@bp.get("/store")
@permits(Permission.SEE_LAB)
def index() -> ResponseReturnValue:
    """Show every product with its bottles."""
    products = queries.products(db.session)
    shelves = pages.shelves(products, queries.bottles(db.session), now=clock.now(), zone=g.zone)
    standings = safety_queries.standings(db.session, products, now=clock.now())
    return render_template("stock/index.html", shelves=shelves, standings=standings)


@bp.get("/store/products")
@permits(Permission.SEE_LAB)
def products() -> ResponseReturnValue:
    """List the products the store knows, with or without bottles."""
    found = queries.products(db.session)
    sds_rule = safety_queries.sds_rule(db.session)
    return render_template(
        "stock/products.html",
        products=found,
        kinds=rules.KIND_NAMES,
        day_words=day_words,
        standings=safety_queries.standings(db.session, found, now=clock.now()),
        sds_rule=SDS_RULE_NAMES[sds_rule],
        form=SdsRuleForm(formdata=None, sds_rule=sds_rule),
    )


@bp.get("/store/products/<int:product_id>")
@permits(Permission.SEE_LAB)
def product(product_id: int) -> ResponseReturnValue:
    """Show all that is entered of a product, and whether it is confirmed."""
    chosen = queries.product_or_raise(db.session, product_id)
    view = pages.product_view(
        chosen,
        queries.bottles(db.session, product_id=product_id),
        queries.people_who_may(db.session, Permission.CONFIRM_PRODUCT),
        now=clock.now(),
        zone=g.zone,
    )
    standing = safety_queries.standing(db.session, chosen, now=clock.now())
    return render_template(
        "stock/product.html",
        view=view,
        product=chosen,
        form=ConfirmForm(formdata=None, version=str(chosen.version)),
        standing=standing,
        steps=safety_pages.next_steps(
            chosen,
            standing,
            bottles=view.bottles,
            is_assessed=safety_queries.is_assessed(db.session, product_id),
        ),
        allowed=[one for one in Permission if may(current_person(), one)],
        dilutions=safety_pages.dilutions(chosen),
        estimate=safety_pages.ESTIMATE,
        restricted=safety_pages.kept_restricted(chosen),
        reference_notes=safety_pages.reference_notes(chosen),
        day_words=day_words,
    )


@bp.route("/store/products/add", methods=["GET", "POST"])
@permits(Permission.SEE_LAB)
def add_product() -> ResponseReturnValue:
    """Register a product from its SDS, and keep the SDS with it where it was chosen."""
    require_any(current_person(), Permission.KEEP_STOCK, Permission.CONFIRM_PRODUCT)
    form = NewProductForm()
    _offer_waste_codes(form)
    if "fill_in" in request.form:
        return _filled_in(form)
    if form.validate_on_submit():
        with refusals(form):
            added = service.add_product(this_act(form), entry=entries.entry_of(form))
            return saved(
                f"{added.name} is entered. It waits to be confirmed against its SDS.", ".product", product_id=added.id
            )
    return _product_page(form, None)


@bp.route("/store/products/<int:product_id>/change", methods=["GET", "POST"])
@permits(Permission.SEE_LAB)
def change_product(product_id: int) -> ResponseReturnValue:
    """Change a product's entries; where that bears on hazards, it waits to be confirmed again."""
    require_any(current_person(), Permission.KEEP_STOCK, Permission.CONFIRM_PRODUCT)
    chosen = queries.product_or_raise(db.session, product_id)
    form = ChangeProductForm(data=entries.typed(chosen) if request.method == "GET" else None)
    _offer_waste_codes(form)
    if "fill_in" in request.form:
        return _filled_in(form, chosen)
    if form.validate_on_submit():
        with refusals(form):
            changed = service.change_product(
                this_act(form), product_id=product_id, entry=entries.entry_of(form), edition=int(form.edition.data or 0)
            )
            waits = "" if changed.confirmation else " It waits to be confirmed."
            return saved(f"{changed.name} is changed.{waits}", ".product", product_id=product_id)
    return _product_page(form, chosen)


@bp.post("/store/products/<int:product_id>/confirm")
@permits(Permission.CONFIRM_PRODUCT)
def confirm(product_id: int) -> ResponseReturnValue:
    """Confirm the entries that were on the page against the SDS."""
    form = ConfirmForm()
    if not form.validate_on_submit():
        flash("Not confirmed. Read the entries on this page, then press the button below them.", "problem")
        return redirect(url_for(".product", product_id=product_id), 303)
    try:
        service.confirm_product(this_act(form), product_id=product_id, version=int(form.version.data or 0))
    except Refused as refusal:
        flash(str(refusal), "problem")
        return redirect(url_for(".product", product_id=product_id), 303)
    return saved("Confirmed. Baths may be mixed from it.", ".product", product_id=product_id)


@bp.route("/store/bottles/receive", methods=["GET", "POST"])
@permits(Permission.KEEP_STOCK)
def receive() -> ResponseReturnValue:
    """Put a bottle from the supplier into the store; without a product, ask for it first."""
    product_id = request.args.get("product_id", type=row_key)
    if product_id is None:
        known = queries.products(db.session)
        return render_template("stock/choose_product.html", products=known, kinds=rules.KIND_NAMES)
    chosen = queries.product_or_raise(db.session, product_id)
    form = LiquidBottleForm() if chosen.unit is Unit.UL else PowderBottleForm()
    found = shelf_queries.shelves(db.session)
    form.shelf_id.choices = shelf_options(found, first="not on a shelf yet")
    if form.validate_on_submit():
        with refusals(form):
            bottle = service.receive_bottle(
                this_act(form),
                product_id=product_id,
                amount=form.amount.amount or 0,
                lot=form.lot.data or "",
                received_at=form.received_at.instant or clock.now(),
                expires_on=form.expires_on.data,
                shelf_id=int(form.shelf_id.data) if form.shelf_id.data else None,
            )
            return saved(f"In the store. Write {bottle.code} on the bottle.", ".bottle", bottle_id=bottle.id)
    standing = shelf_queries.standing_on(db.session, [one.id for one in found])
    return form_page(
        "stock/receive.html",
        form,
        product=chosen,
        standing=safety_queries.standing(db.session, chosen, now=clock.now()),
        shelves=found,
        advice=shelf_pages.advice(chosen, standing),
    )


@bp.get("/store/bottles/<int:bottle_id>")
@permits(Permission.SEE_LAB)
def bottle(bottle_id: int) -> ResponseReturnValue:
    """Show a bottle: what is left of it, what to mind, and the baths it went into."""
    chosen = queries.bottle_or_raise(db.session, bottle_id)
    chosen_product = queries.product_or_raise(db.session, chosen.product_id)
    place = shelf_queries.place_of(db.session, bottle_id)
    beside = shelf_queries.standing_on(db.session, [place.shelf_id])[place.shelf_id] if place else []
    return render_template(
        "stock/bottle.html",
        standing=safety_queries.standing(db.session, chosen_product, now=clock.now()),
        place=place,
        clashes=clashes_with(chosen_product, [one.product for one in beside]) if chosen.vessel.level else (),
        instead=INSTEAD,
        view=pages.bottle_view(chosen, now=clock.now(), zone=g.zone),
        bottle=chosen,
        product=chosen_product,
        kind=rules.KIND_NAMES[chosen_product.kind],
        hazards=pages.hazards(chosen_product),
        went=queries.where_it_went(db.session, bottle_id=bottle_id, limit=MOST_BATHS),
        most=MOST_BATHS,
    )


@bp.route("/store/bottles/<int:bottle_id>/level", methods=["GET", "POST"])
@permits(Permission.KEEP_STOCK)
def correct_level(bottle_id: int) -> ResponseReturnValue:
    """Set the book right by what was found in the bottle."""
    chosen = queries.bottle_or_raise(db.session, bottle_id)
    form = LiquidLevelForm() if chosen.vessel.unit is Unit.UL else PowderLevelForm()
    if form.validate_on_submit():
        with refusals(form):
            service.correct_level(
                this_act(form), bottle_id=bottle_id, found=form.level, found_at=form.found_at.instant or clock.now()
            )
            return saved("The level is corrected.", ".bottle", bottle_id=bottle_id)
    view = pages.bottle_view(chosen, now=clock.now(), zone=g.zone)
    return form_page("stock/level.html", form, view=view, bottle=chosen)


@bp.route("/store/cylinders", methods=["GET", "POST"])
@permits(Permission.KEEP_STOCK)
def cylinders() -> ResponseReturnValue:
    """List the measuring cylinders of the lab, or add one."""
    form = CylinderForm()
    if form.validate_on_submit():
        with refusals(form):
            service.add_cylinder(
                this_act(form),
                nominal_ml=form.nominal_ml.amount or 0,
                division_ul=form.division.amount or 0,
                accuracy_class=CylinderClass(form.accuracy_class.data),
                kept_for=SolutionKind(form.kept_for.data) if form.kept_for.data else None,
            )
            return saved("The cylinder is on the list.", ".cylinders")
    owned = [pages.cylinder_view(one) for one in queries.cylinder_rows(db.session)]
    return form_page("stock/cylinders.html", form, cylinders=owned)


def _offer_waste_codes(form: ProductForm) -> None:
    codes = {one.code: f"{one.code} {one.text}" for one in all_waste_codes()}
    form.waste_code.choices = options(codes, first="Choose…")


def _filled_in(form: ProductForm, chosen: Product | None = None) -> ResponseReturnValue:
    """Show the form again with what the reference list knows of its ingredients; nothing is saved."""
    return _product_page(form, chosen, filled_in=entries.fill_in_known(form))


def _product_page(form: ProductForm, chosen: Product | None, **more: Any) -> ResponseReturnValue:
    return form_page(
        "stock/product_form.html",
        form,
        product=chosen,
        substances=all_substances(),
        reference_note=entries.reference_note,
        **more,
    )


from labsys.stock import (  # noqa: E402, F401 - each adds its views to the blueprint
    process_views,
    safety_views,
    shelf_views,
    vessel_views,
)
