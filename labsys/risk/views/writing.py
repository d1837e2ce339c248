"""Beginning an assessment, changing the version in hand, and beginning the next one."""

from flask import flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from labsys.answers import form_page, refusals, refusals_at, row_key, saved
from labsys.database import db
from labsys.forms import LabForm
from labsys.people.access import permits, this_act
from labsys.people.permissions import Permission
from labsys.processes import queries as processes
from labsys.products import queries as product_queries
from labsys.records.errors import Refused
from labsys.risk import approving, queries, service
from labsys.risk.banding import reasoning
from labsys.risk.blueprint import bp
from labsys.risk.forms import HazardForm, ProductsForm, version_form
from labsys.risk.models import Assessment
from labsys.risk.room_hazards import all_room_hazards

_BEGUN = "is begun, filled in as far as the lab knows. Read it through, and put in what is missing."


@bp.get("/assessments/add")
@permits(Permission.KEEP_ASSESSMENTS)
def add() -> ResponseReturnValue:
    """Show what can be assessed; for a process or product named in the address, that alone."""
    process_id = request.args.get("process_id", type=row_key)
    product_id = request.args.get("product_id", type=row_key)
    form = _products_form()
    form.products.data = [product_id] if product_id is not None else []
    if process_id is not None:
        process = processes.process_or_raise(db.session, process_id)
        return render_template("risk/add_process.html", process=process, form=LabForm())
    return _add_page(form, HazardForm())


@bp.post("/assessments/add/process/<int:process_id>")
@permits(Permission.KEEP_ASSESSMENTS)
def add_process(process_id: int) -> ResponseReturnValue:
    """Begin the assessment of a process."""
    with refusals_at(".of_process", process_id=process_id):
        return _begun(service.assess_process(this_act(LabForm()), process_id=process_id))


@bp.post("/assessments/add/products")
@permits(Permission.KEEP_ASSESSMENTS)
def add_products() -> ResponseReturnValue:
    """Begin the assessment of products handled as supplied."""
    form = _products_form()
    if form.validate_on_submit():
        with refusals(form):
            product_ids, title = form.products.data or (), form.title.data or ""
            return _begun(service.assess_products(this_act(form), product_ids=product_ids, title=title))
    return _add_page(form, HazardForm(formdata=None))


@bp.post("/assessments/add/hazard")
@permits(Permission.KEEP_ASSESSMENTS)
def add_hazard() -> ResponseReturnValue:
    """Begin the assessment of a hazard of the room, from a template or with a title of its own."""
    form = HazardForm()
    if form.validate_on_submit():
        with refusals(form):
            key, title = form.hazard.data or "", form.title.data or ""
            return _begun(service.assess_room_hazard(this_act(form), key=key, title=title))
    return _add_page(_products_form(fresh=True), form)


@bp.route("/assessments/<int:assessment_id>/change", methods=["GET", "POST"])
@permits(Permission.KEEP_ASSESSMENTS)
def change(assessment_id: int) -> ResponseReturnValue:
    """Show the version in hand as a form, or write it."""
    assessment = queries.assessment_or_raise(db.session, assessment_id)
    form = version_form(assessment.newest)
    if form.validate_on_submit():
        with refusals(form):
            version = service.change_version(
                this_act(form), assessment_id=assessment_id, content=form.content(), edition=form.seen_edition
            )
            if "send" in request.form:
                return _sent(assessment_id)
            message = f"Version {version.number} is saved."
            return saved(message, ".show", assessment_id=assessment_id, version=version.number)
    return form_page("risk/change.html", form, assessment=assessment, version=assessment.newest, reasoning=reasoning)


def _sent(assessment_id: int) -> ResponseReturnValue:
    """Send for approval what was just saved, or say on its form what is missing."""
    try:
        version = approving.submit(this_act(), assessment_id=assessment_id)
    except Refused as refusal:
        flash(f"It is saved. {refusal}", "problem")
        return redirect(url_for(".change", assessment_id=assessment_id), 303)
    message = f"Version {version.number} is saved and waits for approval now."
    return saved(message, ".show", assessment_id=assessment_id, version=version.number)


@bp.post("/assessments/<int:assessment_id>/versions/begin")
@permits(Permission.KEEP_ASSESSMENTS)
def begin_version(assessment_id: int) -> ResponseReturnValue:
    """Begin the next version from the one that holds."""
    with refusals_at(".show", assessment_id=assessment_id):
        version = service.begin_next_version(this_act(LabForm()), assessment_id=assessment_id)
    message = f"Version {version.number} is begun, with the substances as they stand now."
    return saved(message, ".change", assessment_id=assessment_id)


@bp.post("/assessments/<int:assessment_id>/substances/renew")
@permits(Permission.KEEP_ASSESSMENTS)
def renew_substances(assessment_id: int) -> ResponseReturnValue:
    """Fill in the substances of the version in hand anew."""
    with refusals_at(".show", assessment_id=assessment_id):
        service.renew_substances(this_act(LabForm()), assessment_id=assessment_id)
    return saved("The substances are as they stand now.", ".change", assessment_id=assessment_id)


def _begun(assessment: Assessment) -> ResponseReturnValue:
    return saved(f"{assessment.code} {_BEGUN}", ".change", assessment_id=assessment.id)


def _products_form(*, fresh: bool = False) -> ProductsForm:
    form = ProductsForm(formdata=None) if fresh else ProductsForm()
    form.offer(product_queries.products(db.session))
    return form


def _add_page(form: ProductsForm, hazard_form: HazardForm) -> ResponseReturnValue:
    return (
        render_template(
            "risk/add.html",
            form=form,
            hazard_form=hazard_form,
            processes=queries.processes_not_assessed(db.session),
            hazards=all_room_hazards(),
            assessed=queries.live_of_room(db.session),
        ),
        422 if form.errors or hazard_form.errors else 200,
    )
