"""Pages of equipment: how each piece stands, its checks, and faults from the code that somebody scanned."""

from datetime import date

from flask import Blueprint, g, render_template, request, url_for
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import cut_page, form_page, refusals, refusals_at, row_key, saved
from labsys.config import this_config
from labsys.database import db
from labsys.drawing.qr import scan_code_of
from labsys.equipment import pages, queries, rules, service
from labsys.equipment.forms import AddForm, ChangeForm, ClearForm, FaultForm, RetireForm, check_form
from labsys.equipment.models import CheckKind, EquipmentKind, FaultKind
from labsys.equipment.service import Found
from labsys.people.access import permits, this_act
from labsys.people.permissions import Permission
from labsys.places import queries as places
from labsys.records.errors import NotFound
from labsys.timetable.local_time import to_local

bp = Blueprint("equipment", __name__)

CHECKS_A_PAGE = 20


@bp.get("/equipment")
@permits(Permission.SEE_LAB)
def index() -> ResponseReturnValue:
    """List what is checked, by room, with what is due and what is wrong."""
    standings = queries.standings(db.session)
    return render_template(
        "equipment/index.html",
        rooms=pages.by_room(standings, now=clock.now()),
        faults=queries.open_faults(db.session),
        grace_days=g.lab.check_grace_days,
        periods=[period for of_kind in rules.periods().values() for period in of_kind],
    )


@bp.route("/equipment/add", methods=["GET", "POST"])
@permits(Permission.KEEP_EQUIPMENT)
def add() -> ResponseReturnValue:
    """Show the form of a new piece, or enter it."""
    form = AddForm()
    form.offer(places.rooms(db.session), places.stations(db.session))
    if form.validate_on_submit():
        with refusals(form):
            added = service.add(this_act(form), kind=EquipmentKind(form.kind.data), facts=form.facts)
            return saved(f"{added.name} is on the list. Enter its last checks.", ".show", equipment_id=added.id)
    return form_page("equipment/add.html", form)


@bp.get("/equipment/<int:equipment_id>")
@permits(Permission.SEE_LAB)
def show(equipment_id: int) -> ResponseReturnValue:
    """Show one piece: how it stands, what can be done about it, and its checks."""
    equipment = queries.equipment_or_raise(db.session, equipment_id)
    before_id = request.args.get("before", type=row_key)
    rows = queries.checks_of(db.session, equipment_id, before_id=before_id, limit=CHECKS_A_PAGE + 1)
    checks, older = cut_page(rows, limit=CHECKS_A_PAGE)
    standing = next((each for each in queries.standings(db.session) if each.equipment.id == equipment_id), None)
    return render_template(
        "equipment/show.html",
        equipment=equipment,
        view=pages.view_of(standing, now=clock.now()) if standing else None,
        faults=queries.open_faults(db.session, equipment_id=equipment_id),
        checks=[pages.check_view(check, equipment) for check in checks],
        older=older,
        code=scan_code_of(equipment.code, public_url=this_config().public_url) if equipment.code else None,
    )


@bp.route("/equipment/<int:equipment_id>/change", methods=["GET", "POST"])
@permits(Permission.KEEP_EQUIPMENT)
def change(equipment_id: int) -> ResponseReturnValue:
    """Change what is said of a piece, such as the date of a new bottle."""
    equipment = queries.equipment_or_raise(db.session, equipment_id)
    served = (("room", equipment.room_id), ("place", equipment.station_id))
    typed = {
        "name": equipment.name,
        "whereabouts": equipment.whereabouts,
        "serves": next((f"{kind}-{row_id}" for kind, row_id in served if row_id), ""),
        "lapses_on": equipment.lapses_on,
        "step": equipment.step_micro,
    }
    form = ChangeForm(data=typed if request.method == "GET" else None)
    form.fit(equipment.kind)
    form.offer(places.rooms(db.session), places.stations(db.session))
    if form.validate_on_submit():
        with refusals(form):
            changed = service.change(this_act(form), equipment_id=equipment_id, facts=form.facts)
            return saved(f"{changed.name} is changed.", ".show", equipment_id=equipment_id)
    return form_page("equipment/change.html", form, equipment=equipment)


@bp.route("/equipment/<int:equipment_id>/retire", methods=["GET", "POST"])
@permits(Permission.KEEP_EQUIPMENT)
def retire(equipment_id: int) -> ResponseReturnValue:
    """Ask why a piece is taken out of use; do it."""
    equipment = queries.equipment_or_raise(db.session, equipment_id)
    form = RetireForm()
    if form.validate_on_submit():
        with refusals(form):
            service.retire(this_act(form), equipment_id=equipment_id, because=form.because.data or "")
            return saved(f"{equipment.name} is out of use.", ".index")
    return form_page("equipment/retire.html", form, equipment=equipment)


@bp.route("/equipment/<int:equipment_id>/check/<check>", methods=["GET", "POST"])
@permits(Permission.KEEP_EQUIPMENT)
def check(equipment_id: int, check: str) -> ResponseReturnValue:
    """Show the form of a check, or enter what was found."""
    equipment = queries.equipment_or_raise(db.session, equipment_id)
    kind = _check_of(equipment.kind, check)
    form = check_form(equipment.kind, kind)
    if form.validate_on_submit():
        with refusals(form):
            done = service.check(
                this_act(form),
                equipment_id=equipment_id,
                kind=kind,
                happened_on=form.happened_on.data or _today(),
                found=form.found(),
            )
            return _checked(equipment.name, kind, done.has_passed, equipment_id)
    return form_page("equipment/check.html", form, equipment=equipment, period=rules.period_of(equipment.kind, kind))


@bp.post("/equipment/<int:equipment_id>/passed/<check>")
@permits(Permission.KEEP_EQUIPMENT)
def passed(equipment_id: int, check: str) -> ResponseReturnValue:
    """Enter a look or a run that was in order today: one touch."""
    equipment = queries.equipment_or_raise(db.session, equipment_id)
    kind = _check_of(equipment.kind, check)
    if not rules.period_of(equipment.kind, kind).at_a_touch:
        raise NotFound("check", equipment_id)
    with refusals_at(".show", equipment_id=equipment_id):
        service.check(
            this_act(), equipment_id=equipment_id, kind=kind, happened_on=_today(), found=Found(has_passed=True)
        )
    if request.args.get("back") == "walk":
        return saved(f"{equipment.name}: {kind}, in order.", "desk.walk")
    return _checked(equipment.name, kind, True, equipment_id)


@bp.route("/equipment/<int:equipment_id>/fault", methods=["GET", "POST"])
@permits(Permission.REPORT_INCIDENT)
def report(equipment_id: int) -> ResponseReturnValue:
    """Ask what is wrong with a piece, a button each; report it."""
    equipment = queries.equipment_or_raise(db.session, equipment_id)
    form = FaultForm()
    if form.validate_on_submit():
        with refusals(form):
            kind = FaultKind(form.kind.data)
            service.report_fault(this_act(form), kind=kind, words=form.words.data or "", equipment_id=equipment_id)
            stops = rules.stops(equipment.kind, kind) and bool(equipment.serves)
            return saved(_reported(equipment.serves if stops else ""), ".show", equipment_id=equipment_id)
    return form_page(
        "equipment/report.html", form, name=equipment.name, back=url_for(".show", equipment_id=equipment_id)
    )


@bp.route("/places/stations/<int:station_id>/fault", methods=["GET", "POST"])
@permits(Permission.REPORT_INCIDENT)
def report_at(station_id: int) -> ResponseReturnValue:
    """Ask what is wrong at a place, a button each; report it."""
    station = places.station_or_raise(db.session, station_id)
    form = FaultForm()
    if form.validate_on_submit():
        with refusals(form):
            service.report_fault(
                this_act(form), kind=FaultKind(form.kind.data), words=form.words.data or "", station_id=station_id
            )
            return saved(_reported(""), "places.station", station_id=station_id)
    back = url_for("places.station", station_id=station_id)
    return form_page("equipment/report.html", form, name=station.name, back=back)


@bp.get("/equipment/faults/<int:fault_id>")
@permits(Permission.SEE_LAB)
def fault(fault_id: int) -> ResponseReturnValue:
    """Show a fault, and to whoever may clear it the form."""
    return form_page("equipment/fault.html", ClearForm(), fault=queries.fault_or_raise(db.session, fault_id))


@bp.post("/equipment/faults/<int:fault_id>/clear")
@permits(Permission.KEEP_EQUIPMENT)
def clear(fault_id: int) -> ResponseReturnValue:
    """Clear a fault with what was done."""
    form = ClearForm()
    if form.validate_on_submit():
        with refusals(form):
            service.clear_fault(this_act(form), fault_id=fault_id, how=form.how.data or "")
            return saved("The fault is cleared.", ".fault", fault_id=fault_id)
    return form_page("equipment/fault.html", form, fault=queries.fault_or_raise(db.session, fault_id))


def _check_of(kind: EquipmentKind, check: str) -> CheckKind:
    """The check that an address names. Raises NotFound where this kind is not checked so."""
    for period in rules.periods()[kind]:
        if period.check.value == check.replace("-", " "):
            return period.check
    raise NotFound("check", 0)


def _checked(name: str, kind: CheckKind, has_passed: bool, equipment_id: int) -> ResponseReturnValue:
    outcome = "is entered" if has_passed else "is entered as failed: what it serves is closed until it passes"
    return saved(f"{name}: the {kind} {outcome}.", ".show", equipment_id=equipment_id)


def _reported(closed: str) -> str:
    """What is said after a report: what is closed for it, else what to do until somebody has seen to it."""
    until = f"{closed} is closed until then." if closed else "Could it hurt somebody? Then nobody uses it until then."
    return f"Reported. It stands on Today until somebody has seen to it. {until}"


def _today() -> date:
    return to_local(clock.now(), zone=g.zone).date()
