"""The list of assessments, and one of them."""

from typing import Any

from flask import g, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import cut_page, row_key
from labsys.database import db
from labsys.forms import LabForm
from labsys.people.access import current_person, permits
from labsys.people.permissions import Permission, may
from labsys.processes import queries as processes
from labsys.products import queries as products
from labsys.records.errors import NotFound
from labsys.risk import pages, queries
from labsys.risk.banding import SCREEN
from labsys.risk.blueprint import bp
from labsys.risk.models import Assessment, Version
from labsys.risk.pages import Filter
from labsys.timetable.local_time import to_local

WITHDRAWN_A_PAGE = 25


@bp.get("/assessments")
@permits(Permission.SEE_LAB)
def index() -> ResponseReturnValue:
    """List the assessments, what is out of date first; with a filter, some of them."""
    person, today = current_person(), to_local(clock.now(), zone=g.zone).date()
    writes = may(person, Permission.KEEP_ASSESSMENTS)
    offered = [value for value in pages.FILTER_NAMES if writes or value in pages.OPEN_TO_READERS]
    shown = request.args.get("show", Filter.ALL, type=Filter)
    shown = shown if shown in offered else Filter.ALL
    before_id = request.args.get("before", type=row_key)
    overview = queries.overview(db.session, today=today, zone=g.zone)
    withdrawn: list[Assessment] = []
    older: int | None = None
    if shown is Filter.WITHDRAWN:
        rows = queries.withdrawn(db.session, before_id=before_id, limit=WITHDRAWN_A_PAGE + 1)
        withdrawn, older = cut_page(rows, limit=WITHDRAWN_A_PAGE)
    return render_template(
        "risk/index.html",
        rows=pages.listed(overview, shown=shown, writes=writes),
        overview=overview,
        shown=shown,
        filters=[(value, pages.FILTER_NAMES[value]) for value in offered],
        withdrawn=withdrawn,
        older=older,
        before_id=before_id,
    )


@bp.get("/assessments/<int:assessment_id>")
@permits(Permission.SEE_LAB)
def show(assessment_id: int) -> ResponseReturnValue:
    """Show the version that holds, or the one asked for by its number."""
    person, today = current_person(), to_local(clock.now(), zone=g.zone).date()
    assessment = queries.assessment_or_raise(db.session, assessment_id)
    version = _version(assessment, asked=request.args.get("version", type=int))
    now = queries.assessment_now(db.session, assessment, today=today, zone=g.zone)
    page = pages.show_page(now, version, person=person, today=today, zone=g.zone)
    return render_template("risk/show.html", page=page, screen=SCREEN, form=LabForm())


@bp.get("/assessments/of-process/<int:process_id>")
@permits(Permission.SEE_LAB)
def of_process(process_id: int) -> ResponseReturnValue:
    """Go to the assessment of a process, or say that there is none to read yet."""
    process = processes.process_or_raise(db.session, process_id)
    return _of(queries.live_of_process(db.session, process_id), process.name, process_id=process_id)


@bp.get("/assessments/of-product/<int:product_id>")
@permits(Permission.SEE_LAB)
def of_product(product_id: int) -> ResponseReturnValue:
    """Go to the assessment of a product handled as supplied, or say that there is none to read yet."""
    product = products.product_or_raise(db.session, product_id)
    return _of(queries.live_of_product(db.session, product_id), product.name, product_id=product_id)


def _of(assessment: Assessment | None, named: str, **subject: Any) -> ResponseReturnValue:
    """To the assessment, or for those who write them to where it is begun; else say that there is none to read."""
    writes = may(current_person(), Permission.KEEP_ASSESSMENTS)
    if assessment is not None and (assessment.approved or writes):
        return redirect(url_for(".show", assessment_id=assessment.id), 303)
    if writes:
        return redirect(url_for(".add", **subject), 303)
    return render_template("risk/none.html", named=named, is_begun=assessment is not None)


def _version(assessment: Assessment, *, asked: int | None) -> Version:
    """The version asked for, else the one that holds, else the newest. Drafts are for those who write them."""
    version: Version | None = assessment.approved or assessment.newest
    if asked is not None:
        version = next((version for version in assessment.versions if version.number == asked), None)
    if version is None or not (version.approved_at or may(current_person(), Permission.KEEP_ASSESSMENTS)):
        raise NotFound("version", asked)
    return version
