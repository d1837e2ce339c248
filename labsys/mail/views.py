"""The outbox as its manager sees it."""

from flask import Blueprint, current_app, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import row_key, saved
from labsys.database import db
from labsys.mail import pages, queries, service
from labsys.mail.rules import MailRefused
from labsys.people.access import permits, this_act
from labsys.people.permissions import Permission

bp = Blueprint("mail", __name__)


@bp.get("/mail")
@permits(Permission.SEE_MAIL)
def index() -> ResponseReturnValue:
    """Show what needs somebody, and all messages, newest first."""
    now, before_id = clock.now(), request.args.get("before", type=row_key)
    stuck = queries.needing_somebody(db.session, now=now, limit=pages.STUCK_SHOWN)
    found = queries.newest(db.session, before_id=before_id, limit=pages.MESSAGES_PER_PAGE + 1)
    return render_template(
        "mail/index.html",
        has_server=bool(current_app.config["LABSYS"].mail_server),
        counts=queries.counts(db.session, now=now),
        stuck=[pages.line_of(mail, now=now) for mail in stuck],
        page=pages.mail_page(found, now=now, is_first=before_id is None),
    )


@bp.post("/mail/<int:mail_id>/send-again")
@permits(Permission.SEE_MAIL)
def send_again(mail_id: int) -> ResponseReturnValue:
    """Put a message back among those that wait."""
    try:
        mail = service.send_again(this_act(), mail_id=mail_id)
    except MailRefused as refusal:
        flash(str(refusal), "problem")
        return redirect(url_for(".index"), 303)
    return saved(f"The message to {mail.person.name} waits to be sent again.", ".index")
