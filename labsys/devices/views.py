"""Pages of shared tablets: enrolling one, cards, one's PIN, and saying at a tablet who one is."""

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import cast

from flask import (
    Blueprint,
    Flask,
    Response,
    current_app,
    flash,
    g,
    make_response,
    redirect,
    render_template,
    request,
    session,
    url_for,
)
from flask.typing import ResponseReturnValue
from flask_login import current_user, login_user, logout_user

from labsys import clock
from labsys.answers import cut_page, form_page, refusals, refusals_at, row_key, saved
from labsys.config import this_config
from labsys.database import db
from labsys.devices import pages, queries, rules, service
from labsys.devices.forms import CardForm, EnrolForm, NameAndPinForm, PinForm
from labsys.devices.models import Card, EnrolledDevice
from labsys.drawing.qr import qr_code
from labsys.forms import LabForm
from labsys.people.access import (
    ANYONE,
    SIGNED_IN,
    current_person,
    is_always_open,
    needed_for,
    permits,
    safe_next,
    this_act,
)
from labsys.people.acts import TabletVisit
from labsys.people.models import Person
from labsys.people.pages import wait_in_words
from labsys.people.permissions import Permission
from labsys.people.queries import people_here, person_or_raise
from labsys.people.rules import TooManyAttempts
from labsys.records.rules import CodeRefused

bp = Blueprint("devices", __name__)

CARDS_A_PAGE = 25
COOKIE = "tablet"  # in the browser: the token of an enrolled tablet
VISIT = "tablet"  # in the session: whose visit at which tablet, until when
_FIRST_PAGE = "labsys-first-page-at-a-tablet"
_COOKIE_KEPT = timedelta(days=400)  # the longest a browser keeps one; each visit begins it anew
_NOT_HERE = "Your account is not opened at a shared tablet. Use your own phone."
_DONE = "It is done. What was issued opens where you are signed in yourself: on your phone, or at a desk."
_NOBODY = "This does not say who you are. Try again, or ask the lab's manager for tonight's code."


@bp.errorhandler(TooManyAttempts)
def too_many_attempts(refusal: TooManyAttempts) -> ResponseReturnValue:
    wait = wait_in_words(until=refusal.until, now=clock.now())
    reason = f"There were many wrong tries here in a short time. Wait {wait}, or use your own phone."
    return render_template("error/429.html", reason=reason), 429

    # What a manager does


@bp.get("/devices")
@permits(Permission.KEEP_DEVICES)
def index() -> ResponseReturnValue:
    """List the shared tablets."""
    every = queries.devices(db.session)
    return render_template("devices/index.html", devices=every, here=device_here(), form=LabForm())


@bp.route("/devices/enrol", methods=["GET", "POST"])
@permits(Permission.KEEP_DEVICES)
def enrol() -> ResponseReturnValue:
    """Enrol this browser as a shared tablet, and sign its manager out of it."""
    form = EnrolForm()
    if form.validate_on_submit():
        enrolment = service.enrol_device(this_act(), **form.values_of("name"))
        _end_visit()
        message = f"This browser is the tablet “{enrolment.device.name}” now. You are signed out of it."
        response = make_response(saved(message, ".tablet"))
        _keep_token(response, enrolment.token)
        return response
    return form_page("devices/enrol.html", form)


@bp.post("/devices/<int:device_id>/revoke")
@permits(Permission.KEEP_DEVICES)
def revoke(device_id: int) -> ResponseReturnValue:
    """Revoke a tablet at once."""
    device = service.revoke_device(this_act(), device_id=device_id)
    return saved(f"“{device.name}” is revoked: nobody is known there any more.", ".index")


@bp.get("/cards")
@permits(Permission.KEEP_DEVICES)
def cards() -> ResponseReturnValue:
    """Find whose card it is about, and show everybody's, newest first."""
    before_id, typed = request.args.get("before", type=row_key), request.args.get("name", "")
    read = queries.cards(db.session, before_id=before_id, limit=CARDS_A_PAGE + 1)
    shown, older = cut_page(read, limit=CARDS_A_PAGE)
    now = clock.now()
    return render_template(
        "devices/cards.html",
        typed=typed,
        names=pages.names_to_choose(people_here(db.session), typed=typed),
        lines=[pages.card_line(card, now=now) for card in shown],
        before_id=before_id,
        older=older,
    )


@bp.get("/people/<int:person_id>/cards")
@permits(Permission.KEEP_DEVICES)
def cards_of(person_id: int) -> ResponseReturnValue:
    """Show a person's cards, and issue one."""
    person, now = person_or_raise(db.session, person_id), clock.now()
    lines = [pages.card_line(card, now=now) for card in queries.cards_of(db.session, person_id=person_id)]
    return render_template("devices/cards_of.html", person=person, lines=lines, form=LabForm())


@bp.post("/people/<int:person_id>/cards/issue")
@permits(Permission.KEEP_DEVICES)
def issue(person_id: int) -> ResponseReturnValue:
    """Issue a card and show it, ready to print."""
    form = LabForm()
    form.validate_on_submit()
    with refusals_at(".cards_of", person_id=person_id):
        card = service.issue_card(this_act(form), person_id=person_id)
    return saved(f"The card of {card.person.name} is issued. Print it.", ".card", card_id=card.id)


@bp.post("/people/<int:person_id>/cards/tonight")
@permits(Permission.KEEP_DEVICES)
def tonight(person_id: int) -> ResponseReturnValue:
    """Give tonight's code, and show it this once: a redirect would have to keep it in a session or an address."""
    form = LabForm()
    form.validate_on_submit()
    with refusals_at(".cards_of", person_id=person_id):
        card = service.give_code_for_tonight(this_act(form), person_id=person_id, zone=g.zone)
    return render_template("devices/tonight.html", card=card)


@bp.get("/cards/<int:card_id>")
@permits(Permission.KEEP_DEVICES)
def card(card_id: int) -> ResponseReturnValue:
    """Show whose card it is; one that holds good for long can be printed again."""
    line = pages.card_line(queries.card_or_raise(db.session, card_id), now=clock.now())
    can_print = line.is_valid and line.card.valid_until is None
    code = qr_code(line.card.code, title="The code of the card") if can_print else None
    return render_template("devices/card.html", line=line, card=line.card, code=code)


@bp.post("/cards/<int:card_id>/revoke")
@permits(Permission.KEEP_DEVICES)
def revoke_card(card_id: int) -> ResponseReturnValue:
    """Revoke a card at once."""
    card = service.revoke_card(this_act(), card_id=card_id)
    message = f"The card of {card.person.name} is revoked. Tonight's code can stand in for it."
    return saved(message, ".cards_of", person_id=card.person_id)

    # What everybody does


@bp.route("/account/pin", methods=["GET", "POST"])
@permits(SIGNED_IN)
def pin() -> ResponseReturnValue:
    """Choose one's PIN for the shared tablets."""
    form, person = PinForm(), current_person()
    if form.validate_on_submit():
        with refusals(form):
            service.choose_pin(this_act(), cost=this_config().password_cost, **form.values_of("pin"))
            return saved("Your PIN is set. At a shared tablet choose your name and type it.", "people.account")
    return form_page("devices/pin.html", form, has_pin=queries.pin_of(db.session, person_id=person.id) is not None)


@bp.route("/tablet", methods=["GET", "POST"])
@permits(ANYONE)
def tablet() -> ResponseReturnValue:
    """Ask who is there by the code of a card, and let them in for one act."""
    device = device_here()
    if device is None:
        return render_template("devices/not_a_tablet.html"), 403
    if VISIT in session and request.method == "GET":
        _end_visit()  # who comes back here is done
    form = CardForm()
    if form.validate_on_submit():
        try:
            code, prefix = form.code.data or "", g.lab.code_prefix
            card = service.know_by_card(db.session, device=device, code=code, prefix=prefix, now=clock.now())
        except CodeRefused as refusal:
            form.code.errors = [str(refusal)]
        except rules.NotKnown:
            form.code.errors = [_NOBODY]
        else:
            return _begin_visit(card.person, device=device, card=card)
    answer = make_response(form_page("devices/tablet.html", form, device=device))
    _keep_token(answer, request.cookies[COOKIE])
    return answer


@bp.route("/tablet/pin", methods=["GET", "POST"])
@permits(ANYONE)
def tablet_pin() -> ResponseReturnValue:
    """Ask who is there by name and PIN, and let them in for one act."""
    device = device_here()
    if device is None:
        return render_template("devices/not_a_tablet.html"), 403
    typed = request.args.get("name", "")
    names = pages.names_to_choose(queries.people_with_pin(db.session), typed=typed)
    form = NameAndPinForm()
    form.offer(names.offered)
    if form.validate_on_submit():
        try:
            person = service.know_by_pin(
                db.session,
                device=device,
                person_id=form.person.data,
                cost=this_config().password_cost,
                now=clock.now(),
                **form.values_of("pin"),
            )
        except rules.NotKnown:
            form.pin.errors = [_NOBODY]
        else:
            return _begin_visit(person, device=device, card=None)
    return form_page("devices/tablet_pin.html", form, names=names, typed=typed)

    # What every request at a tablet meets


def guard_tablets(app: Flask) -> None:
    """Keep a visit at a tablet short and to a member's acts, whoever it is; install before the guard of permissions."""

    @app.before_request
    def check_visit() -> ResponseReturnValue | None:
        if request.endpoint is None or is_always_open(request.endpoint):
            return None
        if VISIT not in session:
            return _ask_who_is_there(request.endpoint)
        if request.endpoint == "people.sign_out":
            _end_visit()
            return redirect(url_for("devices.tablet"), 303)
        if not _visit_holds(clock.now()):
            _end_visit()
            flash("Your time at the tablet is over. Say who you are once more.", "problem")
            return redirect(url_for("devices.tablet"), 303)
        g.visit = TabletVisit(session[VISIT]["device"])
        current_person().confined_to = rules.TABLET_PERMISSIONS  # type: ignore[misc]  # this one person, this once
        if needed_for(request.endpoint) is SIGNED_IN:
            return render_template("error/403.html", reason=_NOT_HERE), 403
        return None

    @app.after_request
    def end_after_one_act(response: Response) -> Response:
        if VISIT not in session or is_always_open(request.endpoint):
            return response
        if "visit" in g and g.visit.is_over:
            if not any(kind == "saved" for kind, _ in session.get("_flashes", [])):
                flash(_DONE, "saved")
            _end_visit()
            return make_response(redirect(url_for("devices.tablet"), 303))
        left = datetime.fromisoformat(session[VISIT]["until"]) - clock.now()
        response.headers["Refresh"] = f"{max(1, int(left.total_seconds()) + 1)}; url={url_for('devices.tablet')}"
        return response


def _ask_who_is_there(endpoint: str) -> ResponseReturnValue | None:
    """At a tablet where nobody is known, a page for members leads to the question who is there."""
    for_members = endpoint == "desk.today" or needed_for(endpoint) is not ANYONE
    asks = request.method == "GET" and for_members and COOKIE in request.cookies
    if asks and not current_user.is_authenticated and device_here() is not None:
        return redirect(url_for("devices.tablet", next=request.full_path.rstrip("?")), 303)
    return None


def _visit_holds(now: datetime) -> bool:
    visit, device = session[VISIT], device_here()
    if device is None or device.id != visit["device"] or now >= datetime.fromisoformat(visit["until"]):
        return False
    if visit["card"] is not None and not queries.card_is_valid(db.session, card_id=visit["card"], now=now):
        return False
    return bool(current_user.is_authenticated)


def _begin_visit(person: Person, *, device: EnrolledDevice, card: Card | None) -> ResponseReturnValue:
    target = _first_page(person) or safe_next(request.args.get("next"))
    session.clear()
    login_user(person)
    until = clock.now() + rules.VISIT_LASTS
    session[VISIT] = {"device": device.id, "card": card.id if card else None, "until": until.isoformat()}
    flash(f"You are {person.name}. There are three minutes for one entry; then the tablet forgets you.", "note")
    return redirect(target if target != url_for("desk.today") else url_for("baths.index"), 303)


def register_first_page(app: Flask, ask: Callable[[int], str | None]) -> None:
    """Let the application know what somebody is asked first who comes to a tablet: by a room below this one."""
    app.extensions[_FIRST_PAGE] = ask


def _first_page(person: Person) -> str | None:
    ask = current_app.extensions.get(_FIRST_PAGE)
    return cast(str | None, ask(person.id)) if ask else None


def _end_visit() -> None:
    """Forget who was there, and keep only what the next page says was saved."""
    said = session.get("_flashes")
    logout_user()
    session.clear()
    if said:
        session["_flashes"] = said


def device_here() -> EnrolledDevice | None:
    """The enrolled tablet this browser is, if it is one."""
    if "tablet_device" not in g:
        g.tablet_device = queries.device_of_token(db.session, request.cookies.get(COOKIE))
    return cast(EnrolledDevice | None, g.tablet_device)


def _keep_token(response: Response, token: str) -> None:
    response.set_cookie(
        COOKIE, token, max_age=_COOKIE_KEPT, secure=this_config().secure_cookies, httponly=True, samesite="Lax"
    )
