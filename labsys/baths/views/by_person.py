"""Who put what through the baths: everybody's for staff, one's own for each; as a page and as a table to save."""

from typing import Any

from flask import g, render_template, request, url_for
from flask.typing import ResponseReturnValue

from labsys.answers import csv_file, form_page, row_key
from labsys.baths import by_person, queries
from labsys.baths.blueprint import bp
from labsys.baths.forms import UsesForm, uses_form
from labsys.database import db
from labsys.drawing.bars import Bar, bars
from labsys.drawing.graduate import share_bar
from labsys.drawing.scene import Scene
from labsys.people.access import current_person, permits
from labsys.people.permissions import Permission
from labsys.processes import queries as processes
from labsys.quantities import UL_PER_L

PEOPLE_A_PAGE = 50
_BARS = 12


@bp.get("/uses/people")
@permits(Permission.SEE_USES)
def uses_of_people() -> ResponseReturnValue:
    """Show who put what through which line in a period."""
    return _page()


@bp.get("/uses/people.csv")
@permits(Permission.SEE_USES)
def uses_of_people_csv() -> ResponseReturnValue:
    """Give the same, all of it, as a table for a spreadsheet."""
    return _csv()


@bp.get("/uses/people/<int:person_id>")
@permits(Permission.SEE_LAB)
def uses_of_person(person_id: int) -> ResponseReturnValue:
    """Show what one person put through: one's own, or anybody's for staff."""
    return _page(person_id)


@bp.get("/uses/people/<int:person_id>/uses.csv")
@permits(Permission.SEE_LAB)
def uses_of_person_csv(person_id: int) -> ResponseReturnValue:
    """Give the same as a table for a spreadsheet."""
    return _csv(person_id)


def _page(person_id: int = 0) -> ResponseReturnValue:
    named, form = _begin(person_id)
    shown = {"person_id": person_id, "named": named, "here": _address(person_id)}
    if not form.validate():
        return form_page("baths/by_person.html", form, period=None, **shown)
    asked = form.asked()
    after_id = request.args.get("after", type=row_key)
    rows = by_person.uses_by_person(db.session, asked, zone=g.zone, after_id=after_id, limit=PEOPLE_A_PAGE + 1)
    people = by_person.grouped(rows)
    chosen = {name: told for name, told in asked.written.items() if name != "person"}
    return render_template(
        "baths/by_person.html",
        form=form,
        period=asked.period,
        rows=[row for person in people[:PEOPLE_A_PAGE] for row in person],
        chart=None if person_id else _chart(asked),
        by_class=by_person.uses_by_class(db.session, asked, zone=g.zone),
        together=by_person.uses_together(db.session, asked, zone=g.zone),
        heads=[*by_person.NAMES, *((figure, "n") for figure in by_person.FIGURES)],
        labels=by_person.HEADS,
        names=len(by_person.NAMES),
        share_bar=share_bar,
        written=asked.written,
        csv=_address(person_id, "_csv", **chosen),
        beginning=_address(person_id, **chosen) if after_id else None,
        more=_address(person_id, **chosen, after=people[PEOPLE_A_PAGE - 1][0].person_id)
        if len(people) > PEOPLE_A_PAGE
        else None,
        **shown,
    )


def _chart(asked: by_person.UsesAsked) -> Scene | None:
    """Those who put most through, as bars; None where nobody did."""
    people = by_person.greatest(db.session, asked, zone=g.zone, limit=_BARS)
    if not people:
        return None
    rows = [
        Bar(each.person, f"{each.area_mm2 / 1e6:.2f} m², {each.fixer_ul / UL_PER_L:.1f} L fixer", each.area_mm2)
        for each in people
    ]
    told = "; ".join(f"{row.name} {row.said}" for row in rows)
    return bars(rows, title=f"Who put how much through: {told}")


def _csv(person_id: int = 0) -> ResponseReturnValue:
    named, form = _begin(person_id)
    if not form.validate():
        shown = {"person_id": person_id, "named": named, "here": _address(person_id)}
        return form_page("baths/by_person.html", form, period=None, **shown)
    asked = form.asked()
    rows = by_person.uses_by_person(db.session, asked, zone=g.zone)
    table = [(*row.exact_cells, *asked.period.written.values()) for row in rows]
    return csv_file((*by_person.HEADS, "From", "To, included"), table, name="uses")


def _begin(person_id: int) -> tuple[str, UsesForm]:
    """How the person asked about is called, empty for all, and the form; both only for who may see it."""
    by_person.check_may_see(current_person(), person_id)
    named = by_person.named_person(db.session, person_id) if person_id else ""
    form = uses_form(request.args, person_id=person_id)
    form.offer(queries.lines(db.session), processes.processes(db.session), by_person.classes(db.session))
    return named, form


def _address(person_id: int, kind: str = "", **asked: Any) -> str:
    if person_id:
        return url_for(f".uses_of_person{kind}", person_id=person_id, **asked)
    return url_for(f".uses_of_people{kind}", **asked)
