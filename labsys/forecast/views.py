"""The page of the forecast: what ends when, what is enough for whom, and how earlier forecasts did."""

from flask import Blueprint, g, render_template, request
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import csv_file, cut_page, form_page, refusals, row_key, saved
from labsys.database import db
from labsys.forecast import cover, drawn, pages, past, queries, rules, service, words
from labsys.forecast.forms import SizesForm
from labsys.ledger.rules import show
from labsys.people.access import permits, this_act
from labsys.people.permissions import Permission
from labsys.products import queries as products

bp = Blueprint("forecast", __name__)

WRONG_A_PAGE = 25
_METHOD = {
    "plays": rules.PLAYS,
    "may_fail": round(100 * rules.MAY_FAIL),
    "least_days": rules.LEAST_DAYS,
    "least_meetings": rules.LEAST_MEETINGS,
}


@bp.get("/forecast")
@permits(Permission.SEE_USES)
def index() -> ResponseReturnValue:
    """Show when each bath and each bottle ends, and whether the baths are enough for the classes to come."""
    now = clock.now()
    run = queries.newest(db.session)
    shown = pages.whole(db.session, run, now=now, zone=g.zone) if run else None
    return render_template(
        "forecast/index.html",
        run=run,
        as_of=words.as_of(run, now=now, zone=g.zone),
        is_old=run is not None and words.is_old(run, now=now, zone=g.zone),
        shown=shown,
        chart=drawn.ahead(shown, now=now, zone=g.zone) if shown and shown.rows else None,
        record=past.record(db.session),
        **_METHOD,
    )


@bp.get("/forecast/cover")
@permits(Permission.KEEP_STOCK)
def shopping() -> ResponseReturnValue:
    """Show how long what is in the store lasts, product by product, and what to buy for it."""
    now, run = clock.now(), queries.newest(db.session)
    return render_template(
        "forecast/cover.html",
        as_of=words.as_of(run, now=now, zone=g.zone),
        is_old=run is not None and words.is_old(run, now=now, zone=g.zone),
        covers=cover.covers(db.session, run, now=now, zone=g.zone) if run else [],
        until=run and run.until,
        show=show,
    )


@bp.get("/forecast/shopping.csv")
@permits(Permission.KEEP_STOCK)
def shopping_csv() -> ResponseReturnValue:
    """Give the shopping list as a table for a spreadsheet."""
    now, run = clock.now(), queries.newest(db.session)
    as_of = words.as_of(run, now=now, zone=g.zone)
    rows = [(*each.cells(), as_of) for each in cover.covers(db.session, run, now=now, zone=g.zone)] if run else []
    return csv_file((*cover.HEADS, "Forecast"), rows, name="shopping-list")


@bp.route("/forecast/products/<int:product_id>/sizes", methods=["GET", "POST"])
@permits(Permission.KEEP_STOCK)
def sizes(product_id: int) -> ResponseReturnValue:
    """Show the form of the sizes that a product is sold in, or keep them."""
    product = products.product_or_raise(db.session, product_id)
    form = SizesForm(sizes=", ".join(show(size, product.unit) for size in service.packs_of(db.session, product_id)))
    form.unit = product.unit
    if form.validate_on_submit():
        with refusals(form):
            service.set_packs(this_act(form), product_id=product_id, sizes=form.amounts)
            return saved(f"The sizes of {product.name} are kept.", ".shopping")
    return form_page("forecast/sizes.html", form, product=product)


@bp.get("/forecast/past")
@permits(Permission.SEE_USES)
def earlier() -> ResponseReturnValue:
    """Show how earlier forecasts did, those that were wrong one by one."""
    before = request.args.get("before", type=row_key)
    rows = queries.wrong_of_baths(db.session, before_id=before, limit=WRONG_A_PAGE + 1)
    wrong, more = cut_page(rows, limit=WRONG_A_PAGE)
    now, marks = clock.now(), past.marks(db.session)
    return render_template(
        "forecast/past.html",
        chart=drawn.record_of(marks, zone=g.zone) if marks else None,
        **_METHOD,
        record=past.record(db.session),
        wrong=[past.wrong_bath(row, now=now, zone=g.zone) for row in wrong],
        classes=past.wrong_classes(db.session, now=now, zone=g.zone),
        bottles=past.wrong_bottles(db.session, now=now, zone=g.zone),
        more=more,
        is_paged=before is not None,
    )
