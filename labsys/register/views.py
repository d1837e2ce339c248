"""Pages of the register: all products and working solutions, one substance, and who was in contact with it."""

from datetime import datetime, timedelta
from operator import itemgetter
from typing import Any

from flask import Blueprint, g, render_template, request
from flask.typing import ResponseReturnValue
from werkzeug.datastructures import MultiDict

from labsys import clock
from labsys.answers import csv_file, form_page, row_key
from labsys.database import db
from labsys.drawing.pictograms import Pictogram, pictogram
from labsys.hazards.cas import check_cas
from labsys.hazards.errors import BadCas
from labsys.people.access import current_person, permits
from labsys.people.permissions import Permission, may
from labsys.products import queries as products
from labsys.records.errors import NotFound
from labsys.register import contact as contacts
from labsys.register import queries, rows
from labsys.register.contact import Sought
from labsys.register.forms import ContactForm, FilterForm
from labsys.register.rows import RegisterRow
from labsys.register.substances import view_of
from labsys.timetable.local_time import to_local

bp = Blueprint("register", __name__)

PEOPLE_A_PAGE = 50
LATELY = timedelta(days=30)
PEOPLE_LATELY = 10


@bp.route("/register")
@permits(Permission.SEE_LAB)
def index() -> ResponseReturnValue:
    """Show every product and every working solution made from it, what is missing or overdue first."""
    form, every_row, shown = _register()
    substances = {(ingredient.cas, ingredient.name) for row in shown for ingredient in row.product.ingredients}
    return form_page(
        "register/index.html",
        form,
        all_rows=every_row,
        rows=shown,
        concerned=sum(1 for row in every_row if row.concerns),
        substances=sorted(substances, key=itemgetter(1)),
        pictogram=lambda code: pictogram(Pictogram(code)),
        csv_arguments=request.args.to_dict(),
    )


@bp.route("/register.csv")
@permits(Permission.SEE_LAB)
def as_spreadsheet() -> ResponseReturnValue:
    """Give the same rows as a table for a spreadsheet."""
    _, _, shown = _register()
    return csv_file(rows.HEADS, [rows.cells(row, zone=g.zone) for row in shown], name="register")


@bp.route("/register/substances/<cas>")
@permits(Permission.SEE_LAB)
def substance(cas: str) -> ResponseReturnValue:
    """Show one substance: its classification, its limits in the air, where it is, and who worked with it lately."""
    number = _cas_or_raise(cas)
    view = view_of(number, queries.holdings(db.session, now=clock.now(), cas=number), nation=g.lab.nation)
    since = clock.now() - LATELY
    lately = (
        contacts.people_in_contact(db.session, Sought(since, cas=number), limit=PEOPLE_LATELY)
        if may(current_person(), Permission.SEE_CONTACT)
        else None
    )
    return render_template(
        "register/substance.html",
        view=view,
        nation=g.lab.nation,
        lately=lately,
        since=to_local(since, zone=g.zone).date(),
        in_words=contacts.in_words,
        estimate=contacts.ESTIMATE,
    )


@bp.route("/register/contact")
@permits(Permission.SEE_CONTACT)
def contact() -> ResponseReturnValue:
    """Show the form, or who was in contact with a substance since a day, by name."""
    form = _contact_form()
    if not request.args or not form.validate():
        return form_page("register/contact.html", form, people=None)
    after_id = request.args.get("after", type=row_key)
    sought = form.asked().sought(zone=g.zone)
    people = contacts.people_in_contact(db.session, sought, after_id=after_id, limit=PEOPLE_A_PAGE + 1)
    asked: dict[str, Any] = {name: request.args[name] for name in ("cas", "product", "since") if name in request.args}
    return form_page(
        "register/contact.html",
        form,
        people=people[:PEOPLE_A_PAGE],
        asked=asked,
        called=called(form),
        after_id=after_id,
        next_id=people[PEOPLE_A_PAGE - 1].person_id if len(people) > PEOPLE_A_PAGE else None,
        in_words=contacts.in_words,
        estimate=contacts.ESTIMATE,
    )


@bp.route("/register/contact.csv")
@permits(Permission.SEE_CONTACT)
def contact_as_spreadsheet() -> ResponseReturnValue:
    """Give all who were in contact as a table for a spreadsheet, one row for each kind of contact."""
    form = _contact_form()
    if not form.validate():
        return form_page("register/contact.html", form, people=None)
    table = [
        (person.name, each.kind, str(each.times), _day(each.first_at), _day(each.last_at), contacts.ESTIMATE)
        for person in contacts.people_in_contact(db.session, form.asked().sought(zone=g.zone))
        for each in person.contacts
    ]
    return csv_file(("Person", "Did", "Times", "First", "Last", "What this is"), table, name="contact")


def _register() -> tuple[FilterForm, list[RegisterRow], list[RegisterRow]]:
    """The form, all rows, and those asked for; a form that cannot be read asks for all."""
    every_row = rows.rows(queries.holdings(db.session, now=clock.now()), now=clock.now(), zone=g.zone)
    asked = MultiDict({"show": "", "hazard": "", "place": "", **request.args.to_dict()})
    form = FilterForm(formdata=asked, meta={"csrf": False})
    form.offer(rows.places(every_row))
    return form, every_row, list(filter(form.asked().takes, every_row)) if form.validate() else every_row


def _contact_form() -> ContactForm:
    today = to_local(clock.now(), zone=g.zone).date()
    asked = MultiDict({"since": (today - LATELY).isoformat(), "product": "0", **request.args.to_dict()})
    form = ContactForm(formdata=asked, meta={"csrf": False})
    form.offer([(product.id, f"{product.name}, {product.supplier}") for product in products.products(db.session)])
    return form


def called(form: ContactForm) -> str:
    """What a valid form asks about, in words."""
    return form.product_name() or str(form.cas.data)


def _cas_or_raise(cas: str) -> str:
    try:
        return check_cas(cas)
    except BadCas:
        raise NotFound("substance", cas) from None


def _day(instant: datetime) -> str:
    return to_local(instant, zone=g.zone).date().isoformat()
