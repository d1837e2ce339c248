"""Uses: logging one, its page, putting it right, and one's own."""

from flask import render_template, request
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import cut_page, form_page, refusals, row_key, saved
from labsys.baths import pages, queries, uses
from labsys.baths.blueprint import bp
from labsys.baths.forms import CorrectionForm, UseForm
from labsys.baths.rules import WorkRefused
from labsys.database import db
from labsys.forms import given
from labsys.people.access import current_person, permits, this_act
from labsys.people.permissions import NotPermitted, Permission, may

_USES_A_PAGE = 25
_LOOKED_BACK = 50  # entries from which the sizes somebody uses are taken


@bp.route("/baths/lines/<int:line_id>/log", methods=["GET", "POST"])
@permits(Permission.LOG_USE)
def log(line_id: int) -> ResponseReturnValue:
    """Log a use: size, count, save."""
    person = current_person()
    line = queries.line_or_raise(db.session, line_id)
    recent = queries.recent_work(db.session, person_id=person.id, line_id=line_id, limit=_LOOKED_BACK)
    form = UseForm(material=recent[0][1] if recent else None)
    form.offer(sizes=pages.sizes_for(line.work, recent=recent), work=line.work)
    if not may(person, Permission.LOG_TALLY):
        del form.class_name
    is_stopped = False
    if form.validate_on_submit():
        with refusals(form):
            try:
                use = uses.log_use(
                    this_act(form),
                    line_id=line_id,
                    **form.work,
                    used_at=given(form.used_at.instant),
                    before_start=form.asks_first,
                    class_name=(form.class_name.data or "") if form.class_name else "",
                )
            except WorkRefused:
                is_stopped = True
                raise
            return saved(f"Logged: {pages.use_in_words(use)}.", ".use", use_id=use.id)
    shown = pages.line_on_page(line, queries.baths_of_line(db.session, line_id=line_id), now=clock.now())
    return form_page("baths/log.html", form, shown=shown, is_stopped=is_stopped)


@bp.route("/uses/<int:use_id>", endpoint="use")
@permits(Permission.SEE_LAB)
def show_use(use_id: int) -> ResponseReturnValue:
    """Show one entry, what it counts in, and how to put it right."""
    use = queries.use_or_raise(db.session, use_id)
    return render_template(
        "baths/use.html",
        use=use,
        words=pages.use_in_words(use),
        counted_in=pages.counted_in(use),
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
    form.offer(sizes=pages.sizes_for(old.line.work, recent=[(old.size, old.material)]), work=old.line.work)
    if form.validate_on_submit():
        with refusals(form):
            new = uses.correct_use(this_act(form), use_id=use_id, **form.work)
            return saved(f"Put right: {pages.use_in_words(new)}.", ".use", use_id=new.id)
    return form_page("baths/correct_use.html", form, use=old, words=pages.use_in_words(old))


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
        "baths/my_uses.html", uses=mine, use_in_words=pages.use_in_words, before=before, earlier=earlier
    )
