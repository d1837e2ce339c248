"""Pages of the documents: what each kind says, issuing it, and the bytes that were issued."""

import logging
from collections.abc import Mapping
from typing import Any

from flask import Blueprint, Response, current_app, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from werkzeug.datastructures import MultiDict

from labsys import clock
from labsys.answers import form_page, refusals, row_key
from labsys.config import Config
from labsys.database import db
from labsys.documents import queries, rules
from labsys.documents.document import Document
from labsys.documents.occasion import Occasion, occasion_of
from labsys.documents.registry import DOCUMENTS, OF_KIND
from labsys.documents.rules import DocumentRefused
from labsys.documents.service import issue_document
from labsys.drawing.pictograms import pictogram
from labsys.forms import LabForm
from labsys.people.access import current_person, permits, this_act
from labsys.people.permissions import Permission, may, require

bp = Blueprint("documents", __name__)

DOCUMENTS_A_PAGE = 25
ISSUES_SHOWN = 10
# The bytes are ours, and are shown as if they were not: no script, no request, no form.
PDF_POLICY = "sandbox; default-src 'none'"


@bp.route("/documents")
@permits(Permission.SEE_LAB)
def index() -> ResponseReturnValue:
    """List the issued documents that this person may see, newest first."""
    before_id = request.args.get("before", type=row_key)
    person = current_person()
    newest = queries.issued(
        db.session,
        kinds=[document.kind for document in DOCUMENTS if may(person, document.may_see)],
        own_kinds=[document.kind for document in DOCUMENTS if document.own_may_be_seen],
        own_of=person.id,
        before_id=before_id,
        limit=DOCUMENTS_A_PAGE + 1,
    )
    return render_template(
        "documents/index.html",
        issued=newest[:DOCUMENTS_A_PAGE],
        older=newest[DOCUMENTS_A_PAGE - 1].document.id if len(newest) > DOCUMENTS_A_PAGE else None,
        before_id=before_id,
    )


@bp.route("/documents/<int:document_id>")
@permits(Permission.SEE_LAB)
def show(document_id: int) -> ResponseReturnValue:
    """Stream an issued document, unless its bytes are no longer those that were issued."""
    document = queries.document_or_raise(db.session, document_id)
    person = current_person()
    require(person, OF_KIND[document.kind].needed_to_see(is_own=document.issued_by_id == person.id))
    try:
        rules.check_unaltered(
            document_id=document.id,
            content=document.content,
            digest=document.digest,
            on_record=queries.digest_on_record(db.session, document),
        )
    except rules.DocumentAltered as altered:
        logging.getLogger("labsys.documents").error(str(altered))
        return render_template("documents/altered.html", document=document), 409
    answer = Response(document.content, mimetype="application/pdf")
    name = rules.file_name(title=document.title, number=document.id)
    answer.headers["Content-Disposition"] = f'inline; filename="{name}"'
    answer.headers["Content-Security-Policy"] = PDF_POLICY
    return answer


def _add_pages(document: Document[Any, Any]) -> None:
    """Give a document its two pages: what it says as things stand, where it has a template, and issuing it."""
    permitted = permits(document.needed_to_see(is_own=True))

    @permitted
    def look(**numbers: int) -> ResponseReturnValue:
        """Show the document as a page."""
        occasion = _occasion()
        form = document.form(db.session, occasion, request.args)
        is_complete = document.page is None and form.validate()
        _refuse_unknown(form, request.args)
        return _page(document, form, document.read(form, **numbers) if is_complete else None, numbers, occasion)

    @permitted
    def issue(**numbers: int) -> ResponseReturnValue:
        """Issue the document and go to it; back to its page where it cannot be."""
        occasion = _occasion()
        form = document.form(db.session, occasion, None)
        asked = document.read(form, **numbers) if form.validate_on_submit() else None
        _refuse_unknown(form, request.form)
        if asked is not None and not form.errors:
            with refusals(form):
                kept = issue_document(this_act(form), document, asked, public_url=occasion.public_url)
                return redirect(url_for(".show", document_id=kept.id), 303)
        return _page(document, form, asked, numbers, occasion)

    rule = f"/documents/{document.path}"
    bp.add_url_rule(rule, f"issue_{document.name}", issue, methods=["POST"])
    if document.has_page:
        bp.add_url_rule(rule, document.name, look)


for each in DOCUMENTS:
    _add_pages(each)


def _page(
    document: Document[Any, Any], form: LabForm, asked: object, numbers: Mapping[str, Any], occasion: Occasion
) -> ResponseReturnValue:
    """Show what a document says, or its form alone where that does not say what is asked for."""
    if not document.has_page:
        return _back(document, form, asked, document.incomplete if asked is None else _first_error(form))
    if document.page is not None:
        return form_page(document.template, form, **document.page(db.session, form, occasion))
    if asked is None:
        return form_page(document.template, form, data=None)
    try:
        data = document.collect(db.session, asked, occasion)
    except DocumentRefused as refusal:
        return _back(document, form, asked, str(refusal))
    written = document.written(asked, data)
    earlier = queries.issued_of(db.session, kind=document.kind, parameters=written, limit=ISSUES_SHOWN)
    may_issue = may(current_person(), document.may_issue)
    issuing = {
        "issue_url": url_for(f".issue_{document.name}", **numbers) if may_issue else None,
        "params": {**({} if numbers else written), "submission_key": form.submission_key.data},
        "issued": earlier,
    }
    context = {**document.shows, **numbers, "pictogram": pictogram}
    return form_page(document.template, form, data=data, issuing=issuing, **context)


def _back(document: Document[Any, Any], form: LabForm, asked: object, why: str) -> ResponseReturnValue:
    flash(why, "problem")
    return redirect(document.back(form, asked), 303)


def _refuse_unknown(form: LabForm, sent: MultiDict[str, str]) -> None:
    """Complain of what a document cannot be asked for, rather than show something else than was meant."""
    known = {"csrf_token", *(field.name for field in form)}
    form.form_errors += [
        f"This document cannot be asked for by “{name}”. Take that out of the address."
        for name in sent
        if name not in known
    ]


def _first_error(form: LabForm) -> str:
    return str(next(iter(form.errors.values()))[0])


def _occasion() -> Occasion:
    config: Config = current_app.config["LABSYS"]
    return occasion_of(db.session, person=current_person(), now=clock.now(), public_url=config.public_url)
