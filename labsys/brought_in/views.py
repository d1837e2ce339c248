"""Pages about chemicals people bring in: declaring, deciding, ending."""

from flask import Blueprint, current_app, flash, g, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import form_page, refusals, row_key, saved
from labsys.brought_in import pages, queries, rules, service
from labsys.brought_in.forms import DecideForm, DeclareForm, EndForm
from labsys.brought_in.models import Declaration, Ending
from labsys.config import Config
from labsys.database import db
from labsys.people.access import current_person, permits, this_act
from labsys.people.permissions import NotPermitted, Permission
from labsys.processes import queries as processes
from labsys.products import sheet_files
from labsys.records import queries as records
from labsys.records.errors import NotFound

bp = Blueprint("brought_in", __name__)

DECLARATIONS_A_PAGE = 20


@bp.route("/brought-in")
@permits(Permission.SEE_LAB)
def index() -> ResponseReturnValue:
    """List what was declared: one's own, or all for those who decide or oversee."""
    before_id = request.args.get("before", type=row_key)
    person = current_person()
    sees_all = rules.sees_all(person)
    found = queries.declarations(
        db.session,
        person_id=None if sees_all else person.id,
        before_id=before_id,
        limit=DECLARATIONS_A_PAGE + 1,
    )
    today = pages.today(now=clock.now(), zone=g.zone)
    return render_template(
        "brought_in/index.html",
        rows=[(one, pages.state_in_words(one, today=today)) for one in found[:DECLARATIONS_A_PAGE]],
        sees_all=sees_all,
        lead_days=rules.LEAD_DAYS,
        older=found[DECLARATIONS_A_PAGE - 1].id if len(found) > DECLARATIONS_A_PAGE else None,
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
    found = _declaration(declaration_id)
    container = records.code_or_none(db.session, found.container_label) if found.container_label else None
    return render_template(
        "brought_in/show.html",
        view=pages.view_of(found, now=clock.now(), zone=g.zone),
        declaration=found,
        container_id=container.row_id if container else None,
        may_end=rules.may_end(current_person(), owner_id=found.person_id),
    )


@bp.get("/brought-in/<int:declaration_id>/sds")
@permits(Permission.SEE_LAB)
def sds(declaration_id: int) -> ResponseReturnValue:
    """Hand out the SDS that came with a declaration, as a download."""
    found = _declaration(declaration_id)
    if found.sds is None:
        raise NotFound("SDS of declaration", declaration_id)
    answer = sheet_files.download(found.sds, name=f"SDS-brought-in-{declaration_id}.pdf")
    if answer is None:
        flash(sheet_files.ALTERED, "problem")
        return redirect(url_for(".show", declaration_id=declaration_id), 303)
    return answer


@bp.route("/brought-in/<int:declaration_id>/decide", methods=["GET", "POST"])
@permits(Permission.DECIDE_CHEMICAL)
def decide(declaration_id: int) -> ResponseReturnValue:
    """Show what was declared with the form of the decision, or decide."""
    found = _declaration(declaration_id)
    form = DecideForm()
    if form.validate_on_submit():
        config: Config = current_app.config["LABSYS"]
        with refusals(form):
            decided = service.decide(
                this_act(form), declaration_id=declaration_id, decision=form.decision, public_url=config.public_url
            )
            message = f"Yes, as {decided.code}. Print its label now." if decided.code else "No. The person is told why."
            return saved(message, ".show", declaration_id=declaration_id)
    view = pages.view_of(found, now=clock.now(), zone=g.zone)
    return form_page("brought_in/decide.html", form, view=view, declaration=found)


@bp.route("/brought-in/<int:declaration_id>/end", methods=["GET", "POST"])
@permits(Permission.SEE_LAB)
def end(declaration_id: int) -> ResponseReturnValue:
    """Show the form that says what became of a guest bottle, or keep it."""
    found = _declaration(declaration_id)
    if not rules.may_end(current_person(), owner_id=found.person_id):
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
            poured = " Record the pour too." if ended.container_label else ""
            return saved(f"Kept: {ended.ending}.{poured}", ".show", declaration_id=declaration_id)
    return form_page("brought_in/end.html", form, declaration=found)


def _declaration(declaration_id: int) -> Declaration:
    """The declaration, where this person may see it."""
    found = queries.declaration_or_raise(db.session, declaration_id)
    if not rules.may_see(current_person(), owner_id=found.person_id, is_accepted=found.is_accepted):
        raise NotPermitted(Permission.DECIDE_CHEMICAL)
    return found
