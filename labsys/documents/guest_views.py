"""The label of a guest bottle as a page, and issuing it."""

from flask import Blueprint, current_app, flash, redirect, url_for
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import form_page, refusals
from labsys.config import Config
from labsys.database import db
from labsys.documents.collect_guest_label import collect_guest_label
from labsys.documents.guest_label import NO_HAZARDS, NOT_OURS
from labsys.documents.guest_service import issue_guest_label
from labsys.documents.rules import DocumentRefused
from labsys.drawing.pictograms import pictogram
from labsys.forms import LabForm
from labsys.people.access import current_person, permits, this_act
from labsys.people.permissions import Permission
from labsys.records import queries as records

bp = Blueprint("guest_labels", __name__)


@bp.route("/documents/guest-label/<int:declaration_id>", methods=["GET", "POST"])
@permits(Permission.SEE_LAB)
def label(declaration_id: int) -> ResponseReturnValue:
    """Show the label of a guest bottle as a page, or issue it; back to the declaration where there is none."""
    config: Config = current_app.config["LABSYS"]
    form = LabForm()
    if form.validate_on_submit():
        with refusals(form):
            document = issue_guest_label(this_act(form), declaration_id=declaration_id, public_url=config.public_url)
            return redirect(url_for("documents.show", document_id=document.id), 303)
    try:
        data = collect_guest_label(
            db.session,
            declaration_id=declaration_id,
            issued_by=current_person(),
            head=records.head(db.session),
            public_url=config.public_url,
            now=clock.now(),
        )
    except DocumentRefused as refusal:
        flash(str(refusal), "problem")
        return redirect(url_for("brought_in.show", declaration_id=declaration_id), 303)
    return form_page(
        "documents/guest_label.html",
        form,
        declaration_id=declaration_id,
        data=data,
        not_ours=NOT_OURS,
        no_hazards=NO_HAZARDS,
        pictograms=[pictogram(code) for code in data.pictograms],
    )
