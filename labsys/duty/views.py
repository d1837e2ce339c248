"""Pages of duty: the rota, working alone, who has to be there, and the alerts."""

from datetime import date, timedelta
from typing import Any

from flask import Blueprint, abort, g, render_template, request
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import form_page, refusals, refusals_at, saved
from labsys.database import db
from labsys.duty import alerts, calling, pages, queries, rules, service
from labsys.duty.forms import (
    ALONE_WORDS,
    EVERY_WEEK,
    AnswerForm,
    ContactsForm,
    OutsideForm,
    RulesForm,
    StaffingForm,
    TurnsForm,
)
from labsys.duty.models import DutyKind
from labsys.duty.rota import rota, rota_of_day
from labsys.forms import LabForm
from labsys.inductions import queries as inductions
from labsys.people.access import current_person, permits, this_act
from labsys.people.permissions import NotPermitted, Permission, may
from labsys.people.queries import people_here
from labsys.places import queries as places
from labsys.processes import queries as processes
from labsys.timetable.local_time import day_words, to_local
from labsys.timetable.opening import MINUTES_PER_DAY
from labsys.timetable.spans import Span

bp = Blueprint("duty", __name__)

DAYS_SHOWN = timedelta(days=14)
ALERTS_SHOWN = 10


@bp.get("/duty")
@permits(Permission.SEE_LAB)
def index() -> ResponseReturnValue:
    """Show who is on duty for two weeks, what holds for working alone, and to staff the alerts."""
    now, person = clock.now(), current_person()
    sees_alerts = may(person, Permission.BOOK_FOR_OTHERS)
    return render_template(
        "duty/index.html",
        days=pages.rota_views(rota(db.session, within=Span(now, now + DAYS_SHOWN), zone=g.zone), zone=g.zone),
        kinds=list(DutyKind),
        settings=queries.settings(db.session),
        has_chosen=queries.has_chosen(db.session),
        alone_words=ALONE_WORDS,
        staffing=pages.staffing_views(queries.staffing_rules(db.session)),
        contacts=queries.contacts(db.session),
        alerts=queries.open_alerts(db.session) if sees_alerts else [],
        earlier=queries.latest_alerts(db.session, limit=ALERTS_SHOWN) if sees_alerts else [],
        no_alarm=rules.NO_ALARM,
    )


@bp.route("/duty/turns", methods=["GET", "POST"])
@permits(Permission.KEEP_PLACES)
def turns() -> ResponseReturnValue:
    """Show who is on duty at the opening that the address names, to change; or set it."""
    day = _day(request.args.get("day")) or abort(404)
    minute = request.args.get("from", type=int)
    openings = rota_of_day(db.session, day=day, zone=g.zone)
    opening = next((each for each in openings if each.from_minute == minute), None) or abort(404)
    form = TurnsForm.of(opening)
    form.offer(people=people_here(db.session), weekday=f"{day:%A}", date=day_words(day))
    if form.validate_on_submit():
        ends = to_local(opening.span.end, zone=g.zone)
        with refusals(form):
            service.name_turns(
                this_act(form),
                day=day,
                from_minute=opening.from_minute,
                until_minute=ends.hour * 60 + ends.minute or MINUTES_PER_DAY,
                every_week=form.holds.data == EVERY_WEEK,
                named=form.named,
            )
            return saved("The rota is filled.", ".index")
    return form_page("duty/turns.html", form, opening=opening, hours=opening.hours(g.zone), day=day_words(day))


@bp.route("/duty/rules", methods=["GET", "POST"])
@permits(Permission.KEEP_PLACES)
def set_rules() -> ResponseReturnValue:
    """Show what holds for working alone and being overdue, to change; or set it."""
    now = queries.settings(db.session)
    form = RulesForm(
        alone=now.alone.value if queries.has_chosen(db.session) else None,
        ask_every_minutes=now.ask_every_minutes,
        answer_within_minutes=now.answer_within_minutes,
        overdue_after_minutes=now.overdue_after_minutes,
    )
    if form.validate_on_submit():
        with refusals(form):
            service.set_rules(this_act(form), settings=form.settings)
            return saved("That holds from now on.", ".index")
    return form_page("duty/rules.html", form)


@bp.route("/duty/staffing", methods=["GET", "POST"])
@permits(Permission.KEEP_PLACES)
def staffing() -> ResponseReturnValue:
    """Show the form of who has to be there for a place or a process, or set it."""
    form = StaffingForm()
    form.offer(
        stations=[(station.id, station.name) for station in places.stations(db.session)],
        processes=[(process.id, process.name) for process in processes.processes(db.session)],
        inductions=[(induction.id, induction.name) for induction in inductions.inductions(db.session)],
    )
    if form.validate_on_submit():
        with refusals(form):
            service.set_staffing(this_act(form), **form.asked)
            return saved("That is asked for from now on, of new bookings and of whoever begins.", ".index")
    return form_page("duty/staffing.html", form)


@bp.post("/duty/staffing/<int:rule_id>/remove")
@permits(Permission.KEEP_PLACES)
def remove_staffing(rule_id: int) -> ResponseReturnValue:
    """Ask for nobody any more."""
    service.remove_staffing(this_act(), rule_id=rule_id)
    return saved("Nobody is asked for there any more.", ".index")


@bp.route("/duty/contacts", methods=["GET", "POST"])
@permits(Permission.KEEP_PLACES)
def contacts() -> ResponseReturnValue:
    """Show who is told when somebody does not answer or is overdue, to change; or set it."""
    form = ContactsForm.of([contact.person_id for contact in queries.contacts(db.session)])
    form.offer(people_here(db.session))
    if form.validate_on_submit():
        with refusals(form):
            service.set_contacts(this_act(form), person_ids=form.person_ids)
            return saved("They are told from now on, one after the other.", ".index")
    return form_page("duty/contacts.html", form)


@bp.get("/duty/alone")
@permits(Permission.SEE_LAB)
def alone() -> ResponseReturnValue:
    """Ask whoever is alone whether they are all right; say it to anybody else."""
    return _alone(OutsideForm(formdata=None))


@bp.post("/duty/call-ins/<int:call_in_id>/answer")
@permits(Permission.SEE_LAB)
def answer_call(call_in_id: int) -> ResponseReturnValue:
    """Say that one is all right."""
    with refusals_at(".alone"):
        calling.answer(this_act(), call_in_id=call_in_id)
    return saved("Good. You are asked again later.", ".alone")


@bp.post("/duty/call-ins/<int:call_in_id>/outside")
@permits(Permission.SEE_LAB)
def say_who_expects(call_in_id: int) -> ResponseReturnValue:
    """Say who outside expects one's call."""
    form = OutsideForm()
    if form.validate_on_submit():
        with refusals(form):
            calling.say_who_expects(this_act(form), call_in_id=call_in_id, outside=form.outside.data or "")
            return saved("That is kept. Ring them when you leave.", ".alone")
    return _alone(form)


@bp.route("/duty/alerts/<int:alert_id>", methods=["GET", "POST"])
@permits(Permission.SEE_LAB)
def alert(alert_id: int) -> ResponseReturnValue:
    """Show an alert to whoever was told or notes arrivals, or say that one sees to it."""
    shown = queries.alert_or_raise(db.session, alert_id)
    if not alerts.may_answer(current_person(), shown):
        raise NotPermitted(Permission.BOOK_FOR_OTHERS)
    form = AnswerForm()
    if form.validate_on_submit():
        with refusals(form):
            alerts.answer_alert(this_act(form), alert_id=alert_id, answer=form.answer.data or "")
            return saved(
                "Nobody else is told. When they are out, note it on the page of who is in.", ".alert", alert_id=alert_id
            )
    return form_page("duty/alert.html", form, alert=shown, no_alarm=rules.NO_ALARM)


def _alone(form: LabForm) -> ResponseReturnValue:
    now = clock.now()
    call_in = queries.call_in_of(db.session, current_person().id)
    context: dict[str, Any] = {"call_in": call_in, "no_alarm": rules.NO_ALARM}
    if call_in is not None:
        on_call = pages.on_call_words(db.session, now=now, zone=g.zone)
        context |= {"is_due": call_in.due_at <= now, "on_call": on_call, "settings": queries.settings(db.session)}
    return form_page("duty/alone.html", form, **context)


def _day(text: str | None) -> date | None:
    """The day that an address names."""
    try:
        return date.fromisoformat(text or "")
    except ValueError:
        return None
