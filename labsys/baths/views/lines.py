"""Lines of baths: all of them, laying one out, and one line."""

from flask import render_template
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import form_page, refusals, refusals_at, saved
from labsys.baths import pages, queries, rotation, service
from labsys.baths.blueprint import bp
from labsys.baths.forms import LineForm
from labsys.baths.models import Work
from labsys.chemistry.bath_rules import Holding
from labsys.database import db
from labsys.forms import LabForm, given, new_key
from labsys.people.access import permits, this_act
from labsys.people.permissions import Permission
from labsys.processes import queries as processes
from labsys.products.models import Product

ORDINALS = {1: "first", 2: "second", 3: "third"}


@bp.route("/baths")
@permits(Permission.SEE_LAB)
def index() -> ResponseReturnValue:
    """Show every line with its baths in working order."""
    lines = pages.lines_on_page(queries.lines(db.session), queries.baths_here(db.session), now=clock.now())
    return render_template("baths/index.html", lines=lines, new_key=new_key)


@bp.route("/baths/lines/add", methods=["GET", "POST"])
@permits(Permission.KEEP_BATHS)
def add_line() -> ResponseReturnValue:
    """Lay out a line."""
    form = LineForm()
    form.offer(processes.processes(db.session))
    unknown: dict[int, Product] = {}
    if form.validate_on_submit():
        process_id, holding = form.process_id.data or None, Holding(form.holding.data)
        unknown = queries.products_without_keeping(db.session, process_id=process_id, holding=holding)
        if form.ask_keeping(list(unknown.values())):
            return form_page("baths/add_line.html", form, unknown=unknown)
        with refusals(form):
            line = service.add_line(
                this_act(form),
                name=given(form.name.data),
                work=Work(form.work.data),
                process_id=process_id,
                holding=holding,
                keeping={product_id: age for product_id, age in form.stated_ages.items() if product_id in unknown},
            )
            return saved(f"{line.name} is laid out. Its code is {line.code}.", ".line", line_id=line.id)
    elif form.holding.data:
        process_id, holding = form.process_id.data or None, Holding(form.holding.data)
        unknown = queries.products_without_keeping(db.session, process_id=process_id, holding=holding)
    return form_page("baths/add_line.html", form, unknown=unknown)


@bp.route("/baths/lines/<int:line_id>")
@permits(Permission.SEE_LAB)
def line(line_id: int) -> ResponseReturnValue:
    """Show one line: where a scan of its code leads."""
    shown = pages.line_on_page(
        queries.line_or_raise(db.session, line_id), queries.baths_of_line(db.session, line_id=line_id), now=clock.now()
    )
    return render_template("baths/line.html", shown=shown, new_key=new_key)


@bp.route("/baths/lines/<int:line_id>/rotate", methods=["POST"])
@permits(Permission.KEEP_BATHS)
def rotate(line_id: int) -> ResponseReturnValue:
    """Let the second fixer take the first place."""
    with refusals_at(".line", line_id=line_id):
        rotated = rotation.rotate(this_act(LabForm()), line_id=line_id)
    return saved(f"Rotated for the {ORDINALS[rotated.number]} time: label the baths anew.", ".line", line_id=line_id)
