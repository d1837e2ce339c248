"""Pages about the safety of a product: its data sheets, interim approval, two readings, the lab's rule."""

from flask import flash, redirect, url_for
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import form_page, refusals, saved
from labsys.database import db
from labsys.people.access import current_person, permits, this_act
from labsys.people.permissions import Permission, require_any
from labsys.stock import queries, safety, safety_pages, safety_queries, sheet_files
from labsys.stock.forms import InterimForm, ReadingForm, SdsRuleForm, SheetForm
from labsys.stock.safety_models import InterimApproval, SdsRule
from labsys.stock.views import bp
from labsys.timetable.local_time import day_words


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
            return saved(f"The SDS of {day_words(sheet.issued_on)} is here.", ".product", product_id=product_id)
    return form_page("stock/add_data_sheet.html", form, product=product)


@bp.get("/store/data-sheets/<int:sheet_id>")
@permits(Permission.SEE_LAB)
def data_sheet(sheet_id: int) -> ResponseReturnValue:
    """Hand out an SDS as a download, unless its bytes are no longer those that were added."""
    sheet = safety_queries.sheet_or_raise(db.session, sheet_id)
    answer = sheet_files.download(sheet.kept, name=f"SDS-{sheet.product_id}-{sheet.issued_on.isoformat()}.pdf")
    if answer is None:
        flash(sheet_files.ALTERED, "problem")
        return redirect(url_for(".product", product_id=sheet.product_id), 303)
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
                version=int(form.version.data or 0),
            )
            message = f"Approved until {day_words(approval.last_day)}. It is shown wherever it is mixed from."
            return saved(message, ".product", product_id=product_id)
    standing = safety_queries.standing(db.session, product, now=clock.now())
    return form_page(
        "stock/approve_interim.html", form, product=product, standing=standing, most_days=InterimApproval.MOST_DAYS
    )


@bp.route("/store/products/<int:product_id>/readings/<int:water_parts_milli>", methods=["GET", "POST"])
@permits(Permission.CONFIRM_PRODUCT)
def choose_reading(product_id: int, water_parts_milli: int) -> ResponseReturnValue:
    """Choose between two readings of a dilution's hazards, and say why."""
    product = queries.product_or_raise(db.session, product_id)
    view = safety_pages.dilution_view(product, water_parts_milli=water_parts_milli)
    form = ReadingForm(version=str(product.version))
    form.offer(safety_pages.reading_choices(view))
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
                version=int(form.version.data or 0),
            )
            return saved("Chosen. Label, plan and sheet follow it.", ".product", product_id=product_id)
    return form_page("stock/choose_reading.html", form, product=product, view=view, estimate=safety_pages.ESTIMATE)


@bp.post("/store/sds-rule")
@permits(Permission.SEE_LAB)
def set_sds_rule() -> ResponseReturnValue:
    """Choose what follows where a product has no current SDS."""
    require_any(current_person(), Permission.KEEP_LAB, Permission.CONFIRM_PRODUCT)
    form = SdsRuleForm()
    if not form.validate_on_submit():
        flash("Choose one of the two.", "problem")
        return redirect(url_for(".products"), 303)
    safety.set_sds_rule(this_act(form), sds_rule=SdsRule(form.sds_rule.data))
    return saved("The lab's rule about the SDS is saved.", ".products")
