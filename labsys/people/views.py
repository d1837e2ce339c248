"""Pages of people: signing in and out, the welcome link, one's own account, and who is who."""

from flask import Blueprint, g, redirect, render_template, request, session, url_for
from flask.typing import ResponseReturnValue
from flask_login import current_user, login_user, logout_user

from labsys import clock
from labsys.answers import cut_page, form_page, refusals, refusals_at, row_key, saved
from labsys.config import this_config
from labsys.database import db
from labsys.drawing.qr import qr_code
from labsys.people import leaving, pages, queries, rules, service
from labsys.people.access import ANYONE, SIGNED_IN, client_address, current_person, permits, safe_next, this_act
from labsys.people.forms import ChangePasswordForm, InviteForm, NameForm, NewPasswordForm, RolesForm, SignInForm
from labsys.people.models import Person
from labsys.people.permissions import Permission, may

PEOPLE_A_PAGE = 50
bp = Blueprint("people", __name__)
bp.add_app_template_filter(pages.display, "roles")


@bp.app_errorhandler(rules.TooManyAttempts)
def too_many_attempts(refusal: rules.TooManyAttempts) -> ResponseReturnValue:
    wait = pages.wait_in_words(until=refusal.until, now=clock.now())
    reason = f"There were many wrong tries in a short time. Wait {wait}, then try again."
    return render_template("error/429.html", reason=reason), 429


@bp.errorhandler(rules.LinkRefused)
def link_refused(refusal: rules.LinkRefused) -> ResponseReturnValue:
    status = 404 if isinstance(refusal, rules.LinkUnknown) else 410
    return render_template("people/link_refused.html", reason=str(refusal)), status


@bp.route("/sign-in", methods=["GET", "POST"])
@permits(ANYONE)
def sign_in() -> ResponseReturnValue:
    """Show the form to sign in, or sign somebody in and go where they wanted to."""
    if g.lab is None:
        return redirect(url_for("desk.today"))
    target = safe_next(request.args.get("next"))
    if current_user.is_authenticated:
        return redirect(target)
    form = SignInForm()
    if form.validate_on_submit():
        try:
            person = service.sign_in(
                db.session,
                **form.values_of("email", "password"),
                address=client_address(),
                cost=this_config().password_cost,
                now=clock.now(),
            )
        except rules.SignInRefused:
            form.form_errors.append("This e-mail address and this password do not go together. Check both.")
        else:
            _begin_session(person)
            return redirect(target, 303)
    return form_page("people/sign_in.html", form)


@bp.post("/sign-out")
@permits(SIGNED_IN)
def sign_out() -> ResponseReturnValue:
    """End this session."""
    logout_user()
    session.clear()
    return saved("You are signed out.", ".sign_in")


@bp.route("/welcome/<token>", methods=["GET", "POST"])
@permits(ANYONE)
def welcome(token: str) -> ResponseReturnValue:
    """Show whose link this is and the form to choose a password, or spend the link and sign its person in."""
    link = queries.open_link_or_raise(db.session, token, now=clock.now())
    form = NewPasswordForm()
    if form.validate_on_submit():
        with refusals(form):
            cost = this_config().password_cost
            person = service.choose_password(this_act(), token=token, cost=cost, **form.values_of("password"))
            _begin_session(person)
            return saved("Your password is set, and you are signed in.", "desk.today")
    return form_page("people/welcome.html", form, person=link.person)


@bp.route("/account", methods=["GET", "POST"])
@permits(SIGNED_IN)
def account() -> ResponseReturnValue:
    """Show one's own account, or change one's password and stay signed in here alone."""
    form = ChangePasswordForm()
    if form.validate_on_submit():
        with refusals(form):
            person = service.change_password(
                this_act(),
                **form.values_of("current", "password"),
                address=client_address(),
                cost=this_config().password_cost,
            )
            _begin_session(person)
            return saved("Your password is changed. On every other device you are signed out.", ".account")
    return form_page("people/account.html", form, person=current_person())


@bp.route("/account/name", methods=["GET", "POST"])
@permits(SIGNED_IN)
def change_own_name() -> ResponseReturnValue:
    """Show one's own name to be put right, or put it right."""
    return _name_page(current_person(), "Your name is changed.", ".account")


@bp.get("/people")
@permits(Permission.KEEP_PEOPLE)
def index() -> ResponseReturnValue:
    """List the people, in the order they came."""
    after_id = request.args.get("after", 0, type=row_key)
    read = queries.everybody(db.session, after_id=after_id, limit=PEOPLE_A_PAGE + 1)
    people, later = cut_page(read, limit=PEOPLE_A_PAGE)
    return render_template("people/index.html", people=people, after_id=after_id, later=later)


@bp.route("/people/invite", methods=["GET", "POST"])
@permits(Permission.KEEP_PEOPLE)
def invite() -> ResponseReturnValue:
    """Show the form to invite somebody, or invite them and show their link this once."""
    form = InviteForm()
    if form.validate_on_submit():
        with refusals(form):
            return _show_link(service.invite_person(this_act(), **form.values_of("name", "email", "roles")))
    return form_page("people/invite.html", form, details=pages.ROLE_DETAILS)


@bp.get("/people/<int:person_id>")
@permits(Permission.KEEP_PEOPLE)
def show(person_id: int) -> ResponseReturnValue:
    """Show a person, their roles, and what can be done with the account."""
    person = queries.person_or_raise(db.session, person_id)
    return _person_page(person, RolesForm(roles=list(person.roles)))


@bp.route("/people/<int:person_id>/name", methods=["GET", "POST"])
@permits(Permission.KEEP_PEOPLE)
def change_name(person_id: int) -> ResponseReturnValue:
    """Show somebody's name to be put right, or put it right."""
    person = queries.person_or_raise(db.session, person_id)
    return _name_page(person, "The name is changed.", ".show", person_id=person_id)


@bp.post("/people/<int:person_id>/roles")
@permits(Permission.KEEP_PEOPLE)
def change_roles(person_id: int) -> ResponseReturnValue:
    """Give a person exactly the roles that are ticked."""
    form = RolesForm()
    if form.validate_on_submit():
        with refusals(form):
            person = service.change_roles(this_act(), person_id=person_id, **form.values_of("roles"))
            return _changed(person, f"{person.name} is now {pages.display(person.roles)}.")
    return _person_page(queries.person_or_raise(db.session, person_id), form)


@bp.post("/people/<int:person_id>/close")
@permits(Permission.KEEP_PEOPLE)
def close(person_id: int) -> ResponseReturnValue:
    """Close the account of somebody who has left."""
    foretold = leaving.foretold(db.session, queries.person_or_raise(db.session, person_id), clock.now())
    with refusals_at(".show", person_id=person_id):
        person = service.close_account(this_act(), person_id=person_id)
    told = " ".join(foretold)
    return _changed(person, f"The account of {person.name} is closed. {told} What they did stays on the record.")


@bp.post("/people/<int:person_id>/reopen")
@permits(Permission.KEEP_PEOPLE)
def reopen(person_id: int) -> ResponseReturnValue:
    """Let somebody who left back in."""
    person = service.reopen_account(this_act(), person_id=person_id)
    return _changed(person, f"{person.name} may sign in again.")


@bp.post("/people/<int:person_id>/link")
@permits(Permission.KEEP_PEOPLE)
def send_link(person_id: int) -> ResponseReturnValue:
    """Make a new link for somebody who cannot get in, and show it this once."""
    with refusals_at(".show", person_id=person_id):
        return _show_link(service.send_reset(this_act(), person_id=person_id))


def _begin_session(person: Person) -> None:
    session.clear()  # nothing an earlier visitor of this browser left, the form token included, lives on
    login_user(person)


def _show_link(invitation: service.Invitation) -> ResponseReturnValue:
    """Answer the POST with the link itself: a redirect would lose it, or keep it in a session or an address."""
    address = this_config().public_url + url_for(".welcome", token=invitation.token)  # it outlives host names
    code = qr_code(address, title="The link as a code to scan")
    return render_template("people/link.html", invitation=invitation, address=address, code=code)


def _name_page(person: Person, message: str, endpoint: str, **values: int) -> ResponseReturnValue:
    form = NameForm(data={"name": person.name} if request.method == "GET" else None)
    if form.validate_on_submit():
        with refusals(form):
            service.change_name(this_act(form), person_id=person.id, **form.values_of("name"))
            return saved(message, endpoint, **values)
    return form_page("people/change_name.html", form, person=person)


def _person_page(person: Person, form: RolesForm) -> ResponseReturnValue:
    foretold = leaving.foretold(db.session, person, clock.now()) if person.is_active else []
    return form_page("people/show.html", form, person=person, details=pages.ROLE_DETAILS, foretold=foretold)


def _changed(person: Person, message: str) -> ResponseReturnValue:
    """Go back to the person, or to the first page for a manager who just gave up that role."""
    if may(current_person(), Permission.KEEP_PEOPLE):
        return saved(message, ".show", person_id=person.id)
    return saved(message, "desk.today")
