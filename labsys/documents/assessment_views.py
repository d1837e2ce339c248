"""The assessment as a document: its page form, and issuing it."""

from flask import Blueprint, current_app, flash, redirect, url_for
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import form_page
from labsys.config import Config
from labsys.database import db
from labsys.documents.assessment_service import assessment_parameters, issue_assessment
from labsys.documents.collect_assessment import collect_assessment
from labsys.documents.issued import issued_before
from labsys.documents.rules import DocumentKind
from labsys.forms import LabForm
from labsys.people.access import current_person, permits, this_act
from labsys.people.permissions import Permission
from labsys.records import queries as records
from labsys.records.errors import Refused
from labsys.risk.banding import SCREEN

bp = Blueprint("assessment_document", __name__)


@bp.get("/documents/assessment/<int:assessment_id>")
@permits(Permission.SEE_LAB)
def show(assessment_id: int) -> ResponseReturnValue:
    """Show the assessment that holds as a page; without one, go back to its own page with the reason."""
    config: Config = current_app.config["LABSYS"]
    try:
        data = collect_assessment(
            db.session,
            assessment_id=assessment_id,
            issued_by=current_person(),
            head=records.head(db.session),
            public_url=config.public_url,
            now=clock.now(),
        )
    except Refused as refusal:
        flash(str(refusal), "problem")
        return redirect(url_for("risk.show", assessment_id=assessment_id), 303)
    return form_page(
        "documents/assessment.html",
        LabForm(),
        assessment_id=assessment_id,
        data=data,
        screen=SCREEN,
        issued=issued_before(
            DocumentKind.ASSESSMENT, assessment_parameters(assessment_id, version=data.reading.number)
        ),
    )


@bp.post("/documents/assessment/<int:assessment_id>")
@permits(Permission.KEEP_ASSESSMENTS)
def issue(assessment_id: int) -> ResponseReturnValue:
    """Issue the assessment that holds, and go to it; back to its page where none does."""
    config: Config = current_app.config["LABSYS"]
    form = LabForm()
    if form.validate_on_submit():
        try:
            document = issue_assessment(this_act(form), assessment_id=assessment_id, public_url=config.public_url)
        except Refused as refusal:
            flash(str(refusal), "problem")
        else:
            return redirect(url_for("documents.show", document_id=document.id), 303)
    return redirect(url_for("risk.show", assessment_id=assessment_id), 303)
