"""Sending a version for approval, approving it, sending it back, and withdrawing an assessment."""

from flask import g
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import form_page, refusals, refusals_at, saved
from labsys.database import db
from labsys.forms import LabForm
from labsys.people.access import current_person, permits, this_act
from labsys.people.permissions import Permission
from labsys.risk import approving, queries
from labsys.risk.banding import SCREEN
from labsys.risk.blueprint import bp
from labsys.risk.forms import ApprovalForm, SendBackForm, WithdrawForm
from labsys.risk.reading import reading
from labsys.timetable.local_time import to_local


@bp.post("/assessments/<int:assessment_id>/submit")
@permits(Permission.KEEP_ASSESSMENTS)
def submit(assessment_id: int) -> ResponseReturnValue:
    """Send the version in hand for approval."""
    with refusals_at(".change", assessment_id=assessment_id):
        version = approving.submit(this_act(LabForm()), assessment_id=assessment_id)
    message = f"Version {version.number} waits for approval now."
    return saved(message, ".show", assessment_id=assessment_id, version=version.number)


@bp.route("/assessments/<int:assessment_id>/approve", methods=["GET", "POST"])
@permits(Permission.APPROVE_ASSESSMENT)
def approve(assessment_id: int) -> ResponseReturnValue:
    """Show the version that waits, to read and approve, or approve it."""
    assessment = queries.assessment_or_raise(db.session, assessment_id)
    version = assessment.newest
    today = to_local(clock.now(), zone=g.zone).date()
    now = queries.assessment_now(db.session, assessment, today=today, zone=g.zone)
    form = ApprovalForm(data={"edition": str(version.edition)})
    if form.validate_on_submit():
        with refusals(form):
            approved = approving.approve(
                this_act(form),
                assessment_id=assessment_id,
                edition=form.seen_edition,
                outside_name=form.outside_name.data or "",
                outside_organisation=form.outside_organisation.data or "",
                because=form.because.data or "",
            )
            return saved(f"Version {approved.number} is approved.", ".show", assessment_id=assessment_id)
    return form_page(
        "risk/approve.html",
        form,
        assessment=assessment,
        version=version,
        reading=reading(assessment, version, zone=g.zone),
        screen=SCREEN,
        moved=now.moved,
        is_own=version.assessor_id == current_person().id,
    )


@bp.route("/assessments/<int:assessment_id>/send-back", methods=["GET", "POST"])
@permits(Permission.KEEP_ASSESSMENTS)
def send_back(assessment_id: int) -> ResponseReturnValue:
    """Show the form that sends a version back with what has to be put right, or send it."""
    assessment = queries.assessment_or_raise(db.session, assessment_id)
    form = SendBackForm()
    if form.validate_on_submit():
        with refusals(form):
            approving.send_back(this_act(form), assessment_id=assessment_id, because=form.because.data or "")
            version = assessment.newest.number
            return saved("It is sent back.", ".show", assessment_id=assessment_id, version=version)
    return form_page("risk/send_back.html", form, assessment=assessment)


@bp.route("/assessments/<int:assessment_id>/withdraw", methods=["GET", "POST"])
@permits(Permission.KEEP_ASSESSMENTS)
def withdraw(assessment_id: int) -> ResponseReturnValue:
    """Show the form that withdraws an assessment, or withdraw it."""
    assessment = queries.assessment_or_raise(db.session, assessment_id)
    form = WithdrawForm()
    if form.validate_on_submit():
        with refusals(form):
            approving.withdraw(this_act(form), assessment_id=assessment_id, because=form.because.data or "")
            return saved(f"{assessment.title} is withdrawn.", ".index")
    return form_page("risk/withdraw.html", form, assessment=assessment)
