"""Pages of products: the list, entering and changing, confirming, data sheets, approvals, readings, the rule."""

from typing import Any

from flask import Blueprint, flash, g, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import form_page, refusals, refusals_at, saved
from labsys.chemistry.care import KIND_NAMES
from labsys.database import db
from labsys.forms import options
from labsys.hazards.substances import all_substances
from labsys.hazards.waste_codes import all_waste_codes
from labsys.people.access import current_person, permits, this_act
from labsys.people.permissions import Permission, require_any
from labsys.products import pages, queries, safety, service, sheet_files
from labsys.products.forms.product import ChangeProductForm, NewProductForm, ProductForm, typed
from labsys.products.forms.safety import SDS_RULE_NAMES, ConfirmForm, InterimForm, ReadingForm, SdsRuleForm, SheetForm
from labsys.products.models import InterimApproval, Product, SdsRule
from labsys.products.reference import fill_in_known, reference_note
from labsys.timetable.local_time import day_words

bp = Blueprint("products", __name__)


@bp.get("/store/products")
@permits(Permission.SEE_LAB)
def index() -> ResponseReturnValue:
    """List the products the store knows, with or without bottles."""
    products = queries.products(db.session)
    sds_rule = queries.sds_rule(db.session)
    return render_template(
        "products/index.html",
        products=products,
        kinds=KIND_NAMES,
        day_words=day_words,
        standings=queries.standings(db.session, products, now=clock.now()),
        sds_rule=SDS_RULE_NAMES[sds_rule],
        form=SdsRuleForm(formdata=None, sds_rule=sds_rule),
    )


@bp.route("/store/products/add", methods=["GET", "POST"])
@permits(Permission.SEE_LAB)
def add() -> ResponseReturnValue:
    """Register a product from its SDS, and keep the SDS with it where it was chosen."""
    require_any(current_person(), Permission.KEEP_STOCK, Permission.CONFIRM_PRODUCT)
    form = NewProductForm()
    _offer_waste_codes(form)
    if "fill_in" in request.form:
        return _filled_in(form)
    if form.validate_on_submit():
        with refusals(form):
            added = service.add_product(
                this_act(form), sheet=form.entered, restricted_reason=form.restricted_reason.data or "", sds=form.sds
            )
            return saved(
                f"{added.name} is entered. It waits to be confirmed against its SDS.",
                "store.product",
                product_id=added.id,
            )
    return _product_page(form, None)


@bp.route("/store/products/<int:product_id>/change", methods=["GET", "POST"])
@permits(Permission.SEE_LAB)
def change(product_id: int) -> ResponseReturnValue:
    """Change a product's entries; where that bears on hazards, it waits to be confirmed again."""
    require_any(current_person(), Permission.KEEP_STOCK, Permission.CONFIRM_PRODUCT)
    product = queries.product_or_raise(db.session, product_id)
    begin = {**typed(product.sheet), "edition": str(product.edition)} if request.method == "GET" else None
    form = ChangeProductForm(data=begin)
    _offer_waste_codes(form)
    if "fill_in" in request.form:
        return _filled_in(form, product)
    if form.validate_on_submit():
        with refusals(form):
            changed = service.change_product(
                this_act(form),
                product_id=product_id,
                sheet=form.entered,
                edition=form.edition.number,
                restricted_reason=form.restricted_reason.data or "",
            )
            waits = "" if changed.confirmation else " It waits to be confirmed."
            return saved(f"{changed.name} is changed.{waits}", "store.product", product_id=product_id)
    return _product_page(form, product)


@bp.post("/store/products/<int:product_id>/confirm")
@permits(Permission.CONFIRM_PRODUCT)
def confirm(product_id: int) -> ResponseReturnValue:
    """Confirm the entries that were on the page against the SDS."""
    form = ConfirmForm()
    if not form.validate_on_submit():
        flash("Not confirmed. Read the entries on this page, then press the button below them.", "problem")
        return redirect(url_for("store.product", product_id=product_id), 303)
    with refusals_at("store.product", product_id=product_id):
        service.confirm_product(this_act(form), product_id=product_id, version=form.version.number)
    return saved("Confirmed. Baths may be mixed from it.", "store.product", product_id=product_id)


@bp.route("/store/products/<int:product_id>/data-sheets/add", methods=["GET", "POST"])
@permits(Permission.SEE_LAB)
def add_data_sheet(product_id: int) -> ResponseReturnValue:
    """Keep the supplier's SDS of a product."""
    require_any(current_person(), Permission.KEEP_STOCK, Permission.CONFIRM_PRODUCT)
    product = queries.product_or_raise(db.session, product_id)
    form = SheetForm(supplier=product.supplier, language="English", issued_on=product.sds_date)
    if form.validate_on_submit():
        assert form.issued_on.data is not None  # noqa: S101 - the form was found valid
        with refusals(form):
            sheet = safety.add_data_sheet(
                this_act(form),
                product_id=product_id,
                entry=safety.SheetEntry(
                    content=form.sheet.data.read(),
                    issued_on=form.issued_on.data,
                    supplier=form.supplier.data or "",
                    language=form.language.data or "",
                    revision=form.revision.data or "",
                    review_due=form.review_due.data,
                ),
            )
            return saved(f"The SDS of {day_words(sheet.issued_on)} is here.", "store.product", product_id=product_id)
    return form_page("products/add_data_sheet.html", form, product=product)


@bp.get("/store/data-sheets/<int:sheet_id>")
@permits(Permission.SEE_LAB)
def data_sheet(sheet_id: int) -> ResponseReturnValue:
    """Hand out an SDS as a download, unless its bytes are no longer those that were added."""
    sheet = queries.sheet_or_raise(db.session, sheet_id)
    answer = sheet_files.download(sheet.kept, name=f"SDS-{sheet.product_id}-{sheet.issued_on.isoformat()}.pdf")
    if answer is None:
        flash(sheet_files.ALTERED, "problem")
        return redirect(url_for("store.product", product_id=sheet.product_id), 303)
    return answer


@bp.route("/store/products/<int:product_id>/approve-interim", methods=["GET", "POST"])
@permits(Permission.CONFIRM_PRODUCT)
def approve_interim(product_id: int) -> ResponseReturnValue:
    """Let a product be mixed from for some days though something stands against it."""
    product = queries.product_or_raise(db.session, product_id)
    form = InterimForm(version=str(product.version))
    if form.validate_on_submit():
        assert form.last_day.data is not None  # noqa: S101 - the form was found valid
        with refusals(form):
            approval = safety.approve_interim(
                this_act(form),
                product_id=product_id,
                reason=form.reason.data or "",
                last_day=form.last_day.data,
                version=form.version.number,
            )
            message = f"Approved until {day_words(approval.last_day)}. It is shown wherever it is mixed from."
            return saved(message, "store.product", product_id=product_id)
    standing = queries.standing(db.session, product, now=clock.now())
    return form_page(
        "products/approve_interim.html", form, product=product, standing=standing, most_days=InterimApproval.MOST_DAYS
    )


@bp.route("/store/products/<int:product_id>/readings/<int:water_parts_milli>", methods=["GET", "POST"])
@permits(Permission.CONFIRM_PRODUCT)
def choose_reading(product_id: int, water_parts_milli: int) -> ResponseReturnValue:
    """Choose between two readings of a dilution's hazards, and say why."""
    product = queries.product_or_raise(db.session, product_id)
    view = pages.dilution_view(product, water_parts_milli=water_parts_milli)
    form = ReadingForm(version=str(product.version))
    form.offer(pages.reading_choices(view))
    if form.validate_on_submit():
        place, _, which = form.reading.data.partition("-")
        with refusals(form):
            safety.choose_reading(
                this_act(form),
                product_id=product_id,
                water_parts_milli=water_parts_milli,
                key=view.readings[int(place)].alternative.key,
                takes_alternative=which == "alternative",
                reason=form.reason.data or "",
                version=form.version.number,
            )
            return saved("Chosen. Label, plan and sheet follow it.", "store.product", product_id=product_id)
    return form_page("products/choose_reading.html", form, product=product, view=view, estimate=pages.ESTIMATE)


@bp.post("/store/sds-rule")
@permits(Permission.SEE_LAB)
def set_sds_rule() -> ResponseReturnValue:
    """Choose what follows where a product has no current SDS."""
    require_any(current_person(), Permission.KEEP_LAB, Permission.CONFIRM_PRODUCT)
    form = SdsRuleForm()
    if not form.validate_on_submit():
        flash("Choose one of the two.", "problem")
        return redirect(url_for(".index"), 303)
    safety.set_sds_rule(this_act(form), sds_rule=SdsRule(form.sds_rule.data))
    return saved("The lab's rule about the SDS is saved.", ".index")


def _offer_waste_codes(form: ProductForm) -> None:
    codes = {code.code: f"{code.code} {code.text}" for code in all_waste_codes()}
    form.waste_code.choices = options(codes, first="Choose…")


def _filled_in(form: ProductForm, product: Product | None = None) -> ResponseReturnValue:
    """Show the form again with what the reference list knows of its ingredients; nothing is saved."""
    return _product_page(form, product, filled_in=fill_in_known(form, nation=g.lab.nation))


def _product_page(form: ProductForm, product: Product | None, **more: Any) -> ResponseReturnValue:
    return form_page(
        "products/form.html", form, product=product, substances=all_substances(), reference_note=reference_note, **more
    )
