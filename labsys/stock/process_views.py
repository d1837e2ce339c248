"""Pages of processes: ways of working, step by step."""

from flask import render_template, request
from flask.typing import ResponseReturnValue

from labsys.answers import form_page, refusals, row_key, saved
from labsys.chemistry.sizes import MATERIAL_NAMES, Material
from labsys.database import db
from labsys.people.access import permits, this_act
from labsys.people.permissions import Permission
from labsys.stock import pages, process_entries, process_service, queries
from labsys.stock.forms.process import AddProcessForm, ChangeProcessForm, ProcessForm
from labsys.stock.models import Process
from labsys.stock.views import bp

_REARRANGE = ("up", "insert", "remove")


@bp.get("/processes")
@permits(Permission.SEE_LAB)
def processes() -> ResponseReturnValue:
    """List the ways of working."""
    return render_template("stock/processes.html", processes=queries.processes(db.session), materials=MATERIAL_NAMES)


@bp.get("/processes/<int:process_id>")
@permits(Permission.SEE_LAB)
def process(process_id: int) -> ResponseReturnValue:
    """Show a process as steps in working order."""
    chosen = queries.process_or_raise(db.session, process_id)
    return render_template(
        "stock/process.html", process=chosen, steps=pages.steps(chosen), material=MATERIAL_NAMES[chosen.material]
    )


@bp.route("/processes/add", methods=["GET", "POST"])
@permits(Permission.KEEP_STOCK)
def add_process() -> ResponseReturnValue:
    """Write down a process."""
    form = AddProcessForm()
    if _is_rearranged(form):
        return _form_again(form)
    form.offer(queries.products(db.session))
    if form.validate_on_submit():
        with refusals(form):
            added = process_service.add_process(
                this_act(form),
                name=form.name.data or "",
                material=Material(form.material.data),
                note=form.note.data or "",
                steps=process_entries.step_entries(form),
            )
            return saved(f"{added.name} is written down.", ".process", process_id=added.id)
    return form_page("stock/process_form.html", form, process=None)


@bp.route("/processes/<int:process_id>/change", methods=["GET", "POST"])
@permits(Permission.KEEP_STOCK)
def change_process(process_id: int) -> ResponseReturnValue:
    """Change a process in place."""
    chosen = queries.process_or_raise(db.session, process_id)
    form = ChangeProcessForm(data=process_entries.typed(chosen) if request.method == "GET" else None)
    if _is_rearranged(form):
        return _form_again(form, chosen)
    form.offer(queries.products(db.session))
    if form.validate_on_submit():
        with refusals(form):
            changed = process_service.change_process(
                this_act(form),
                process_id=process_id,
                name=form.name.data or "",
                note=form.note.data or "",
                steps=process_entries.step_entries(form),
                version=int(form.version.data or 0),
            )
            return saved(f"{changed.name} is changed: version {changed.version}.", ".process", process_id=process_id)
    return form_page("stock/process_form.html", form, process=chosen)


def _is_rearranged(form: ProcessForm) -> bool:
    """Whether one of the buttons beside the steps was pressed; the rows are then moved, and nothing is saved."""
    asked = {name: request.form.get(name, type=row_key) for name in _REARRANGE if name in request.form}
    if asked:
        form.rearranged(**asked)
    return bool(asked)


def _form_again(form: ProcessForm, chosen: Process | None = None) -> ResponseReturnValue:
    form.offer(queries.products(db.session))
    return render_template("stock/process_form.html", form=form, process=chosen, was_moved=True)
