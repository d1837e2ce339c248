"""Pages of the register's papers: each shows what the document says, and issues it by POST."""

from datetime import datetime, time
from typing import Any

from flask import Blueprint, flash, g, redirect, request, url_for
from flask.typing import ResponseReturnValue
from werkzeug.datastructures import MultiDict

from labsys import clock
from labsys.answers import form_page, refusals
from labsys.database import db
from labsys.documents import first_aid_card, register_service, register_summary
from labsys.documents.collect_register import collect_first_aid, collect_register, everything_to_label
from labsys.documents.issued import issued_before
from labsys.documents.label_sheet import Layout
from labsys.documents.register_forms import LabelsForm
from labsys.documents.rules import DocumentKind
from labsys.documents.views import public_url
from labsys.drawing.pictograms import pictogram
from labsys.forms import LabForm
from labsys.people.access import current_person, permits, this_act
from labsys.people.permissions import Permission
from labsys.products import queries as products
from labsys.records import queries as records
from labsys.records.models import IssuedDocument
from labsys.register.contact import Sought
from labsys.register.forms import ContactForm
from labsys.timetable.local_time import to_instant

bp = Blueprint("papers", __name__)

_LARGE_FROM_UL = 3_000_000  # CLP Annex I Table 1.3: above 3 L a label of 74 × 105 mm, if possible


@bp.route("/documents/register", methods=["GET", "POST"])
@permits(Permission.SEE_LAB)
def register() -> ResponseReturnValue:
    """Show the register as a document, or issue it."""
    form = LabForm()
    if form.validate_on_submit():
        return _to(register_service.issue_register(this_act(form), public_url=public_url()))
    data = collect_register(db.session, **_looking())
    return form_page(
        "documents/register.html",
        form,
        data=data,
        closing=register_summary.CLOSING,
        pictogram=pictogram,
        issued=issued_before(DocumentKind.REGISTER, register_service.WHOLE),
    )


@bp.route("/documents/first-aid", methods=["GET", "POST"])
@permits(Permission.SEE_LAB)
def first_aid() -> ResponseReturnValue:
    """Show the first-aid card, or issue it."""
    form = LabForm()
    if form.validate_on_submit():
        with refusals(form):
            return _to(register_service.issue_first_aid(this_act(form), public_url=public_url()))
    return form_page(
        "documents/first_aid.html",
        form,
        data=collect_first_aid(db.session, **_looking()),
        closing=first_aid_card.CLOSING,
        sources=first_aid_card.SOURCES,
        issued=issued_before(DocumentKind.FIRST_AID, register_service.WHOLE),
    )


@bp.route("/documents/labels", methods=["GET", "POST"])
@permits(Permission.SEE_LAB)
def labels() -> ResponseReturnValue:
    """Show which labels can be printed and what those chosen say, or issue them."""
    found = everything_to_label(db.session, public_url=public_url(), now=clock.now())
    defaults = {"size": Layout.MEDIUM.value, "first": "1"}
    form = (
        LabelsForm()
        if request.method == "POST"
        else LabelsForm(formdata=_with_defaults(request.args, defaults), meta={"csrf": False})
    )
    form.offer(found)
    asked = request.method == "POST" or "label" in request.args
    if asked and form.validate() and request.method == "POST":
        with refusals(form):
            return _to(
                register_service.issue_labels(
                    this_act(form),
                    keys=form.label.data or [],
                    layout=Layout(form.size.data),
                    first=form.first.data or 1,
                    public_url=public_url(),
                )
            )
    chosen = [one for one in found if one.key in (form.label.data or ())]
    return form_page(
        "documents/labels.html",
        form,
        found=found,
        chosen=chosen,
        too_large=[one.title for one in chosen if (one.holds_ul or 0) > _LARGE_FROM_UL]
        if form.size.data != Layout.LARGE
        else [],
        pictogram=pictogram,
    )


@bp.post("/documents/contact-list")
@permits(Permission.SEE_CONTACT)
def contact_list() -> ResponseReturnValue:
    """Issue who was in contact, so that it is on the record who asked; back to the page where it cannot be."""
    form = ContactForm()
    form.offer([(one.id, f"{one.name}, {one.supplier}") for one in products.products(db.session)])
    if not form.validate_on_submit() or form.since.data is None:
        flash("The list was not issued: say again of what, and since when.", "problem")
        return redirect(url_for("register.contact"), 303)
    since = to_instant(datetime.combine(form.since.data, time.min), zone=g.zone)
    of_product = bool(form.product.data)
    sought = Sought(since, product_id=form.product.data) if of_product else Sought(since, cas=form.cas.data)
    return _to(
        register_service.issue_contact_list(
            this_act(form),
            sought=sought,
            called=form.product_name() or str(form.cas.data),
            since=form.since.data,
            public_url=public_url(),
        )
    )


def _with_defaults(args: MultiDict[str, str], defaults: dict[str, str]) -> MultiDict[str, str]:
    full = args.copy()
    for name, value in defaults.items():
        full.setdefault(name, value)
    return full


def _looking() -> dict[str, Any]:
    return {
        "issued_by": current_person(),
        "head": records.head(db.session),
        "public_url": public_url(),
        "now": clock.now(),
    }


def _to(document: IssuedDocument) -> ResponseReturnValue:
    return redirect(url_for("documents.show", document_id=document.id), 303)
