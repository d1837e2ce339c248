"""The lab's own developing times: the table, and entering, changing and withdrawing a row."""

from flask import render_template, request
from flask.typing import ResponseReturnValue

from labsys.answers import form_page, refusals, refusals_at, saved
from labsys.chemistry.care import SolutionKind
from labsys.database import db
from labsys.equipment.queries import instruments
from labsys.forms import LabForm, new_key
from labsys.people.access import permits, this_act
from labsys.people.permissions import Permission
from labsys.processes import film_times
from labsys.processes.blueprint import bp
from labsys.processes.film_time_form import ChangeFilmTimeForm, FilmTimeForm, typed
from labsys.processes.pages import film_time_views
from labsys.products import queries as products


@bp.get("/processes/film-times", endpoint="film_times")
@permits(Permission.SEE_LAB)
def index() -> ResponseReturnValue:
    """Show the table, and the rows that were withdrawn."""
    thermometer = instruments(db.session).thermometer
    return render_template(
        "processes/film_times.html",
        rows=film_time_views(film_times.film_times(db.session), thermometer=thermometer),
        withdrawn=film_time_views(film_times.film_times(db.session, withdrawn=True), thermometer=thermometer),
        new_key=new_key,
    )


@bp.route("/processes/film-times/add", methods=["GET", "POST"])
@permits(Permission.KEEP_STOCK)
def add_film_time() -> ResponseReturnValue:
    """Enter a row."""
    form = FilmTimeForm()
    _offer(form)
    if form.validate_on_submit():
        with refusals(form):
            row = film_times.add_film_time(this_act(form), entry=form.entry)
            return saved(f"{row.film} at EI {row.exposure_index} is entered.", ".film_times")
    return form_page("processes/film_time.html", form, row=None)


@bp.route("/processes/film-times/<int:time_id>/change", methods=["GET", "POST"])
@permits(Permission.KEEP_STOCK)
def change_film_time(time_id: int) -> ResponseReturnValue:
    """Change a row."""
    row = film_times.film_time_or_raise(db.session, time_id)
    form = ChangeFilmTimeForm(data=typed(row) if request.method == "GET" else None)
    _offer(form)
    if form.validate_on_submit():
        with refusals(form):
            changed = film_times.change_film_time(
                this_act(form), time_id=time_id, entry=form.entry, version=form.version.number
            )
            return saved(f"{changed.film} at EI {changed.exposure_index} is changed.", ".film_times")
    return form_page("processes/film_time.html", form, row=row)


@bp.post("/processes/film-times/<int:time_id>/withdraw")
@permits(Permission.KEEP_STOCK)
def withdraw_film_time(time_id: int) -> ResponseReturnValue:
    """Use a row no more."""
    with refusals_at(".film_times"):
        row = film_times.withdraw_film_time(this_act(LabForm()), time_id=time_id)
    return saved(f"{row.film} at EI {row.exposure_index} is withdrawn: no plan uses it any more.", ".film_times")


def _offer(form: FilmTimeForm) -> None:
    form.offer([product for product in products.products(db.session) if product.kind is SolutionKind.DEVELOPER])
