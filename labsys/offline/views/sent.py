"""Pages and answers for devices that had no network: the page they keep, what they send, what waits afterwards."""

from collections.abc import Callable

from flask import Response, current_app, g, jsonify, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from flask_login import current_user
from flask_wtf.csrf import generate_csrf

from labsys import clock
from labsys.answers import refusals_at, saved
from labsys.baths import queries as baths
from labsys.baths.use_forms import UseForm
from labsys.baths.use_pages import in_groups
from labsys.chemistry.errors import CalculationError
from labsys.database import db
from labsys.devices import views as devices
from labsys.devices.models import EnrolledDevice
from labsys.forms import new_key
from labsys.hazards.errors import HazardsError
from labsys.incidents.forms import KIND_NAMES
from labsys.offline import entries, queries, service
from labsys.offline.blueprint import bp
from labsys.offline.entries import Entry, NotTaken
from labsys.offline.forms import SettleForm
from labsys.offline.models import State
from labsys.people.access import ALWAYS, ANYONE, current_person, permits
from labsys.people.acts import Act, AlreadyDone, SubmissionKeyMisused, TabletVisit
from labsys.people.permissions import NotPermitted, Permission
from labsys.records.errors import NotFound, Refused

MOST_AT_ONCE = 20
_NOT_TAKEN = (Refused, NotFound, NotPermitted, SubmissionKeyMisused, CalculationError, HazardsError)
_WAITS_FOR_YES = "Kept. It is not confirmed: it counts once its person says so at their next visit."
_INCIDENT_WAITS = "It waits to be confirmed; those who see to incidents were written to."


@bp.get("/worker.js")
@permits(ALWAYS)
def worker() -> Response:
    """The script that answers where there is no network; at the top, so that it answers for every page."""
    response = current_app.send_static_file("worker.js")
    response.headers["Content-Security-Policy"] = "default-src 'none'; script-src 'self'; connect-src 'self'"
    response.headers["Cache-Control"] = "no-cache"
    return response


@bp.get("/offline")
@permits(ANYONE)
def shell() -> ResponseReturnValue:
    """The page a device keeps, with nothing in it of anybody: what can be entered without a network."""
    tablet = devices.device_here()
    if tablet is None and not current_user.is_authenticated:
        return redirect(url_for("people.sign_in", next=request.path), 303)
    lines = []
    for line in baths.lines(db.session):
        form = UseForm(formdata=None)
        form.went.offer(line.work)
        lines.append((line, in_groups(form.went.cells)))
    return render_template("offline/shell.html", lines=lines, kinds=KIND_NAMES, is_tablet=tablet is not None)


@bp.get("/offline/hello")
@permits(ANYONE)
def hello() -> ResponseReturnValue:
    """What a device asks for just before it sends: a token, what time it is here, and who is signed in."""
    return jsonify(
        token=generate_csrf(),
        now=round(clock.now().timestamp() * 1000),
        who=str(current_person().id) if current_user.is_authenticated else "",
        tablet=devices.device_here() is not None,
    )


@bp.post("/offline/entries")
@permits(ANYONE)
def take() -> ResponseReturnValue:
    """Take over what was entered without a network, in the order it happened, and answer for each by its key."""
    tablet = devices.device_here()
    if tablet is None and not current_user.is_authenticated:
        return jsonify(said="Sign in first."), 403
    sent = request.get_json(silent=True)
    rows = sent.get("entries") if isinstance(sent, dict) else None
    if not isinstance(rows, list) or len(rows) > MOST_AT_ONCE:
        return jsonify(said="This is not what a page of this site sends."), 400
    answers, readable = {}, []
    for row in rows:
        try:
            readable.append(entries.read_entry(row))
        except ValueError:
            if isinstance(row, dict) and isinstance(row.get("key"), str):
                answers[row["key"]] = {"said": "This could not be read.", "needs": True}
    mine = [entry for entry in readable if tablet is not None or entry.who in ("", str(current_person().id))]
    for entry in sorted(mine, key=lambda entry: (entry.happened_at, entry.key)):  # another's stays on the device
        try:
            entries.check_form(entry)
            said, needs = _take_at_tablet(entry, tablet) if tablet is not None else _take_from_phone(entry)
        except NotTaken as refusal:
            said, needs = str(refusal), True
        answers[entry.key] = {"said": said, "needs": needs}
    return jsonify(answers=answers)


@bp.get("/kept")
@permits(Permission.SEE_LAB)
def index() -> ResponseReturnValue:
    """Show one's own entries that wait: those made at a tablet to confirm, and those that could not be taken over."""
    person_id = current_person().id
    return render_template(
        "offline/mine.html",
        to_confirm=queries.to_confirm(db.session, person_id=person_id),
        refused=queries.refused_of(db.session, person_id=person_id),
        new_key=new_key,
    )


@bp.post("/kept")
@permits(Permission.SEE_LAB)
def confirm() -> ResponseReturnValue:
    """Say of all that waits whether it was one's own: what was is taken over now, as of when it happened."""
    said = []
    for number in [kept.id for kept in queries.to_confirm(db.session, person_id=current_person().id)]:
        answer = request.form.get(f"mine-{number}")
        if answer not in ("yes", "no"):
            continue
        with refusals_at(".index"):
            if answer == "no":
                service.disown(_act(), entry_id=number)
                said.append("Noted: it was not you.")
            else:
                said.append(_confirmed(number))
    return saved(" ".join(dict.fromkeys(said)) or "Nothing was said of any of them.", ".index")


@bp.get("/kept/all")
@permits(Permission.SEE_USES)
def everybodys() -> ResponseReturnValue:
    """List what was entered without a network and is not settled: what needs somebody first."""
    rows = queries.unsettled(db.session)
    return render_template(
        "offline/all.html",
        needing=[kept for kept in rows if kept.state in queries.NEEDS_STAFF],
        waiting=[kept for kept in rows if kept.state is State.NOT_CONFIRMED],
        new_key=new_key,
    )


@bp.post("/kept/<int:entry_id>/settle")
@permits(Permission.SEE_USES)
def settle(entry_id: int) -> ResponseReturnValue:
    """Say whose an entry is, so that they can confirm it, or what became of it."""
    form = SettleForm()
    form.validate()
    with refusals_at(".everybodys"):
        if not form.whose.data:
            service.settle(_act(form.submission_key.data), entry_id=entry_id, came_to=form.came_to.data or "")
            return saved("Settled.", ".everybodys")
        people = queries.person_named(db.session, form.whose.data)
        if len(people) != 1:
            known = "Several people are called so: write the e-mail address." if people else "Nobody here is called so."
            raise NotTaken(known, field="whose")
        service.name_whose(_act(form.submission_key.data), entry_id=entry_id, person_id=people[0].id)
    return saved("It waits for them to confirm it.", ".everybodys")


def waits_for(person_id: int) -> str | None:
    """Where somebody goes first who comes to a tablet: to what was entered there in their name."""
    return url_for("offline.index") if queries.to_confirm(db.session, person_id=person_id) else None


def _take_from_phone(entry: Entry) -> tuple[str, bool]:
    """What came of an entry of whoever is signed in, and whether somebody has to look."""
    return _answered(entry) or _taken(entry, lambda why: _keep(entry, State.REFUSED, why=why))


def _take_at_tablet(entry: Entry, tablet: EnrolledDevice) -> tuple[str, bool]:
    """An entry made at a tablet waits for its person, whoever that was: no PIN can be checked without a network."""
    if answered := _answered(entry):
        return answered
    claimed = entry.typed.get("claimed", "")
    person = queries.claimed_by(db.session, who=entry.who, text=claimed, now=clock.now())
    state = State.NOBODYS if person is None else State.NOT_CONFIRMED
    person_id = None if person is None else person.id
    entries.check_time(entry.happened_at, now=clock.now())
    _keep(entry, state, tablet=tablet, person_id=person_id, claimed=claimed)
    return (_INCIDENT_WAITS if entries.is_incident(entry) else _WAITS_FOR_YES), False


def _answered(entry: Entry) -> tuple[str, bool] | None:
    """What is said of an entry that came before, however often and in whatever order it comes again."""
    kept = queries.kept_by_key(db.session, entry.key)
    if kept is not None:
        return kept.came_to or kept.why or _WAITS_FOR_YES, kept.state is State.REFUSED
    return ("That is noted already.", False) if queries.was_acted_on(db.session, entry.key) else None


def _taken(entry: Entry, keep: Callable[[str], None]) -> tuple[str, bool]:
    try:
        return entries.take_over(_act(entry.key), entry), False
    except AlreadyDone:
        return "That is noted already.", False
    except _NOT_TAKEN as refusal:
        why = "Its key was used for something else." if isinstance(refusal, SubmissionKeyMisused) else str(refusal)
        keep(why)
        return why, True


def _confirmed(entry_id: int) -> str:
    kept = queries.entry_or_raise(db.session, entry_id)
    entry = Entry(kept.key, kept.path, entries.fields_of(kept.typed), kept.happened_at)
    if queries.was_acted_on(db.session, entry.key):
        said = "That is noted already."
    else:
        said, needs = _taken(entry, lambda why: None)
        if needs:
            service.refuse(_act(), entry_id=entry_id, why=said[:400])
            return said
    service.settle(_act(), entry_id=entry_id, came_to=said[:400])
    return said


def _keep(
    entry: Entry,
    state: State,
    *,
    why: str = "",
    tablet: EnrolledDevice | None = None,
    person_id: int | None = None,
    claimed: str = "",
) -> None:
    if tablet is None:
        act, person_id = _act(), current_person().id
    else:
        act = Act(db.session, by=None, now=clock.now(), visit=TabletVisit(tablet.id))
    try:
        service.keep(
            act,
            entry=entry,
            state=state,
            why=why[:400],
            device_id=tablet.id if tablet is not None else None,
            person_id=person_id,
            claimed=claimed,
        )
    except service.KeptAlready:
        return  # two of the same met; the other one stands


def _act(key: str | None = None) -> Act:
    """An act of whoever is signed in; of one request there may be several, each with a key of its own."""
    return Act(db.session, by=current_person(), now=clock.now(), key=key, visit=g.get("visit"))
