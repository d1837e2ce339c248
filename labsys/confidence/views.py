"""Pages in confidence: one's own, and the safety adviser's. A tablet never shows them; no address names a substance."""

from flask import Blueprint, g, render_template, request
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import form_page, refusals, row_key, saved
from labsys.confidence import pages
from labsys.confidence.forms import RestrictionForm, SkinCheckForm, TalkForm
from labsys.database import db
from labsys.forms import LabForm, new_key
from labsys.people import queries as people
from labsys.people.access import SIGNED_IN, current_person, permits, this_act
from labsys.people.models import Person
from labsys.people.permissions import Permission
from labsys.restrictions import queries, service

bp = Blueprint("confidence", __name__)

_KEPT = "Kept in confidence."
_ERASED = "Erased. Nothing of it is left but in backups made before."


@bp.route("/account/confidence", methods=["GET", "POST"])
@permits(SIGNED_IN)
def own() -> ResponseReturnValue:
    """Show what is kept in confidence of oneself and what is open to one, or keep something more."""
    return _restrict(current_person(), template="confidence/own.html", endpoint=".own")


@bp.post("/account/confidence/talk")
@permits(SIGNED_IN)
def ask_for_talk() -> ResponseReturnValue:
    """Ask the safety adviser for a talk; nobody asks why."""
    service.ask_for_talk(this_act(LabForm()))
    return saved(
        "Asked. Today tells the safety adviser that somebody wants a talk; a page of theirs tells who.", ".own"
    )


@bp.post("/account/confidence/erase")
@permits(SIGNED_IN)
def erase_own() -> ResponseReturnValue:
    """Erase something that is kept of oneself."""
    return _erase(current_person(), endpoint=".own")


@bp.get("/confidence")
@permits(Permission.SEE_CONFIDENCES)
def index() -> ResponseReturnValue:
    """List whose page the safety adviser may open: those who wait for a talk first."""
    return render_template(
        "confidence/index.html",
        people=queries.people_to_list(db.session),
        waiting=queries.people_waiting(db.session),
        known=queries.people_known(db.session),
    )


@bp.route("/confidence/<int:person_id>", methods=["GET", "POST"])
@permits(Permission.SEE_CONFIDENCES)
def person(person_id: int) -> ResponseReturnValue:
    """Show the safety adviser what is kept of somebody, or keep something more."""
    return _restrict(_person(person_id), template="confidence/person.html", endpoint=".person", person_id=person_id)


@bp.route("/confidence/<int:person_id>/talk", methods=["GET", "POST"])
@permits(Permission.SEE_CONFIDENCES)
def keep_talk(person_id: int) -> ResponseReturnValue:
    """Show the form of a talk that was held, or keep what was agreed until when."""
    form, person = TalkForm(), _person(person_id)
    if form.validate_on_submit():
        with refusals(form):
            service.keep_talk(this_act(form), person_id=person.id, **form.values_of("agreed", "ends_on"))
            return saved(_KEPT, ".person", person_id=person_id)
    return form_page("confidence/talk.html", form, person=person)


@bp.route("/confidence/<int:person_id>/skin-check", methods=["GET", "POST"])
@permits(Permission.SEE_CONFIDENCES)
def keep_skin_check(person_id: int) -> ResponseReturnValue:
    """Show the form of health surveillance, or keep somebody under it, with the day of the last skin check."""
    form, person = SkinCheckForm(), _person(person_id)
    if form.validate_on_submit():
        with refusals(form):
            service.keep_skin_checks(this_act(form), person_id=person.id, **form.values_of("last_on"))
            return saved(_KEPT, ".person", person_id=person_id)
    return form_page("confidence/skin_check.html", form, person=person)


@bp.post("/confidence/<int:person_id>/erase")
@permits(Permission.SEE_CONFIDENCES)
def erase(person_id: int) -> ResponseReturnValue:
    """Erase something that is kept of somebody."""
    return _erase(_person(person_id), endpoint=".person", person_id=person_id)


def _restrict(person: Person, *, template: str, endpoint: str, **values: int) -> ResponseReturnValue:
    form = RestrictionForm()
    if form.validate_on_submit():
        with refusals(form):
            service.keep_restriction(
                this_act(form), person_id=person.id, family=form.chosen, **form.values_of("note", "ends_on")
            )
            return saved(_KEPT, endpoint, **values)
    page = pages.page_of(db.session, person=person, now=clock.now(), zone=g.zone)
    return form_page(template, form, page=page, new_key=new_key)


def _erase(person: Person, *, endpoint: str, **values: int) -> ResponseReturnValue:
    """What to erase is named in the form, not in the address, which servers log."""
    table, _, number = request.form.get("row", "").partition(" ")
    try:
        row_id = row_key(number)
    except ValueError:
        return saved("Nothing was chosen to be erased.", endpoint, **values)
    service.forget(this_act(LabForm()), person_id=person.id, table=table, row_id=row_id)
    return saved(_ERASED, endpoint, **values)


def _person(person_id: int) -> Person:
    return people.person_or_raise(db.session, person_id)
