"""What assessments found, for who answers for somebody of school age: a plain page to print, and that it was given."""

from flask import g, render_template
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import form_page, refusals, saved
from labsys.database import db
from labsys.membership import ages, guardians
from labsys.people import queries as people
from labsys.people.access import permits, this_act
from labsys.people.permissions import Permission
from labsys.records.errors import NotFound
from labsys.risk import queries, under_18
from labsys.risk.blueprint import bp
from labsys.risk.forms import FindingsForm
from labsys.risk.reading import reading
from labsys.timetable.local_time import to_local


@bp.get("/assessments/<int:assessment_id>/findings")
@permits(Permission.SEE_LAB)
def findings(assessment_id: int) -> ResponseReturnValue:
    """Show what the version that holds found, in plain words, to print and hand over."""
    assessment = queries.assessment_or_raise(db.session, assessment_id)
    if assessment.approved is None or assessment.withdrawn_at is not None:
        raise NotFound("assessment", assessment_id)
    told = reading(assessment, assessment.approved, zone=g.zone)
    return render_template("risk/findings.html", reading=told, assessment=assessment)


@bp.route("/assessments/findings-for/<int:person_id>", methods=["GET", "POST"])
@permits(Permission.KEEP_MEMBERSHIP)
def findings_for(person_id: int) -> ResponseReturnValue:
    """Show what was given to who answers for somebody, and what was not; or note that it was given."""
    person = people.person_or_raise(db.session, person_id)
    today = to_local(clock.now(), zone=g.zone).date()
    rows = under_18.findings_for(db.session, person_id=person_id, today=today, zone=g.zone)
    held = [permission.guardian for permission in guardians.permissions_of(db.session, person_id)]
    form = FindingsForm(given_to=held[0] if held else "")
    form.version_id.choices = [(row.version.id, row.name) for row in rows if not row.given_to]
    if form.validate_on_submit():
        with refusals(form):
            for version_id in form.version_id.data or ():
                under_18.give_findings(
                    this_act(), person_id=person_id, version_id=version_id, **form.values_of("given_to")
                )
            return saved("That is kept.", ".findings_for", person_id=person_id)
    is_asked = ages.is_of_school_age(db.session, person_id, on=today)
    return form_page("risk/findings_for.html", form, person=person, rows=rows, is_asked=is_asked)
