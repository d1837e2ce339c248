"""Pages of the chemical store: products, bottles, measuring cylinders; the others have files of their own."""

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
from labsys.people.access import current_person, permits
from labsys.people.permissions import Permission
from labsys.records.errors import Refused
from labsys.stock import entries, pages, queries, rules, service
from labsys.stock.forms import (
    ChangeProductForm,
    ConfirmForm,
    CylinderForm,
    LiquidBottleForm,
    LiquidLevelForm,
    PowderBottleForm,
    PowderLevelForm,
    ProductForm,
    options,
)
from labsys.stock.models import Product

bp = Blueprint("stock", __name__)

MOST_BATHS = 50


@bp.get("/store")
@permits(Permission.SEE_LAB)
def index() -> ResponseReturnValue:
    """Show every product with its bottles."""
    shelves = pages.shelves(queries.products(db.session), queries.bottles(db.session), now=clock.now(), zone=g.zone)
    return render_template("stock/index.html", shelves=shelves)


@bp.get("/store/products")
@permits(Permission.SEE_LAB)
def products() -> ResponseReturnValue:
    """List the products the store knows, with or without bottles."""
    return render_template(
        "stock/products.html", products=queries.products(db.session), kinds=rules.KIND_NAMES, day_words=pages.day_words
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
    confirm_form = ConfirmForm(formdata=None, version=str(chosen.version))
    return render_template("stock/product.html", view=view, product=chosen, form=confirm_form)


@bp.route("/store/products/add", methods=["GET", "POST"])
@permits(Permission.KEEP_STOCK)
def add_product() -> ResponseReturnValue:
    """Register a product from its SDS."""
    form = ProductForm()
    _offer_waste_codes(form)
    if "fill_in" in request.form:
        return _filled_in(form)
    if form.validate_on_submit():
        with refusals(form):
            added = service.add_product(
                db.session,
                actor=current_person(),
                entry=entries.entry_of(form),
                now=clock.now(),
                submission_key=form.submission_key.data,
            )
            return saved(
                f"{added.name} is entered. It waits to be confirmed against its SDS.", ".product", product_id=added.id
            )
    return form_page("stock/product_form.html", form, product=None, substances=all_substances())


@bp.route("/store/products/<int:product_id>/change", methods=["GET", "POST"])
@permits(Permission.KEEP_STOCK)
def change_product(product_id: int) -> ResponseReturnValue:
    """Change a product's entries; it then waits to be confirmed again."""
    chosen = queries.product_or_raise(db.session, product_id)
    form = ChangeProductForm(data=entries.typed(chosen) if request.method == "GET" else None)
    _offer_waste_codes(form)
    if "fill_in" in request.form:
        return _filled_in(form, chosen)
    if form.validate_on_submit():
        with refusals(form):
            changed = service.change_product(
                db.session,
                actor=current_person(),
                product_id=product_id,
                entry=entries.entry_of(form),
                version=int(form.version.data or 0),
                now=clock.now(),
                submission_key=form.submission_key.data,
            )
            return saved(
                f"{changed.name} is changed. It waits to be confirmed again.", ".product", product_id=product_id
            )
    return form_page("stock/product_form.html", form, product=chosen, substances=all_substances())


@bp.post("/store/products/<int:product_id>/confirm")
@permits(Permission.CONFIRM_PRODUCT)
def confirm(product_id: int) -> ResponseReturnValue:
    """Confirm the entries that were on the page against the SDS."""
    form = ConfirmForm()
    if not form.validate_on_submit():
        flash("Not confirmed. Read the entries on this page, then press the button below them.", "problem")
        return redirect(url_for(".product", product_id=product_id), 303)
    try:
        service.confirm_product(
            db.session,
            actor=current_person(),
            product_id=product_id,
            version=int(form.version.data or 0),
            now=clock.now(),
            submission_key=form.submission_key.data,
        )
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
    if form.validate_on_submit():
        with refusals(form):
            bottle = service.receive_bottle(
                db.session,
                actor=current_person(),
                product_id=product_id,
                amount=form.amount.amount or 0,
                lot=form.lot.data or "",
                received_at=form.received_at.instant or clock.now(),
                expires_on=form.expires_on.data,
                now=clock.now(),
                submission_key=form.submission_key.data,
            )
            return saved(f"In the store. Write {bottle.code} on the bottle.", ".bottle", bottle_id=bottle.id)
    return form_page("stock/receive.html", form, product=chosen)


@bp.get("/store/bottles/<int:bottle_id>")
@permits(Permission.SEE_LAB)
def bottle(bottle_id: int) -> ResponseReturnValue:
    """Show a bottle: what is left of it, what to mind, and the baths it went into."""
    chosen = queries.bottle_or_raise(db.session, bottle_id)
    chosen_product = queries.product_or_raise(db.session, chosen.product_id)
    return render_template(
        "stock/bottle.html",
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
                db.session,
                actor=current_person(),
                bottle_id=bottle_id,
                found=form.level,
                found_at=form.found_at.instant or clock.now(),
                now=clock.now(),
                submission_key=form.submission_key.data,
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
                db.session,
                actor=current_person(),
                nominal_ml=form.nominal_ml.amount or 0,
                division_ul=form.division.amount or 0,
                accuracy_class=CylinderClass(form.accuracy_class.data),
                kept_for=SolutionKind(form.kept_for.data) if form.kept_for.data else None,
                now=clock.now(),
                submission_key=form.submission_key.data,
            )
            return saved("The cylinder is on the list.", ".cylinders")
    owned = [pages.cylinder_view(one) for one in queries.cylinder_rows(db.session)]
    return form_page("stock/cylinders.html", form, cylinders=owned)


def _offer_waste_codes(form: ProductForm) -> None:
    codes = {one.code: f"{one.code} {one.text}" for one in all_waste_codes()}
    form.waste_code.choices = options(codes, first="Choose…")


def _filled_in(form: ProductForm, chosen: Product | None = None) -> ResponseReturnValue:
    """Show the form again with what the reference list knows of its ingredients; nothing is saved."""
    names = entries.fill_in_known(form)
    return render_template(
        "stock/product_form.html", form=form, product=chosen, substances=all_substances(), filled_in=names
    )


from labsys.stock import process_views, vessel_views  # noqa: E402, F401 - each adds its views to the blueprint
