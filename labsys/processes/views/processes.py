"""Pages of the ways of working: the list, one of them, writing one down and changing it."""

from flask import render_template, request
from flask.typing import ResponseReturnValue

from labsys.answers import form_page, refusals, row_key, saved
from labsys.chemistry.sizes import MATERIAL_NAMES, Material
from labsys.database import db
from labsys.people.access import permits, this_act
from labsys.people.permissions import Permission
from labsys.processes import pages, queries, service
from labsys.processes.blueprint import bp
from labsys.processes.forms import AddProcessForm, ChangeProcessForm, ProcessForm, typed
from labsys.processes.models import Process
from labsys.products import queries as products

_REARRANGE = ("up", "insert", "remove")


@bp.get("/processes")
@permits(Permission.SEE_LAB)
def index() -> ResponseReturnValue:
    """List the ways of working."""
    return render_template("processes/index.html", processes=queries.processes(db.session), materials=MATERIAL_NAMES)


@bp.get("/processes/<int:process_id>")
@permits(Permission.SEE_LAB)
def show(process_id: int) -> ResponseReturnValue:
    """Show a process as steps in working order."""
    process = queries.process_or_raise(db.session, process_id)
    return render_template(
        "processes/show.html", process=process, steps=pages.steps(process), material=MATERIAL_NAMES[process.material]
    )


@bp.route("/processes/add", methods=["GET", "POST"])
@permits(Permission.KEEP_STOCK)
def add() -> ResponseReturnValue:
    """Write down a process."""
    form = AddProcessForm()
    if _is_rearranged(form):
        return _form_again(form)
    form.offer(products.products(db.session))
    if form.validate_on_submit():
        with refusals(form):
            added = service.add_process(
                this_act(form),
                name=form.name.data or "",
                material=Material(form.material.data),
                note=form.note.data or "",
                steps=form.entered_steps,
            )
            return saved(f"{added.name} is written down.", ".show", process_id=added.id)
    return form_page("processes/form.html", form, process=None)


@bp.route("/processes/<int:process_id>/change", methods=["GET", "POST"])
@permits(Permission.KEEP_STOCK)
def change(process_id: int) -> ResponseReturnValue:
    """Change a process in place."""
    process = queries.process_or_raise(db.session, process_id)
    form = ChangeProcessForm(data=typed(process) if request.method == "GET" else None)
    if _is_rearranged(form):
        return _form_again(form, process)
    form.offer(products.products(db.session))
    if form.validate_on_submit():
        with refusals(form):
            changed = service.change_process(
                this_act(form),
                process_id=process_id,
                name=form.name.data or "",
                note=form.note.data or "",
                steps=form.entered_steps,
                version=form.version.number,
            )
            return saved(f"{changed.name} is changed: version {changed.version}.", ".show", process_id=process_id)
    return form_page("processes/form.html", form, process=process)


def _is_rearranged(form: ProcessForm) -> bool:
    """Whether one of the buttons beside the steps was pressed; the rows are then moved, and nothing is saved."""
    asked = {name: request.form.get(name, type=row_key) for name in _REARRANGE if name in request.form}
    if asked:
        form.rearranged(**asked)
    return bool(asked)


def _form_again(form: ProcessForm, process: Process | None = None) -> ResponseReturnValue:
    form.offer(products.products(db.session))
    return render_template("processes/form.html", form=form, process=process, was_moved=True)
