"""Pages about chemicals people bring in: declaring, deciding, ending."""

from flask import Blueprint, flash, g, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import cut_page, form_page, refusals, row_key, saved
from labsys.brought_in import pages, queries, rules, service
from labsys.brought_in.forms import DecideForm, DeclareForm, EndForm
from labsys.brought_in.models import Declaration, Ending
from labsys.database import db
from labsys.people.access import current_person, permits, this_act
from labsys.people.permissions import NotPermitted, Permission
from labsys.processes import queries as processes
from labsys.products import sheet_files
from labsys.records import queries as records
from labsys.records.errors import NotFound
from labsys.timetable.local_time import to_local

bp = Blueprint("brought_in", __name__)

DECLARATIONS_A_PAGE = 20


@bp.route("/brought-in")
@permits(Permission.SEE_LAB)
def index() -> ResponseReturnValue:
    """List what was declared: one's own, or all for those who decide or oversee."""
    before_id = request.args.get("before", type=row_key)
    person = current_person()
    sees_all = rules.sees_all(person)
    whose = None if sees_all else person.id
    rows = queries.declarations(db.session, person_id=whose, before_id=before_id, limit=DECLARATIONS_A_PAGE + 1)
    declarations, older = cut_page(rows, limit=DECLARATIONS_A_PAGE)
    today = to_local(clock.now(), zone=g.zone).date()
    return render_template(
        "brought_in/index.html",
        rows=[(declaration, pages.state_in_words(declaration, today=today)) for declaration in declarations],
        sees_all=sees_all,
        lead_days=rules.LEAD_DAYS,
        older=older,
        before_id=before_id,
    )


@bp.route("/brought-in/declare", methods=["GET", "POST"])
@permits(Permission.DECLARE_CHEMICAL)
def declare() -> ResponseReturnValue:
    """Show the form that declares a chemical, or keep what was declared."""
    form = DeclareForm()
    form.offer_processes(processes.processes(db.session))
    if form.validate_on_submit():
        with refusals(form):
            made = service.declare(this_act(form), declared=form.declared)
            message = "Declared. Do not bring it yet: wait for the answer by mail."
            return saved(message, ".show", declaration_id=made.id)
    return form_page("brought_in/declare.html", form, lead_days=rules.LEAD_DAYS)


@bp.route("/brought-in/<int:declaration_id>")
@permits(Permission.SEE_LAB)
def show(declaration_id: int) -> ResponseReturnValue:
    """Show a declaration; the code on a guest bottle leads here."""
    declaration = _declaration(declaration_id)
    label = declaration.container_label
    container = records.code_or_none(db.session, label) if label else None
    return render_template(
        "brought_in/show.html",
        view=pages.view_of(declaration, now=clock.now(), zone=g.zone),
        declaration=declaration,
        container_id=container.row_id if container else None,
        may_end=rules.may_end(current_person(), owner_id=declaration.person_id),
    )


@bp.get("/brought-in/<int:declaration_id>/sds")
@permits(Permission.SEE_LAB)
def sds(declaration_id: int) -> ResponseReturnValue:
    """Hand out the SDS that came with a declaration, as a download."""
    declaration = _declaration(declaration_id)
    if declaration.sds is None:
        raise NotFound("SDS of declaration", declaration_id)
    answer = sheet_files.download(declaration.sds, name=f"SDS-brought-in-{declaration_id}.pdf")
    if answer is None:
        flash(sheet_files.ALTERED, "problem")
        return redirect(url_for(".show", declaration_id=declaration_id), 303)
    return answer


@bp.route("/brought-in/<int:declaration_id>/decide", methods=["GET", "POST"])
@permits(Permission.DECIDE_CHEMICAL)
def decide(declaration_id: int) -> ResponseReturnValue:
    """Show what was declared with the form of the decision, or decide."""
    declaration = _declaration(declaration_id)
    form = DecideForm()
    if form.validate_on_submit():
        with refusals(form):
            decided = service.decide(this_act(form), declaration_id=declaration_id, decision=form.decision)
            message = f"Yes, as {decided.code}. Print its label now." if decided.code else "No. The person is told why."
            return saved(message, ".show", declaration_id=declaration_id)
    view = pages.view_of(declaration, now=clock.now(), zone=g.zone)
    return form_page("brought_in/decide.html", form, view=view, declaration=declaration)


@bp.route("/brought-in/<int:declaration_id>/end", methods=["GET", "POST"])
@permits(Permission.SEE_LAB)
def end(declaration_id: int) -> ResponseReturnValue:
    """Show the form that says what became of a guest bottle, or keep it."""
    declaration = _declaration(declaration_id)
    if not rules.may_end(current_person(), owner_id=declaration.person_id):
        raise NotPermitted(Permission.DECIDE_CHEMICAL)
    form = EndForm()
    if form.validate_on_submit():
        with refusals(form):
            ended = service.end(
                this_act(form),
                declaration_id=declaration_id,
                ending=Ending(form.ending.data),
                container_label=form.container.data or "",
                ended_at=form.ended_at.instant or clock.now(),
            )
            message = f"Kept: {ended.ending}."
            if ended.container_label:
                message = f"Kept: {ended.ending}. Record the pour too."
            return saved(message, ".show", declaration_id=declaration_id)
    return form_page("brought_in/end.html", form, declaration=declaration)


def _declaration(declaration_id: int) -> Declaration:
    """The declaration, where this person may see it."""
    declaration = queries.declaration_or_raise(db.session, declaration_id)
    owner_id, is_accepted = declaration.person_id, declaration.is_accepted
    if not rules.may_see(current_person(), owner_id=owner_id, is_accepted=is_accepted):
        raise NotPermitted(Permission.DECIDE_CHEMICAL)
    return declaration
