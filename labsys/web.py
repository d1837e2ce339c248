"""The application factory: settings, rooms, and who is signed in."""

from importlib.resources import files
from pathlib import Path

import flask_migrate
from flask import Flask, request
from flask_login import LoginManager
from flask_wtf.csrf import CSRFProtect
from sqlalchemy.orm import joinedload, undefer
from werkzeug.middleware.proxy_fix import ProxyFix
from werkzeug.routing import IntegerConverter, Map

from labsys.background import KINDS
from labsys.baths import views as baths
from labsys.baths.diary import register_foreseen
from labsys.baths.queries import products_in_service
from labsys.bench import views as bench
from labsys.bookings import fair_use_views as fair_use
from labsys.bookings import supervision_views as supervision
from labsys.bookings import views as bookings
from labsys.bookings import waiting_views as waiting
from labsys.bookings.classes_moved import register_told_of_classes
from labsys.bookings.comings_and_goings import register_presence_follower
from labsys.bookings.conditions import register_condition
from labsys.bookings.leaving import BOOKINGS_RELEASED
from labsys.bookings.rehearsing import register_lines
from labsys.brought_in import views as brought_in
from labsys.calendars import views as calendars
from labsys.closing import views as closing
from labsys.competences import views as competences
from labsys.confidence import views as confidence
from labsys.config import Config
from labsys.courses import views as courses
from labsys.courses.leaving import STUDENTS_TOLD
from labsys.courses.planned import taught_before
from labsys.courses.queries import heads_of_classes
from labsys.courses.telling import tell_rosters
from labsys.database import LARGEST_ROW, db, prepare_engine
from labsys.desk import views as desk
from labsys.devices import views as devices
from labsys.documents import views as documents
from labsys.duty import calling, dangers
from labsys.duty import gate as company
from labsys.duty import queries as on_duty
from labsys.duty import views as duty
from labsys.duty.pages import on_duty_now
from labsys.equipment import queries as equipment_queries
from labsys.equipment import views as equipment
from labsys.error_pages import answer_errors
from labsys.forecast import views as forecast
from labsys.forecast.pages import foreseen_end
from labsys.frame import show_pages
from labsys.handover import views as handover
from labsys.incidents import views as incidents
from labsys.inductions import content_views as induction_contents
from labsys.inductions import gate
from labsys.inductions import views as inductions
from labsys.inviting import views as inviting
from labsys.jobs import kinds
from labsys.jobs import views as jobs
from labsys.lab import help_page
from labsys.lab import views as lab
from labsys.labware import views as labware
from labsys.logs import log_to_stderr
from labsys.mail import views as mail
from labsys.matrix import views as matrix
from labsys.membership import views as membership
from labsys.membership.contacts import CONTACT_FORGOTTEN
from labsys.offline import views as offline
from labsys.people import access
from labsys.people import views as people
from labsys.people.leaving import register_at_leaving
from labsys.people.models import Person
from labsys.pictures import LARGEST_PICTURE
from labsys.places import views as places
from labsys.places.queries import register_closing
from labsys.planning import views as planning
from labsys.planning.beforehand import baths_suffice
from labsys.presence import views as presence
from labsys.processes import views as processes
from labsys.products import views as products
from labsys.products.pdf_file import LONGEST_SHEET
from labsys.products.sheet_files import TAKES_A_SHEET
from labsys.proving import views as proving
from labsys.register import views as register
from labsys.risk import views as risk
from labsys.store import views as store
from labsys.waste import views as waste

LONGEST_BODY = 1 * 1024 * 1024
# Pages that take a file, and how large it may be beyond what any form may send.
TAKES_FILES = {**dict.fromkeys(TAKES_A_SHEET, LONGEST_SHEET), "induction_contents.pictures": LARGEST_PICTURE}

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
    log_to_stderr(config.log_level)
    app.before_request(_take_files)  # before the token is looked for, which reads the body
    csrf.init_app(app)
    db.init_app(app)
    migrate.init_app(app, db, directory=str(root / "migrations"))
    with app.app_context():
        prepare_engine(db.engine)
    _remember_people(app)
    for room in _ROOMS:
        app.register_blueprint(room.bp)
    kinds.register(app, KINDS)
    gate.register_teaching(app, taught_before)
    register_closing(app, equipment_queries.closed)
    register_at_leaving(app, STUDENTS_TOLD, BOOKINGS_RELEASED, CONTACT_FORGOTTEN)
    register_told_of_classes(app, tell_rosters)
    _keep_company(app)
    show_pages(app)
    answer_errors(app)
    devices.guard_tablets(app)
    access.guard(app)
    return app


def _take_files() -> None:
    """Let the pages that take a file receive one, and no other page; to be asked before anything reads the body."""
    if request.endpoint in TAKES_FILES:
        request.max_content_length = TAKES_FILES[request.endpoint] + LONGEST_BODY


def _keep_company(app: Flask) -> None:
    """Let bookings ask who will be there, and tell who came and went; let duty ask the rooms below it."""
    register_condition(app, company.require_company)
    register_foreseen(app, foreseen_end)
    register_lines(app, company.who_else, baths_suffice)
    register_presence_follower(app, calling.follow)
    dangers.register_served(app, products_in_service)
    on_duty.register_class_heads(app, heads_of_classes)
    help_page.register_duty(app, on_duty_now)
    devices.register_first_page(app, offline.waits_for)


_ROOMS = (
    *(people, devices, lab, jobs, mail, membership, places, equipment, handover, products, store, processes, labware),
    *(brought_in, incidents, risk, inductions, induction_contents, competences),
    *(bookings, fair_use, supervision, waiting, closing, duty, courses, calendars, matrix, presence),
    *(baths, proving, forecast, waste, confidence, planning, bench, register),
    *(offline, documents, inviting, desk),
)


class RowNumber(IntegerConverter):
    """A number in a path: one that no row can have is a page that is not there."""

    def __init__(self, url_map: Map):
        super().__init__(url_map, max=LARGEST_ROW)


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
