"""Pages of membership: one's own age, somebody's membership, and what the lab asks. A shared tablet shows none."""

from flask import Blueprint, g, render_template, request
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import form_page, refusals, row_key, saved
from labsys.database import db
from labsys.forms import LabForm, new_key
from labsys.membership import ages, guardians, service
from labsys.membership.forms import AgeForm, PermissionForm, RulesForm
from labsys.people import queries as people
from labsys.people.access import SIGNED_IN, current_person, permits, this_act
from labsys.people.models import Person
from labsys.people.permissions import Permission
from labsys.records.models import Admits, Safeguarding
from labsys.timetable.local_time import to_local

bp = Blueprint("membership", __name__)


@bp.route("/account/age", methods=["GET", "POST"])
@permits(SIGNED_IN)
def own_age() -> ResponseReturnValue:
    """Show what is known of one's own age, or state it."""
    return _age_page(current_person(), "membership/own_age.html", "people.account")


@bp.get("/membership/<int:person_id>")
@permits(Permission.KEEP_MEMBERSHIP)
def show(person_id: int) -> ResponseReturnValue:
    """Show somebody's membership."""
    person = people.person_or_raise(db.session, person_id)
    today = to_local(clock.now(), zone=g.zone).date()
    return render_template(
        "membership/show.html",
        person=person,
        age=ages.age_in_words(db.session, person_id, on=today),
        counts_as_under_18=ages.is_under_18(db.session, person_id, on=today),
        permissions=guardians.permissions_of(db.session, person_id),
        today=today,
        new_key=new_key,
    )


@bp.route("/membership/<int:person_id>/age", methods=["GET", "POST"])
@permits(Permission.KEEP_MEMBERSHIP)
def age(person_id: int) -> ResponseReturnValue:
    """Show what is known of somebody's age, to put it right; or state it."""
    person = people.person_or_raise(db.session, person_id)
    return _age_page(person, "membership/age.html", ".show", person_id=person_id)


@bp.route("/membership/<int:person_id>/permission", methods=["GET", "POST"])
@permits(Permission.KEEP_MEMBERSHIP)
def permission(person_id: int) -> ResponseReturnValue:
    """Show the form of a guardian's permission, or enter one."""
    person = people.person_or_raise(db.session, person_id)
    statement = ages.statement_of(db.session, person_id)
    form = PermissionForm(ends_on=statement.under_18_until if statement else None)
    if form.validate_on_submit():
        with refusals(form):
            typed = form.values_of("guardian", "given_on", "ends_on", "paper")
            guardians.enter_permission(this_act(form), person_id=person_id, **typed)
            return saved("The permission is on file.", ".show", person_id=person_id)
    return form_page("membership/permission.html", form, person=person)


@bp.post("/membership/<int:person_id>/permission/withdraw")
@permits(Permission.KEEP_MEMBERSHIP)
def withdraw(person_id: int) -> ResponseReturnValue:
    """Note that a guardian took their permission back."""
    try:
        permission_id = row_key(request.form.get("permission", ""))
    except ValueError:
        return saved("Nothing was chosen.", ".show", person_id=person_id)
    guardians.withdraw_permission(this_act(LabForm()), person_id=person_id, permission_id=permission_id)
    return saved("The permission holds no more.", ".show", person_id=person_id)


@bp.route("/membership/rules", methods=["GET", "POST"])
@permits(Permission.KEEP_LAB)
def rules() -> ResponseReturnValue:
    """Show what the lab asks of who comes here, or set it."""
    form = RulesForm(admits_under_18=g.lab.admits_under_18.value, safeguarding=g.lab.safeguarding.value)
    if form.validate_on_submit():
        service.set_rules(
            this_act(form),
            admits_under_18=Admits(form.admits_under_18.data),
            safeguarding=Safeguarding(form.safeguarding.data),
        )
        return saved("That is set.", ".rules")
    return form_page("membership/rules.html", form)


def _age_page(person: Person, template: str, endpoint: str, **values: int) -> ResponseReturnValue:
    statement = ages.statement_of(db.session, person.id)
    form = AgeForm.of(statement if request.method == "GET" else None)
    if form.validate_on_submit():
        until, school_until = form.days
        with refusals(form):
            ages.state_age(this_act(form), person_id=person.id, until=until, school_until=school_until)
            return saved("That is kept.", endpoint, **values)
    today = to_local(clock.now(), zone=g.zone).date()
    return form_page(
        template,
        form,
        person=person,
        known=ages.age_in_words(db.session, person.id, on=today),
        is_settled=bool(statement and statement.under_18_until and today < statement.under_18_until),
        admits=g.lab.admits_under_18,
    )
