"""Pages of recalls: open one for a bath or a lot, see what it names, close it; see to one's own work."""

from datetime import datetime

from flask import g, render_template, request
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import form_page, refusals, refusals_at, row_key, saved
from labsys.baths import queries as baths
from labsys.baths import use_pages
from labsys.baths.blueprint import bp
from labsys.baths.models import Bath
from labsys.baths.recall import queries, rules, service, telling
from labsys.baths.recall.forms import CloseRecallForm, LotRecallForm, RecallForm
from labsys.baths.recall.models import Fault
from labsys.baths.recall.trace import trace_lot
from labsys.database import db
from labsys.forms import LabForm, given, new_key
from labsys.people.access import current_person, permits, this_act
from labsys.people.permissions import Permission, may, require_any
from labsys.records.errors import NotFound
from labsys.timetable.local_time import day_words, to_local

MOST_RECALLS = 50


@bp.get("/recalls")
@permits(Permission.SEE_LAB)
def recalls() -> ResponseReturnValue:
    """List the recalls, the open ones first."""
    return render_template(
        "baths/recall/index.html", recalls=queries.recalls(db.session, limit=MOST_RECALLS), telling=telling
    )


@bp.get("/recalls/<int:recall_id>")
@permits(Permission.SEE_LAB)
def recall(recall_id: int) -> ResponseReturnValue:
    """Show a recall: what was wrong, what can be mended, and the work it names; to members their own alone."""
    shown = queries.recall_or_raise(db.session, recall_id)
    person = current_person()
    only_of = None if may(person, Permission.SEE_USES) else person.id
    named = queries.named_uses(db.session, recall_id, only_of=only_of)
    own = [each for each in named if each.use.person_id == person.id]
    return render_template(
        "baths/recall/show.html",
        recall=shown,
        named=named,
        own=own,
        is_to_be_seen_to=any(each.seen_to_at is None for each in own),
        what_to_do=telling.what_to_do(shown),
        gloves=telling.GLOVES,
        see_the_technician=rules.SEE_THE_TECHNICIAN,
        use_in_words=use_pages.use_in_words,
        may_recall=service.may_recall(person),
        new_key=new_key,
    )


@bp.route("/baths/<int:bath_id>/recall", methods=["GET", "POST"])
@permits(Permission.SEE_LAB)
def open_recall(bath_id: int) -> ResponseReturnValue:
    """Call doubtful what went through a bath since its last good test, or since it was mixed."""
    require_any(current_person(), *service.WHO_RECALLS)
    bath = baths.bath_or_raise(db.session, bath_id)
    moments = _moments(bath)
    failed = rules.failed_test(bath)
    form = RecallForm(
        since=next(iter(moments)).isoformat(),
        fault=Fault.EXHAUSTED if failed else None,
        why=f"Its test on {_day(failed.checked_at)}: {failed.finding}." if failed else "",
    )
    form.offer(moments)
    if form.validate_on_submit():
        with refusals(form):
            made = service.open_recall(
                this_act(form),
                bath_id=bath_id,
                fault=Fault(form.fault.data),
                why=given(form.why.data),
                since=form.began,
            )
            return _opened(made.id)
    count = len(queries.doubtful_uses(db.session, {bath.id: next(iter(moments))}))
    return form_page("baths/recall/open.html", form, bath=bath, count=count, first=next(iter(moments.values())))


@bp.route("/lots/recall", methods=["GET", "POST"])
@permits(Permission.SEE_LAB)
def recall_lot() -> ResponseReturnValue:
    """Recall every bath that a lot got into."""
    require_any(current_person(), *service.WHO_RECALLS)
    product_id, lot = request.args.get("product_id", type=row_key), request.args.get("lot", "")
    if product_id is None:
        raise NotFound("product", "")
    keeps_stock = may(current_person(), Permission.KEEP_STOCK)
    form = LotRecallForm(fault=Fault.LOT)
    if form.validate_on_submit():
        with refusals(form):
            made = service.recall_lot(
                this_act(form),
                product_id=product_id,
                lot=lot,
                fault=Fault(form.fault.data),
                why=given(form.why.data),
                with_not_known=bool(form.with_not_known.data),
                sets_apart=keeps_stock and bool(form.sets_apart.data),
            )
            return _opened(made.id)
    trace = trace_lot(db.session, product_id=product_id, lot=lot, person=current_person())
    return form_page("baths/recall/open_lot.html", form, trace=trace, keeps_stock=keeps_stock)


@bp.route("/recalls/<int:recall_id>/close", methods=["GET", "POST"])
@permits(Permission.SEE_LAB)
def close_recall(recall_id: int) -> ResponseReturnValue:
    """Close a recall, with the reason."""
    require_any(current_person(), *service.WHO_RECALLS)
    shown = queries.recall_or_raise(db.session, recall_id)
    form = CloseRecallForm()
    if form.validate_on_submit():
        with refusals(form):
            service.close_recall(this_act(form), recall_id=recall_id, closing=given(form.closing.data))
            return saved("The recall is closed. Take the door notice down.", ".recall", recall_id=recall_id)
    named = queries.named_uses(db.session, recall_id)
    waiting = sum(each.seen_to_at is None for each in named)
    return form_page("baths/recall/close.html", form, recall=shown, waiting=waiting)


@bp.post("/recalls/<int:recall_id>/seen-to")
@permits(Permission.SEE_LAB)
def see_to_own(recall_id: int) -> ResponseReturnValue:
    """Say that one has seen to one's own work."""
    with refusals_at(".recall", recall_id=recall_id):
        service.see_to_own(this_act(LabForm()), recall_id=recall_id)
    return saved("Noted: you have seen to yours.", ".recall", recall_id=recall_id)


def _opened(recall_id: int) -> ResponseReturnValue:
    return saved(
        "Opened. Everybody whose work it names is told; hang up the door notice.", ".recall", recall_id=recall_id
    )


def _moments(bath: Bath) -> dict[datetime, str]:
    """Since when what went through a bath may be doubtful: its last good test, where there is one, and its mixing."""
    good = rules.last_good_test(bath)
    mixed = {bath.mixed_at: f"since it was mixed, {_moment(bath.mixed_at)}"}
    if good is None or good.checked_at <= bath.mixed_at or good.checked_at > clock.now():
        return mixed
    return {good.checked_at: f"since its last good test, {_moment(good.checked_at)}: {good.finding}"} | mixed


def _moment(instant: datetime) -> str:
    return f"{_day(instant)}, {to_local(instant, zone=g.zone):%H:%M}"


def _day(instant: datetime) -> str:
    return day_words(to_local(instant, zone=g.zone).date())
