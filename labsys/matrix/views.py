"""Pages of the matrix: who holds what as of a day, and the same for a spreadsheet."""

from itertools import groupby
from operator import attrgetter

from flask import Blueprint, g, render_template, request, url_for
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import csv_file, form_page, row_key
from labsys.database import db
from labsys.matrix import queries
from labsys.matrix.forms import MatrixForm, matrix_form
from labsys.matrix.rules import IN_WORDS, SAID
from labsys.people.access import permits
from labsys.people.permissions import Permission

bp = Blueprint("matrix", __name__)

ROWS_A_PAGE = 100
HEADS = ("Person", "Group", "Remark")


@bp.get("/inductions/people")
@permits(Permission.SEE_HOLDERS)
def index() -> ResponseReturnValue:
    """Show people against inductions and competences, as of a day."""
    form = _form()
    if not form.validate():
        return form_page("matrix/index.html", form, matrix=None)
    asked = form.asked()
    matrix = queries.matrix(db.session, asked, now=clock.now(), zone=g.zone)
    begin = request.args.get("from", 0, type=row_key)
    written = {name: value for name, value in asked.written.items() if value}
    following = begin + ROWS_A_PAGE
    onwards = {**written, "from": following}
    return render_template(
        "matrix/index.html",
        form=form,
        matrix=matrix,
        groups=[(name, list(rows)) for name, rows in groupby(matrix.rows[begin:following], attrgetter("group"))],
        is_before=matrix.before_the_lab(g.zone),
        written=written,
        said=SAID[asked.by],
        before=url_for(".index", **written) if begin else None,
        after=url_for(".index", **onwards) if following < len(matrix.rows) else None,
    )


@bp.get("/inductions/people.csv")
@permits(Permission.SEE_HOLDERS)
def as_spreadsheet() -> ResponseReturnValue:
    """Give all of the matrix as a table; each row says as of when and by which question."""
    form = _form()
    if not form.validate():
        return form_page("matrix/index.html", form, matrix=None)
    asked = form.asked()
    matrix = queries.matrix(db.session, asked, now=clock.now(), zone=g.zone)
    heads = (*HEADS, *(column.name for column in matrix.columns), "As of", "By")
    table = [
        (
            row.name,
            row.group,
            row.remark,
            *(cell.exact for cell in row.cells),
            asked.day.isoformat(),
            IN_WORDS[asked.by],
        )
        for row in matrix.rows
    ]
    return csv_file(heads, table, name="who-holds-what")


def _form() -> MatrixForm:
    form = matrix_form(request.args)
    form.offer(queries.courses(db.session))
    return form
