"""Pages of the documents: the page form of each, issuing it, and the bytes that were issued."""

import logging

from flask import Blueprint, Response, current_app, g, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from werkzeug.datastructures import MultiDict

from labsys import clock
from labsys.answers import form_page, refusals, row_key
from labsys.baths import queries as baths
from labsys.config import Config
from labsys.database import db
from labsys.documents import queries, rules, service
from labsys.documents.bath_label import ESTIMATE
from labsys.documents.collect_label import collect_bath_label
from labsys.documents.collect_log import Period, collect_waste_log
from labsys.documents.forms import PeriodForm
from labsys.documents.issued import issued_before
from labsys.documents.rules import DocumentKind
from labsys.documents.waste_log import CLOSING
from labsys.documents.waste_log_data import litres, signed, verdict
from labsys.drawing.pictograms import pictogram
from labsys.forms import LabForm
from labsys.people.access import current_person, permits, this_act
from labsys.people.permissions import Permission, may, require
from labsys.products.groups import groups_of_product
from labsys.records import queries as records
from labsys.timetable.local_time import to_local
from labsys.waste.meeting import keep_apart

bp = Blueprint("documents", __name__)

DOCUMENTS_A_PAGE = 25
# The bytes are ours, and are shown as if they were not: no script, no request, no form.
PDF_POLICY = "sandbox; default-src 'none'"


@bp.route("/documents")
@permits(Permission.SEE_LAB)
def index() -> ResponseReturnValue:
    """List the issued documents that this person may see, newest first."""
    before_id = request.args.get("before", type=row_key)
    person = current_person()
    kinds = [kind for kind, needed in rules.MAY_SEE.items() if may(person, needed)]
    found = queries.issued(db.session, kinds=kinds, own_of=person.id, before_id=before_id, limit=DOCUMENTS_A_PAGE + 1)
    return render_template(
        "documents/index.html",
        issued=found[:DOCUMENTS_A_PAGE],
        older=found[DOCUMENTS_A_PAGE - 1].document.id if len(found) > DOCUMENTS_A_PAGE else None,
        before_id=before_id,
    )


@bp.route("/documents/<int:document_id>")
@permits(Permission.SEE_LAB)
def show(document_id: int) -> ResponseReturnValue:
    """Stream an issued document, unless its bytes are no longer those that were issued."""
    document = queries.document_or_raise(db.session, document_id)
    person = current_person()
    require(person, rules.needed_to_see(DocumentKind(document.kind), is_own=document.issued_by_id == person.id))
    try:
        rules.check_unaltered(
            document_id=document.id,
            content=document.content,
            digest=document.digest,
            on_record=queries.digest_on_record(db.session, document),
        )
    except rules.DocumentAltered as altered:
        logging.getLogger("labsys.documents").error(str(altered))
        return render_template("documents/altered.html", document=document), 409
    answer = Response(document.content, mimetype="application/pdf")
    name = rules.file_name(title=document.title, number=document.id)
    answer.headers["Content-Disposition"] = f'inline; filename="{name}"'
    answer.headers["Content-Security-Policy"] = PDF_POLICY
    return answer


@bp.route("/documents/bath-label/<int:bath_id>", methods=["GET", "POST"])
@permits(Permission.SEE_LAB)
def bath_label(bath_id: int) -> ResponseReturnValue:
    """Show the label of a bath as a page, or issue it."""
    form = LabForm()
    if form.validate_on_submit():
        with refusals(form):
            document = service.issue_bath_label(this_act(form), bath_id=bath_id, public_url=public_url())
            return redirect(url_for(".show", document_id=document.id), 303)
    data = collect_bath_label(
        db.session,
        bath_id=bath_id,
        issued_by=current_person(),
        head=records.head(db.session),
        public_url=public_url(),
        now=clock.now(),
    )
    return form_page(
        "documents/bath_label.html",
        form,
        bath_id=bath_id,
        data=data,
        estimate=ESTIMATE,
        pictograms=[pictogram(code) for code in data.pictograms],
        apart=keep_apart(groups_of_product(baths.bath_or_raise(db.session, bath_id).product)),
        issued=issued_before(DocumentKind.BATH_LABEL, service.bath_label_parameters(bath_id)),
    )


@bp.route("/documents/waste-log", methods=["GET", "POST"])
@permits(Permission.SEE_WASTE_LOG)
def waste_log() -> ResponseReturnValue:
    """Show the waste log of a period as a page, or issue it."""
    form = _period_form()
    if not form.validate():
        return form_page("documents/waste_log.html", form, data=None)
    period = form.period()
    if request.method == "POST":
        document = service.issue_waste_log(this_act(form), period=period, public_url=public_url())
        return redirect(url_for(".show", document_id=document.id), 303)
    data = collect_waste_log(
        db.session,
        period=period,
        issued_by=current_person(),
        head=records.head(db.session),
        public_url=public_url(),
        now=clock.now(),
    )
    return form_page(
        "documents/waste_log.html",
        form,
        data=data,
        said=verdict(data.balance),
        closing=CLOSING,
        litres=litres,
        signed=signed,
        parameters=service.waste_log_parameters(period),
        issued=issued_before(DocumentKind.WASTE_LOG, service.waste_log_parameters(period)),
    )


def _period_form() -> PeriodForm:
    """The period sent; without one, the month so far by the lab's calendar."""
    if request.method == "POST":
        return PeriodForm()
    today = to_local(clock.now(), zone=g.zone).date()
    asked = request.args or MultiDict(service.waste_log_parameters(Period.month_so_far(today)))
    return PeriodForm(formdata=asked, meta={"csrf": False})


def public_url() -> str:
    config: Config = current_app.config["LABSYS"]
    return config.public_url
