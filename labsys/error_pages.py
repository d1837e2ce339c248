"""Where each error meets its page, and a form that was sent twice the page of what came of it."""

import logging
from typing import Any

from flask import Flask, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from flask_wtf.csrf import CSRFError
from sqlalchemy.exc import OperationalError
from werkzeug.exceptions import HTTPException, InternalServerError

from labsys.answers import chosen_look
from labsys.database import db
from labsys.desk import registry
from labsys.lab.emergency import Emergency
from labsys.lab.help_page import emergency_kept
from labsys.navigation import address_of_room
from labsys.people import pages as people
from labsys.people.access import current_person
from labsys.people.acts import AlreadyDone, SubmissionKeyMisused
from labsys.people.models import Person
from labsys.people.permissions import NotPermitted
from labsys.records.errors import NotFound


def answer_errors(app: Flask) -> None:
    """Give every error its page, which says what to do next."""
    logger = logging.getLogger("labsys.web")

    def page(status: int, **facts: Any) -> ResponseReturnValue:
        return render_template(f"error/{status}.html", untold=_untold(), **facts), status

    def plain_page(status: int) -> ResponseReturnValue:
        """A page that asks nothing of the database, for when the database may be what failed."""
        return app.jinja_env.get_template(f"error/{status}.html").render(look=chosen_look(), untold=_untold()), status

    @app.errorhandler(AlreadyDone)
    def already_done(done: AlreadyDone) -> ResponseReturnValue:
        flash("Saved already: it was saved once, not twice.", "saved")
        return redirect(_address_of(done), 303)

    @app.errorhandler(NotFound)
    def not_found(error: NotFound) -> ResponseReturnValue:
        return page(404)

    @app.errorhandler(NotPermitted)
    def not_permitted(error: NotPermitted) -> ResponseReturnValue:
        return page(403, reason=str(error), ask=people.whom_to_ask(db.session, error.permission))

    @app.errorhandler(CSRFError)
    def csrf_failed(error: CSRFError) -> ResponseReturnValue:
        return page(400, reason="This page had been open too long, or was opened before you signed in.")

    @app.errorhandler(SubmissionKeyMisused)
    def key_misused(error: SubmissionKeyMisused) -> ResponseReturnValue:
        return page(409)

    @app.errorhandler(OperationalError)
    def database_busy(error: OperationalError) -> ResponseReturnValue:
        db.session.rollback()
        logger.error("database refused", extra={"facts": {"path": request.path}}, exc_info=error)
        return plain_page(503)

    @app.errorhandler(HTTPException)
    def http_error(error: HTTPException) -> ResponseReturnValue:
        if isinstance(error, InternalServerError) or error.code is None or error.code < 400:
            logger.error("unexpected", extra={"facts": {"path": request.path}}, exc_info=error)
            return plain_page(500)
        shown = error.code if error.code in (400, 403, 404, 405, 409, 413, 429) else 400
        body = render_template(f"error/{shown}.html", untold=_untold()), error.code
        response = app.make_response(body)
        for name, value in error.get_headers():
            if name == "Allow":
                response.headers[name] = value
        return response


def _untold() -> Emergency | None:
    """Whom to ring, where what failed was the report of an incident: nobody has been told then."""
    return emergency_kept() if request.endpoint == "incidents.report" else None


def _address_of(done: AlreadyDone) -> str:
    """The page of what an act made. Where that has none, the room that the form was in."""
    if (done.outcome_kind, done.outcome_id) == (Person.__tablename__, current_person().id):
        return url_for("people.account")
    return registry.address_of(db.session, done.outcome_kind, done.outcome_id) or address_of_room()
