"""The desk: today's lab, finding things by code and name, the look of the screen, and whether all is well."""

from dataclasses import asdict
from datetime import timedelta
from typing import Any, cast
from urllib.parse import urlsplit

from flask import Blueprint, abort, current_app, g, jsonify, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from flask_login import current_user
from sqlalchemy.exc import SQLAlchemyError
from werkzeug.datastructures import MultiDict
from werkzeug.exceptions import HTTPException, MethodNotAllowed

from labsys import clock
from labsys.config import Config
from labsys.database import db
from labsys.desk import clearing_out, finding, pages, queries
from labsys.desk import walk as walking
from labsys.desk.finding import FoundKind
from labsys.desk.forms import FindForm, LookForm
from labsys.desk.health import health as ask_health
from labsys.desk.registry import OF_CODE
from labsys.jobs.kinds import kinds_of
from labsys.people.access import ANYONE, current_person, permits, safe_next
from labsys.people.permissions import Permission, require
from labsys.records import queries as records
from labsys.records.rules import CodeRefused, NotACode, read_code

bp = Blueprint("desk", __name__)

LOOK_KEPT = timedelta(days=365)


@bp.get("/")
@permits(ANYONE)
def today() -> ResponseReturnValue:
    """Show today's lab; before there is a lab, and so anybody to sign in, say how to set it up."""
    if g.lab is None:
        return render_template("desk/set_up.html")
    if not current_user.is_authenticated:
        return redirect(url_for("people.sign_in"), 303)
    person, now = current_person(), clock.now()
    require(person, Permission.SEE_LAB)
    lab = queries.lab_today(db.session, person=person, now=now, zone=g.zone)
    return render_template("desk/today.html", page=pages.today_page(lab, person=person, now=now, zone=g.zone))


@bp.get("/round")
@permits(Permission.KEEP_STOCK)
def walk() -> ResponseReturnValue:
    """Show what is to be done today, room by room."""
    stops = walking.walk(db.session, person=current_person(), now=clock.now(), zone=g.zone)
    return render_template("desk/walk.html", stops=stops)


@bp.get("/clear-out")
@permits(Permission.KEEP_STOCK)
def clear_out() -> ResponseReturnValue:
    """Lead through clearing the lab out at the end of term: what is left alone comes first."""
    page = clearing_out.clear_out(db.session, g.lab, person=current_person(), now=clock.now(), zone=g.zone)
    return render_template("desk/clear_out.html", page=page)


@bp.get("/find")
@bp.get("/find-code")
@permits(Permission.SEE_LAB)
def find() -> ResponseReturnValue:
    """Go to what a typed code stands on, or show what has the words typed in its name; else the box to type in."""
    typed = request.args.get("q", request.args.get("code"))
    if typed is None:
        return _box(FindForm())
    form = FindForm(MultiDict({"q": typed}))
    found: list[FoundKind] = []
    if form.validate():
        words = form.q.data or ""
        try:
            return redirect(_address_of_code(words))
        except CodeRefused as refusal:
            found = finding.find(db.session, words, person=current_person(), prefix=g.lab.code_prefix)
            if not found and not isinstance(refusal, NotACode):
                form.q.errors = [str(refusal)]
    return _box(form, found=found, most=finding.MOST_OF_A_KIND, asked=True)


@bp.get("/c/<code>")
@permits(Permission.SEE_LAB)
def scan(code: str) -> ResponseReturnValue:
    """Go to what a scanned code stands on; whoever is not signed in comes back here afterwards."""
    try:
        return redirect(_address_of_code(code))
    except CodeRefused as refusal:
        form = FindForm(data={"q": code})
        form.q.errors = [str(refusal)]
        return _box(form)


@bp.post("/look")
@permits(ANYONE)
def choose_look() -> ResponseReturnValue:
    """Keep the look of the screen on this device."""
    form = LookForm()
    if not form.validate_on_submit():
        abort(400)
    response = current_app.make_response(redirect(_page_behind(safe_next(request.form.get("next"))), 303))
    response.set_cookie(
        "look",
        form.look.data,
        max_age=LOOK_KEPT,
        secure=cast(Config, current_app.config["LABSYS"]).secure_cookies,
        httponly=True,
        samesite="Lax",
    )
    return response


@bp.get("/health")
@permits(ANYONE)
def health() -> ResponseReturnValue:
    """Say in JSON whether the database answers, and what whoever hosts the lab should know."""
    try:
        answer = ask_health(
            db.session,
            migrations=current_app.extensions["migrate"].directory,
            kinds=kinds_of(current_app),
            now=clock.now(),
        )
    except SQLAlchemyError:
        return jsonify(database="not reachable"), 503
    return jsonify(asdict(answer))


def _box(form: FindForm, **context: Any) -> ResponseReturnValue:
    return render_template("desk/find.html", form=form, **context), 422 if form.errors else 200


def _address_of_code(typed: str) -> str:
    """The page of what a code stands on. Raises CodeRefused."""
    read = read_code(typed, prefix=g.lab.code_prefix)
    if known := records.code_or_none(db.session, read.code):
        return OF_CODE[known.kind].address(known.row_id)
    raise CodeRefused(f"No label {read.code} was made here. Read it again from the label.")


def _page_behind(target: str) -> str:
    """Keep away from an address that only takes a POST: its answer is on the screen, and cannot be had again."""
    try:
        current_app.url_map.bind("").match(urlsplit(target).path, method="GET")
    except MethodNotAllowed:
        return url_for("desk.today")
    except HTTPException:
        return target
    return target
