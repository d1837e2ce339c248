"""Pages of handing over: notes to whoever comes next, and film nobody has come for."""

from flask import Blueprint, request
from flask.typing import ResponseReturnValue

from labsys.answers import cut_page, form_page, refusals, refusals_at, row_key, saved
from labsys.database import db
from labsys.handover import queries, service
from labsys.handover.forms import FilmForm, GoneForm, NoteForm
from labsys.people.access import permits, this_act
from labsys.people.permissions import Permission
from labsys.people.queries import people_here

bp = Blueprint("handover", __name__)

NOTES_A_PAGE = 20


@bp.route("/handover", methods=["GET", "POST"])
@permits(Permission.KEEP_STOCK)
def index() -> ResponseReturnValue:
    """Show the notes, those nobody has read first; write one."""
    form = NoteForm()
    if form.validate_on_submit():
        with refusals(form):
            service.write(this_act(form), text=form.text.data or "")
            return saved("Written. It stands on Today until somebody else has read it.", ".index")
    before_id = request.args.get("before", type=row_key)
    rows = queries.read_notes(db.session, before_id=before_id, limit=NOTES_A_PAGE + 1)
    notes, older = cut_page(rows, limit=NOTES_A_PAGE)
    return form_page("handover/index.html", form, unread=queries.unread(db.session), notes=notes, older=older)


@bp.post("/handover/<int:note_id>/read")
@permits(Permission.KEEP_STOCK)
def read(note_id: int) -> ResponseReturnValue:
    """Say that a note was read."""
    with refusals_at(".index"):
        service.read(this_act(), note_id=note_id)
    return saved("You have read it; whoever wrote it sees that.", ".index")


@bp.route("/handover/films", methods=["GET", "POST"])
@permits(Permission.KEEP_STOCK)
def films() -> ResponseReturnValue:
    """List film nobody has come for, with whose it is; add some."""
    form = FilmForm()
    form.offer(people_here(db.session))
    if form.validate_on_submit():
        with refusals(form):
            service.find_film(
                this_act(form), **form.values_of("what", "whereabouts", "owner_words"), owner_id=form.owner_id
            )
            return saved("It is on the list. Its owner sees it on Today.", ".films")
    return form_page("handover/films.html", form, films=queries.films_here(db.session))


@bp.route("/handover/films/<int:film_id>", methods=["GET", "POST"])
@permits(Permission.KEEP_STOCK)
def film(film_id: int) -> ResponseReturnValue:
    """Show film nobody has come for; say how it left."""
    form = GoneForm()
    if form.validate_on_submit():
        with refusals(form):
            service.film_gone(this_act(form), film_id=film_id, how=form.how.data or "")
            return saved("It is off the list.", ".films")
    return form_page("handover/film.html", form, film=queries.film_or_raise(db.session, film_id))
