"""Pages about incidents: what to do first, then the report; what happened; closing."""

from flask import Blueprint, g, render_template, request
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import cut_page, form_page, refusals, row_key, saved
from labsys.config import this_config
from labsys.database import db
from labsys.hazards.first_aid import CUT, FIRST_AID, SDS_FIRST, SPILLS
from labsys.incidents import pages, queries, service
from labsys.incidents.forms import CloseForm, ReportForm
from labsys.lab.emergency import READING_TELLS_NOBODY, emergency_of
from labsys.people.access import current_person, permits, this_act
from labsys.people.permissions import Permission
from labsys.places import queries as places
from labsys.processes import queries as processes
from labsys.products import queries as products

bp = Blueprint("incidents", __name__)

INCIDENTS_A_PAGE = 20


@bp.route("/incidents")
@permits(Permission.SEE_LAB)
def index() -> ResponseReturnValue:
    """List what happened, newest first, without who was hurt."""
    before_id = request.args.get("before", type=row_key)
    rows = queries.incidents(db.session, before_id=before_id, limit=INCIDENTS_A_PAGE + 1)
    incidents, older = cut_page(rows, limit=INCIDENTS_A_PAGE)
    return render_template("incidents/index.html", incidents=incidents, older=older, before_id=before_id)


@bp.route("/incidents/report", methods=["GET", "POST"])
@permits(Permission.REPORT_INCIDENT)
def report() -> ResponseReturnValue:
    """Say what to do first; then ask what happened, or record it."""
    form = ReportForm(
        processes=request.args.getlist("process_id", type=row_key),
        products=request.args.getlist("product_id", type=row_key),
    )
    form.offer(
        stations=places.stations(db.session),
        processes=processes.processes(db.session),
        products=products.products(db.session),
    )
    if form.validate_on_submit():
        with refusals(form):
            made = service.report(this_act(form), told=form.told, happened_at=form.happened_at.instant or clock.now())
            told = f"Written down. {emergency_of(g.lab).nobody_told} The safety adviser sees it on Today."
            return saved(told, ".show", incident_id=made.id)
    words = {"aids": (*FIRST_AID, CUT), "spills": SPILLS, "reading": READING_TELLS_NOBODY, "closing": SDS_FIRST}
    return form_page("incidents/report.html", form, **words)


@bp.route("/incidents/<int:incident_id>")
@permits(Permission.SEE_LAB)
def show(incident_id: int) -> ResponseReturnValue:
    """Show what happened, and to those who may see it who was hurt."""
    incident = queries.incident_or_raise(db.session, incident_id)
    view = pages.view_for(
        db.session, incident, person=current_person(), zone=g.zone, can_mail=bool(this_config().mail_server)
    )
    return render_template("incidents/show.html", view=view)


@bp.route("/incidents/<int:incident_id>/close", methods=["GET", "POST"])
@permits(Permission.KEEP_INCIDENTS)
def close(incident_id: int) -> ResponseReturnValue:
    """Show the form that closes an incident, or close it."""
    incident = queries.incident_or_raise(db.session, incident_id)
    form = CloseForm()
    if form.validate_on_submit():
        with refusals(form):
            service.close(this_act(form), incident_id=incident_id, changed=form.changed.data or "")
            return saved("Closed.", ".show", incident_id=incident_id)
    return form_page("incidents/close.html", form, view=pages.IncidentView(incident, shows_people=False))
