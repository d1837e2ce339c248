"""Adding an action to an assessment, and finishing it."""

from flask.typing import ResponseReturnValue

from labsys.answers import form_page, refusals, saved
from labsys.database import db
from labsys.forms import given
from labsys.people.access import current_person, permits, this_act
from labsys.people.permissions import Permission, may
from labsys.risk import actions, queries
from labsys.risk.blueprint import bp
from labsys.risk.forms import ActionForm, FinishForm
from labsys.timetable.local_time import day_words


@bp.route("/assessments/<int:assessment_id>/actions/add", methods=["GET", "POST"])
@permits(Permission.KEEP_ASSESSMENTS)
def add_action(assessment_id: int) -> ResponseReturnValue:
    """Show the form of a new action, or add it."""
    assessment = queries.assessment_or_raise(db.session, assessment_id)
    form = ActionForm()
    form.offer(queries.possible_owners(db.session))
    if form.validate_on_submit():
        with refusals(form):
            added = actions.add_action(
                this_act(form),
                assessment_id=assessment_id,
                text=form.text.data or "",
                owner_id=form.owner.data,
                due_on=given(form.due_on.data),
            )
            return saved(f"To do by {day_words(added.due_on)}.", ".show", assessment_id=assessment_id)
    return form_page("risk/add_action.html", form, assessment=assessment)


@bp.route("/assessments/actions/<int:action_id>/finish", methods=["GET", "POST"])
@permits(Permission.SEE_LAB)
def finish_action(action_id: int) -> ResponseReturnValue:
    """Show the form that says an action is done, or say so; for its owner and those who keep the assessments."""
    action = queries.action_or_raise(db.session, action_id)
    actions.require_finish(current_person(), action)
    form = FinishForm()
    if form.validate_on_submit():
        with refusals(form):
            finished = actions.finish_action(this_act(form), action_id=action_id, note=form.note.data or "")
            if may(current_person(), Permission.KEEP_ASSESSMENTS):
                return saved("It is done.", ".show", assessment_id=finished.assessment_id)
            return saved("It is done.", ".index")
    return form_page("risk/finish_action.html", form, action=action)
