"""Pages of membership: one's own, somebody's, and what the lab asks. A shared tablet shows none."""

from flask import Blueprint, g, render_template, request
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import form_page, refusals, row_key, saved
from labsys.database import db
from labsys.forms import LabForm, new_key
from labsys.membership import ages, agreements, contacts, enrolment, fees, gate, guardians, keeping, service
from labsys.membership.forms import (
    AgeForm,
    AgreementForm,
    ContactForm,
    FeeForm,
    PaperForm,
    PermissionForm,
    RulesForm,
    SignForm,
    TermForm,
)
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


@bp.get("/account/membership")
@permits(SIGNED_IN)
def own() -> ResponseReturnValue:
    """Show one's own membership: what the lab still asks, until when it holds, what was signed, whom to call."""
    person, today = current_person(), to_local(clock.now(), zone=g.zone).date()
    return render_template(
        "membership/own.html", asked=gate.still_asked(db.session, person, on=today), **_about(person)
    )


@bp.route("/account/agreement", methods=["GET", "POST"])
@permits(SIGNED_IN)
def sign() -> ResponseReturnValue:
    """Show the agreement, or sign it."""
    newest = agreements.newest_of(db.session)
    if newest is None:
        return saved("This lab has no agreement to sign.", ".own")
    form = SignForm(version=newest.number)
    if form.validate_on_submit():
        with refusals(form):
            agreements.sign(this_act(form), number=form.version.number)
            return saved("Signed.", ".own")
    signed = agreements.signed_by(db.session, current_person().id, newest)
    return form_page("membership/sign.html", form, agreement=newest, signed=signed)


@bp.route("/account/emergency-contact", methods=["GET", "POST"])
@permits(SIGNED_IN)
def own_contact() -> ResponseReturnValue:
    """Show whom to call for oneself, or state it."""
    return _contact_page(current_person(), ".own")


@bp.get("/membership/<int:person_id>")
@permits(Permission.KEEP_MEMBERSHIP)
def show(person_id: int) -> ResponseReturnValue:
    """Show somebody's membership."""
    person = people.person_or_raise(db.session, person_id)
    today = to_local(clock.now(), zone=g.zone).date()
    return render_template(
        "membership/show.html",
        age=ages.age_in_words(db.session, person_id, on=today),
        counts_as_under_18=ages.is_under_18(db.session, person_id, on=today),
        permissions=guardians.permissions_of(db.session, person_id),
        today=today,
        new_key=new_key,
        **_about(person),
    )


@bp.route("/membership/<int:person_id>/term", methods=["GET", "POST"])
@permits(Permission.KEEP_MEMBERSHIP)
def term(person_id: int) -> ResponseReturnValue:
    """Show the form of a membership, or enter one."""
    person = people.person_or_raise(db.session, person_id)
    form = TermForm(starts_on=to_local(clock.now(), zone=g.zone).date())
    if form.validate_on_submit():
        with refusals(form):
            enrolment.enter_term(this_act(form), person_id=person_id, **form.values_of("starts_on", "ends_on"))
            return saved("The membership is entered.", ".show", person_id=person_id)
    return form_page("membership/term.html", form, person=person)


@bp.post("/membership/<int:person_id>/term/take-back")
@permits(Permission.KEEP_MEMBERSHIP)
def take_back_term(person_id: int) -> ResponseReturnValue:
    """Take a membership back that was entered."""
    try:
        term_id = row_key(request.form.get("term", ""))
    except ValueError:
        return saved("Nothing was chosen.", ".show", person_id=person_id)
    enrolment.take_back_term(this_act(LabForm()), person_id=person_id, term_id=term_id)
    return saved("That membership holds no more.", ".show", person_id=person_id)


@bp.route("/membership/<int:person_id>/agreement", methods=["GET", "POST"])
@permits(Permission.KEEP_MEMBERSHIP)
def signed_paper(person_id: int) -> ResponseReturnValue:
    """Show the form for an agreement signed on paper, or enter it."""
    person, newest = people.person_or_raise(db.session, person_id), agreements.newest_of(db.session)
    if newest is None:
        return saved("This lab has no agreement to sign.", ".show", person_id=person_id)
    form = PaperForm(version=newest.number)
    if form.validate_on_submit():
        with refusals(form):
            agreements.enter_signed(
                this_act(form), person_id=person_id, number=form.version.number, **form.values_of("paper")
            )
            return saved("The signature is entered.", ".show", person_id=person_id)
    return form_page("membership/signed_paper.html", form, person=person, agreement=newest)


@bp.route("/membership/<int:person_id>/contact", methods=["GET", "POST"])
@permits(Permission.KEEP_MEMBERSHIP)
def contact(person_id: int) -> ResponseReturnValue:
    """Show whom to call for somebody, or enter it as they say."""
    return _contact_page(people.person_or_raise(db.session, person_id), ".show", person_id=person_id)


@bp.route("/membership/<int:person_id>/fee", methods=["GET", "POST"])
@permits(Permission.KEEP_MEMBERSHIP)
def fee(person_id: int) -> ResponseReturnValue:
    """Show the form to note how somebody stands with the fee, or note it."""
    person = people.person_or_raise(db.session, person_id)
    form = FeeForm()
    if form.validate_on_submit():
        with refusals(form):
            typed = form.values_of("paid_until", "hours_left", "note")
            fees.note_fee(this_act(form), person_id=person_id, **typed)
            return saved("That is noted.", ".show", person_id=person_id)
    return form_page("membership/fee.html", form, person=person)


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
    stands = keeping.rules_of(db.session)
    form = RulesForm(
        admits_under_18=g.lab.admits_under_18.value,
        safeguarding=g.lab.safeguarding.value,
        **{name: getattr(stands, name) for name in service.ASKED},
    )
    if form.validate_on_submit():
        service.set_rules(
            this_act(form),
            admits_under_18=Admits(form.admits_under_18.data),
            safeguarding=Safeguarding(form.safeguarding.data),
            asks=form.asks,
        )
        return saved("That is set.", ".rules")
    return form_page("membership/rules.html", form, agreement=agreements.newest_of(db.session))


@bp.route("/membership/agreement", methods=["GET", "POST"])
@permits(Permission.KEEP_LAB)
def agreement() -> ResponseReturnValue:
    """Show the versions of the agreement with a form for the next, or issue it."""
    newest = agreements.newest_of(db.session)
    form = AgreementForm(text=newest.text if newest else "", earlier=None if newest else "again")
    if form.validate_on_submit():
        with refusals(form):
            issued = agreements.issue(this_act(form), sign_again=form.earlier.data == "again", **form.values_of("text"))
            return saved(f"Version {issued.number} is issued.", ".agreement")
    return form_page("membership/agreement.html", form, versions=agreements.every(db.session))


def _about(person: Person) -> dict[str, object]:
    """What both pages of a membership show."""
    return {
        "asks": keeping.rules_of(db.session),
        "person": person,
        "terms": enrolment.terms_of(db.session, [person.id])[person.id],
        "newest": agreements.newest_of(db.session),
        "signatures": agreements.signatures_of(db.session, person.id),
        "contact": contacts.contact_of(db.session, person.id),
        "fees": fees.fees_of(db.session, person.id),
    }


def _contact_page(person: Person, endpoint: str, **values: int) -> ResponseReturnValue:
    form = ContactForm(obj=contacts.contact_of(db.session, person.id))
    if form.validate_on_submit():
        with refusals(form):
            contacts.state_contact(this_act(form), person_id=person.id, **form.values_of("name", "telephone"))
            return saved("That is kept.", endpoint, **values)
    return form_page("membership/contact.html", form, person=person, is_own=person.id == current_person().id)


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
