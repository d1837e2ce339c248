"""Issuing the session sheet from the page of its plan, which is the sheet's own page form."""

from flask import Blueprint, current_app, flash, redirect, url_for
from flask.typing import ResponseReturnValue

from labsys.chemistry.errors import CalculationError
from labsys.config import Config
from labsys.database import db
from labsys.documents.sheet_service import issue_session_sheet
from labsys.labware import queries as labware
from labsys.people.access import permits, this_act
from labsys.people.permissions import Permission
from labsys.planning import queries
from labsys.planning.forms import PlanForm
from labsys.processes import queries as processes
from labsys.records.errors import Refused

bp = Blueprint("sheets", __name__)


@bp.post("/documents/session-sheet")
@permits(Permission.SEE_LAB)
def issue() -> ResponseReturnValue:
    """Issue the sheet of a plan, and go to it; back to the plan where it cannot be."""
    form = PlanForm()
    process = queries.process_with_products(db.session, form.process_id.data or 0)
    form.offer(
        processes=processes.processes(db.session),
        process=process,
        vessels=labware.working_vessels(db.session, in_use_only=True),
    )
    if not form.validate_on_submit():
        flash("The plan is not complete, so no sheet was issued. Fill it in again.", "problem")
        return redirect(url_for("planning.plan", process_id=process.id), 303)
    asked = form.asked()
    config: Config = current_app.config["LABSYS"]
    try:
        document = issue_session_sheet(this_act(form), asked=asked, public_url=config.public_url)
    except (Refused, CalculationError) as refusal:
        flash(str(refusal), "problem")
        return redirect(url_for("planning.plan", **asked.address), 303)
    return redirect(url_for("documents.show", document_id=document.id), 303)
