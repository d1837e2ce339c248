"""Uses: logging one, its page, putting it right, and one's own."""

from flask import g, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import cut_page, form_page, refusals, refusals_at, row_key, saved
from labsys.baths import change_over, pages, queries, use_pages, uses
from labsys.baths.blueprint import bp
from labsys.baths.rules import UNDO_WITHIN, WAITS, WorkRefused
from labsys.baths.use_forms import CorrectionForm, UseForm
from labsys.bookings import queries as bookings
from labsys.database import db
from labsys.forms import LabForm, given, new_key
from labsys.people.access import current_person, permits, this_act
from labsys.people.permissions import NotPermitted, Permission, may

_USES_A_PAGE = 25


@bp.route("/baths/lines/<int:line_id>/log", methods=["GET", "POST"])
@permits(Permission.LOG_USE)
def log(line_id: int) -> ResponseReturnValue:
    """Log what went through: it begins with what was booked; else a touch on a size is one more of it."""
    person, now = current_person(), clock.now()
    line = queries.line_or_raise(db.session, line_id)
    likely = use_pages.likely_work(db.session, person_id=person.id, line=line, now=now)
    form = UseForm()
    form.went.offer(line.work)
    if not may(person, Permission.LOG_TALLY):
        del form.class_name
    is_stopped = False
    if form.validate_on_submit():
        with refusals(form):
            try:
                logged = uses.log_uses(
                    this_act(form),
                    line_id=line_id,
                    went=form.went.data,
                    used_at=given(form.used_at.instant),
                    before_start=form.asks_first,
                    class_name=(form.class_name.data or "") if form.class_name else "",
                )
            except WorkRefused:
                is_stopped = True
                raise
            if not logged:
                return saved(WAITS, ".late_uses")
            if g.get("visit") is None:  # the page says it all; a tablet forgets who was there
                return redirect(url_for(".saved_uses", use_id=logged[0].id), 303)
            words = ", ".join(use_pages.use_in_words(use) for use in logged)
            return saved(f"Logged: {words}.", ".saved_uses", use_id=logged[0].id)
    elif not form.is_submitted():
        _fill_in(form, likely)
    shown = pages.line_on_page(line, queries.baths_of_line(db.session, line_id=line_id), now=now)
    return form_page(
        "baths/log.html",
        form,
        shown=shown,
        likely=likely,
        materials=use_pages.in_groups(form.went.cells),
        in_words=use_pages.pieces_in_words,
        is_stopped=is_stopped,
        changed_over=[
            card.bath.id
            for card in shown.stops_work
            if change_over.is_offered(db.session, card.bath, person=person, now=now)
        ],
    )


def _fill_in(form: UseForm, likely: use_pages.Likely) -> None:
    """Begin with what the address asks for again, or with what was booked, for the class it was booked for."""
    again = request.args.get("again", type=int)
    if again is not None and 0 <= again < len(likely.before):
        form.went.fill([likely.before[again]])
    elif likely.booked:
        form.went.fill([likely.booked])
        if form.class_name and likely.booking:
            form.class_name.data = likely.booking.class_name


@bp.route("/uses/<int:use_id>/saved")
@permits(Permission.LOG_USE)
def saved_uses(use_id: int) -> ResponseReturnValue:
    """Say what was just saved and what is left in each bath, and offer to undo it while it is fresh."""
    person, now = current_person(), clock.now()
    first = queries.use_or_raise(db.session, use_id)
    if first.recorded_by_id != person.id:
        raise NotPermitted(Permission.KEEP_BATHS)
    logged = queries.saved_with(db.session, first)
    baths = queries.baths_of_line(db.session, line_id=first.line_id)
    counted_in = {part.bath_id for part in first.baths}
    running = bookings.running(db.session, person_id=person.id, now=now)
    undo_until = first.recorded_at + UNDO_WITHIN
    return render_template(
        "baths/saved_uses.html",
        first=first,
        words=[use_pages.use_in_words(use) for use in logged],
        flags=list(dict.fromkeys(use.flag for use in logged if use.flag)),
        is_undone=all(use.corrected_by is not None for use in logged),
        undo_until=undo_until if now <= undo_until else None,
        cards=[card for card in pages.line_on_page(first.line, baths, now=now).cards if card.bath.id in counted_in],
        new_key=new_key,
        here=next((booking for booking in running if booking.is_here), None),
    )


@bp.route("/uses/<int:use_id>/undo", methods=["POST"])
@permits(Permission.LOG_USE)
def undo_uses(use_id: int) -> ResponseReturnValue:
    """Take back all that was saved with a use."""
    use = queries.use_or_raise(db.session, use_id)
    with refusals_at(".saved_uses", use_id=use_id):
        uses.undo_uses(this_act(LabForm()), use_id=use_id)
    return saved("Undone: nothing of it counts.", ".log", line_id=use.line_id)


@bp.route("/uses/<int:use_id>", endpoint="use")
@permits(Permission.SEE_LAB)
def show_use(use_id: int) -> ResponseReturnValue:
    """Show one entry, what it counts in, and how to put it right."""
    use = queries.use_or_raise(db.session, use_id)
    return render_template(
        "baths/use.html",
        use=use,
        words=use_pages.use_in_words(use),
        counted_in=use_pages.counted_in(use),
        may_correct=use.corrected_by is None and uses.may_correct(current_person(), use),
    )


@bp.route("/uses/<int:use_id>/correct", methods=["GET", "POST"])
@permits(Permission.LOG_USE)
def correct_use(use_id: int) -> ResponseReturnValue:
    """Put a wrong entry right by a new one: one's own, or anybody's for who keeps the baths."""
    old = queries.use_or_raise(db.session, use_id)
    if not uses.may_correct(current_person(), old):
        raise NotPermitted(Permission.KEEP_BATHS)
    form = CorrectionForm(size=old.size, material=old.material, count=old.count)
    form.offer(sizes=use_pages.sizes_for(old.line.work, first=old.size), work=old.line.work)
    if form.validate_on_submit():
        with refusals(form):
            new = uses.correct_use(this_act(form), use_id=use_id, pieces=form.pieces)
            return saved(f"Put right: {use_pages.use_in_words(new)}.", ".use", use_id=new.id)
    return form_page("baths/correct_use.html", form, use=old, words=use_pages.use_in_words(old))


@bp.route("/uses")
@permits(Permission.LOG_USE)
def my_uses() -> ResponseReturnValue:
    """Show what the person signed in logged, newest entry first."""
    before = request.args.get("before", type=row_key)
    person_id = current_person().id
    uses_and_one_more = queries.uses_of_person(
        db.session, person_id=person_id, before_id=before, limit=_USES_A_PAGE + 1
    )
    mine, earlier = cut_page(uses_and_one_more, limit=_USES_A_PAGE)
    return render_template(
        "baths/my_uses.html", uses=mine, use_in_words=use_pages.use_in_words, before=before, earlier=earlier
    )
