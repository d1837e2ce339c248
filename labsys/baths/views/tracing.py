"""Pages of the trace: what a lot went into, as a page and as a table, and what work went through."""

from datetime import datetime

from flask import g, render_template, request, url_for
from flask.typing import ResponseReturnValue

from labsys.answers import csv_file, row_key
from labsys.baths import use_pages
from labsys.baths.blueprint import bp
from labsys.baths.recall.service import may_recall
from labsys.baths.recall.trace import LotTrace, trace_lot, trace_use
from labsys.database import db
from labsys.ledger.rules import show
from labsys.people.access import current_person, permits
from labsys.people.permissions import Permission
from labsys.records.errors import NotFound
from labsys.timetable.local_time import to_local

_KNOWN, _NOT_KNOWN = "of this lot", "lot not known"
_HEADS = ("What", "Code", "Named", "Lot", "Since", "Whose", "How sure")


@bp.get("/lots")
@permits(Permission.SEE_LAB)
def lot() -> ResponseReturnValue:
    """Show what a lot went into: bottles, baths, work; who did it to staff, to others their own alone."""
    trace = _trace()
    return render_template(
        "baths/recall/lot.html",
        trace=trace,
        use_in_words=use_pages.use_in_words,
        show=show,
        may_recall=may_recall(current_person()),
        csv=url_for(".lot_csv", product_id=trace.product.id, lot=trace.lot),
    )


@bp.get("/lots.csv")
@permits(Permission.SEE_LAB)
def lot_csv() -> ResponseReturnValue:
    """Give the same as a table for a spreadsheet."""
    trace = _trace()
    return csv_file(_HEADS, _rows(trace), name="lot")


@bp.get("/uses/<int:use_id>/trace")
@permits(Permission.SEE_LAB)
def trace_back(use_id: int) -> ResponseReturnValue:
    """Show which baths some work went through, and out of which bottles and lots they came."""
    use, backs = trace_use(db.session, use_id=use_id, person=current_person())
    return render_template("baths/recall/use.html", use=use, backs=backs, words=use_pages.use_in_words(use))


def _trace() -> LotTrace:
    product_id = request.args.get("product_id", type=row_key)
    if product_id is None:
        raise NotFound("product", "")
    return trace_lot(db.session, product_id=product_id, lot=request.args.get("lot", ""), person=current_person())


def _rows(trace: LotTrace) -> list[tuple[str, ...]]:
    name = trace.product.name
    bottles = [
        ("bottle", bottle.code, name, bottle.lot, _moment(bottle.received_at), "", sure)
        for bottles, sure in ((trace.bottles.of_it, _KNOWN), (trace.bottles.not_known, _NOT_KNOWN))
        for bottle in bottles
    ]
    baths = [
        ("bath", each.bath.code, each.bath.name, "", _moment(each.since), "", _sure(each.only_not_known))
        for each in trace.baths
    ]
    work = [
        (
            "work",
            ", ".join(bath.code for bath in each.through),
            use_pages.use_in_words(each.use),
            "",
            _moment(each.use.used_at),
            each.use.person.name,
            _sure(each.only_not_known),
        )
        for each in trace.uses
    ]
    containers = [("waste", container.label, container.stream.name, "", "", "", "") for container in trace.containers]
    return [*bottles, *baths, *work, *containers]


def _sure(only_not_known: bool) -> str:
    return _NOT_KNOWN if only_not_known else _KNOWN


def _moment(instant: datetime) -> str:
    return f"{to_local(instant, zone=g.zone):%Y-%m-%d %H:%M}"
