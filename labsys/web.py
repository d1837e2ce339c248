"""The application factory and what every request meets: headers, errors, who is signed in, how the page looks."""

import json
import logging
import sys
from datetime import UTC, datetime
from importlib.resources import files
from pathlib import Path
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

import flask_migrate
from flask import Flask, Response, current_app, flash, g, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue
from flask_login import LoginManager, current_user
from flask_wtf.csrf import CSRFError, CSRFProtect
from sqlalchemy.exc import OperationalError
from sqlalchemy.orm import joinedload, undefer
from werkzeug.exceptions import HTTPException, InternalServerError
from werkzeug.middleware.proxy_fix import ProxyFix
from werkzeug.routing import IntegerConverter, Map

from labsys import clock
from labsys.background import KINDS
from labsys.baths import views as baths
from labsys.bench import views as bench
from labsys.bookings import views as bookings
from labsys.brought_in import views as brought_in
from labsys.config import Config
from labsys.database import LARGEST_ROW, db, prepare_engine
from labsys.desk import views as desk
from labsys.desk.forms import LOOKS
from labsys.devices import views as devices
from labsys.documents import views as documents
from labsys.drawing.svg import to_svg
from labsys.incidents import views as incidents
from labsys.inductions import views as inductions
from labsys.jobs import kinds
from labsys.jobs import views as jobs
from labsys.lab import views as lab
from labsys.labware import views as labware
from labsys.mail import views as mail
from labsys.people import access
from labsys.people import pages as people_pages
from labsys.people import views as people
from labsys.people.acts import AlreadyDone, SubmissionKeyMisused
from labsys.people.models import Person
from labsys.people.permissions import NotPermitted, Permission, may
from labsys.places import views as places
from labsys.planning import views as planning
from labsys.processes import views as processes
from labsys.products import views as products
from labsys.products.sheet_files import take_sheets
from labsys.quantities import show_mass, show_volume
from labsys.records import queries as records
from labsys.records.errors import NotFound
from labsys.register import views as register
from labsys.risk import views as risk
from labsys.store import views as store
from labsys.timetable.local_time import to_local
from labsys.waste import views as waste

CONTENT_SECURITY_POLICY = "; ".join(
    (
        "default-src 'none'",
        "style-src 'self'",
        "script-src 'self'",
        "img-src 'self'",
        "font-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)
LONGEST_BODY = 1 * 1024 * 1024
LOOK_COOKIE = "look"

csrf = CSRFProtect()
migrate = flask_migrate.Migrate()


def asset_root() -> Path:
    """Where templates, static files, migrations and demo fixtures are: in the wheel, or at the top of the checkout."""
    inside = Path(str(files("labsys"))) / "_assets"
    return inside if inside.is_dir() else Path(str(files("labsys"))).parent


def create_app(config: Config) -> Flask:
    """Build the application from checked settings."""
    root = asset_root()
    app = Flask("labsys", template_folder=str(root / "templates"), static_folder=str(root / "static"))
    app.config.update(
        SECRET_KEY=config.secret_key,
        SQLALCHEMY_DATABASE_URI=config.database_url,
        MAX_CONTENT_LENGTH=LONGEST_BODY,
        MAX_FORM_MEMORY_SIZE=LONGEST_BODY,
        SESSION_COOKIE_SECURE=config.secure_cookies,
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Lax",
        WTF_CSRF_TIME_LIMIT=None,  # lives as long as the session: a form may lie open on the dry side all day
        LABSYS=config,
        TESTING=config.testing,
    )
    app.url_map.converters["int"] = RowNumber
    app.jinja_options = {"autoescape": True, "trim_blocks": True, "lstrip_blocks": True}
    if config.proxies:
        app.wsgi_app = ProxyFix(app.wsgi_app, x_for=config.proxies, x_proto=config.proxies, x_host=config.proxies)  # type: ignore[method-assign]
    _log_to_stderr(config.log_level)
    app.before_request(take_sheets)  # before the token is looked for, which reads the body
    csrf.init_app(app)
    db.init_app(app)
    migrate.init_app(app, db, directory=str(root / "migrations"))
    with app.app_context():
        prepare_engine(db.engine)
    _remember_people(app)
    for room in _ROOMS:
        app.register_blueprint(room.bp)
    kinds.register(app, KINDS)
    _show_pages(app)
    _answer_errors(app)
    devices.guard_tablets(app)
    access.guard(app)
    return app


_ROOMS = (
    *(people, devices, lab, jobs, mail, places, products, store, processes, labware, brought_in, incidents, risk),
    *(inductions, bookings, baths, waste, planning, bench, register, documents, desk),
)


class RowNumber(IntegerConverter):
    """A number in a path: one that no row can have is a page that is not there."""

    def __init__(self, url_map: Map):
        super().__init__(url_map, max=LARGEST_ROW)


class _JsonLines(logging.Formatter):
    """One JSON object a line, for whoever collects logs."""

    def format(self, record: logging.LogRecord) -> str:
        entry: dict[str, Any] = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname,
            "from": record.name,
            "message": record.getMessage(),
        }
        entry.update(getattr(record, "facts", {}))
        if record.exc_info:
            entry["traceback"] = self.formatException(record.exc_info)
        return json.dumps(entry, ensure_ascii=False)


def _log_to_stderr(level: str) -> None:
    logger = logging.getLogger("labsys")
    logger.setLevel(level)
    if not logger.handlers:
        handler = logging.StreamHandler(sys.stderr)
        handler.setFormatter(_JsonLines())
        logger.addHandler(handler)
        logger.propagate = False


def _remember_people(app: Flask) -> None:
    login = LoginManager(app)
    login.session_protection = None  # a phone changes its address between the wet side and the street

    def load(user_id: str) -> Person | None:
        number, _, version = user_id.partition(":")
        if not (number.isdigit() and version.isdigit()):
            return None
        at_once = [joinedload(Person.role_rows), undefer(Person.held_by_others)]
        person = db.session.get(Person, int(number), options=at_once)
        return person if person and person.is_active and person.session_version == int(version) else None

    login.user_loader(load)


class NavItem(NamedTuple):
    label: str
    href: str
    current: bool


_NAV = (
    ("Today", "desk.today", Permission.SEE_LAB),
    ("Bookings", "bookings.index", Permission.SEE_LAB),
    ("Baths", "baths.index", Permission.SEE_LAB),
    ("Chemical store", "store.index", Permission.SEE_LAB),
    ("Processes", "processes.index", Permission.SEE_LAB),
    ("Bench", "bench.index", Permission.SEE_LAB),
    ("Inductions", "inductions.index", Permission.SEE_LAB),
    ("Register", "register.index", Permission.SEE_LAB),
    ("Waste", "waste.index", Permission.SEE_LAB),
    ("Places", "places.index", Permission.SEE_LAB),
    ("People", "people.index", Permission.KEEP_PEOPLE),
    ("Tablets", "devices.index", Permission.KEEP_DEVICES),
    ("Mail", "mail.index", Permission.SEE_MAIL),
    ("Jobs", "jobs.index", Permission.SEE_JOBS),
    ("The lab", "lab.index", Permission.KEEP_LAB),
)


def _show_pages(app: Flask) -> None:
    @app.before_request
    def know_the_lab() -> None:
        if request.endpoint in ("static", "desk.health"):
            return
        g.lab = records.lab_or_none(db.session)
        g.zone = ZoneInfo(g.lab.timezone) if g.lab else ZoneInfo("UTC")

    @app.context_processor
    def common() -> dict[str, Any]:
        look = request.cookies.get(LOOK_COOKIE)
        return {
            "lab": g.get("lab"),
            "nav": _nav(),
            "look": look if look in LOOKS else None,
            "may": lambda permission: current_user.is_authenticated and may(access.current_person(), permission),
            "Permission": Permission,
            "now": clock.now(),
        }

    app.add_template_global(to_svg, "to_svg")
    app.add_template_filter(show_volume, "volume")
    app.add_template_filter(show_mass, "mass")

    @app.template_filter("when")
    def when(instant: datetime) -> str:
        return f"{to_local(instant, zone=g.zone):%a %-d %b %Y, %H:%M}"

    @app.template_filter("day")
    def day(instant: datetime) -> str:
        return f"{to_local(instant, zone=g.zone):%-d %b %Y}"

    @app.after_request
    def set_headers(response: Response) -> Response:
        response.headers.setdefault("Content-Security-Policy", CONTENT_SECURITY_POLICY)
        response.headers["X-Content-Type-Options"] = "nosniff"
        response.headers["Referrer-Policy"] = "same-origin"
        response.headers["Cross-Origin-Opener-Policy"] = "same-origin"
        if request.endpoint != "static":
            response.headers.setdefault("Cache-Control", "no-store")
        return response


def _nav() -> list[NavItem]:
    if not current_user.is_authenticated:
        return []
    person = access.current_person()
    here = (request.endpoint, _first_page(request.blueprint))
    return [
        NavItem(label, url_for(endpoint), endpoint in here) for label, endpoint, needed in _NAV if may(person, needed)
    ]


def _first_page(room: str | None) -> str:
    """The page a room begins with; what is kept of products and labware is reached through the chemical store."""
    return f"{'store' if room in ('products', 'labware') else room}.index"


_PAGES = {
    "baths": ("baths.show", "bath_id"),
    "uses": ("baths.use", "use_id"),
    "bath_lines": ("baths.line", "line_id"),
    "bottles": ("store.bottle", "bottle_id"),
    "products": ("store.product", "product_id"),
    "processes": ("processes.show", "process_id"),
    "bookings": ("bookings.show", "booking_id"),
    "stations": ("places.station", "station_id"),
    "waste_containers": ("waste.container", "container_id"),
    "collections": ("waste.collection", "collection_id"),
    "issued_documents": ("documents.show", "document_id"),
    "cards": ("devices.card", "card_id"),
    "inductions": ("inductions.show", "induction_id"),
    "risk_assessments": ("risk.show", "assessment_id"),
    "working_vessels": ("labware.change_tank", "vessel_id"),
    "declarations": ("brought_in.show", "declaration_id"),
    "incidents": ("incidents.show", "incident_id"),
    "jobs": ("jobs.show", "job_id"),
}
_OWNERS = {
    "bath_id": "baths.show",
    "product_id": "store.product",
    "container_id": "waste.container",
    "induction_id": "inductions.show",
    "assessment_id": "risk.show",
    "line_id": "baths.line",
    "person_id": "people.show",
}


def _address_of(done: AlreadyDone) -> str:
    """The page of what an act made; for a row without a page of its own, that of what it belongs to, or its room."""
    if page := _PAGES.get(done.outcome_kind):
        endpoint, argument = page
        identified: dict[str, Any] = {argument: done.outcome_id}
        return url_for(endpoint, **identified)
    arguments = request.view_args or {}
    for argument, endpoint in _OWNERS.items():
        if argument in arguments:
            return url_for(endpoint, **{argument: arguments[argument]})
    if done.outcome_kind == "people":  # somebody's own
        return url_for("people.account")
    room = _first_page(request.blueprint)
    return url_for(room if room in current_app.view_functions else "desk.today")


def _answer_errors(app: Flask) -> None:
    logger = logging.getLogger("labsys.web")

    def page(status: int, **facts: Any) -> ResponseReturnValue:
        return render_template(f"error/{status}.html", **facts), status

    def plain_page(status: int) -> ResponseReturnValue:
        """A page that asks nothing of the database, for when the database may be what failed."""
        look = request.cookies.get(LOOK_COOKIE)
        template = app.jinja_env.get_template(f"error/{status}.html")
        return template.render(look=look if look in LOOKS else None), status

    @app.errorhandler(AlreadyDone)
    def already_done(done: AlreadyDone) -> ResponseReturnValue:
        flash("Saved already: it was saved once, not twice.", "saved")
        return redirect(_address_of(done), 303)

    @app.errorhandler(NotFound)
    def not_found(error: NotFound) -> ResponseReturnValue:
        return page(404)

    @app.errorhandler(NotPermitted)
    def not_permitted(error: NotPermitted) -> ResponseReturnValue:
        return page(403, reason=str(error), ask=people_pages.whom_to_ask(db.session, error.permission))

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
        body = render_template(f"error/{shown}.html"), error.code
        response = app.make_response(body)
        for name, value in error.get_headers():
            if name == "Allow":
                response.headers[name] = value
        return response
