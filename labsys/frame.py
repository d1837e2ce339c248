"""What stands around every page: the lab and its zone, the look, what templates may call, and the headers."""

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from flask import Flask, Response, g, request
from flask_login import current_user

from labsys import clock
from labsys.answers import chosen_look
from labsys.database import db
from labsys.desk.registry import label_of
from labsys.drawing.svg import to_svg
from labsys.duty.gate import company_of
from labsys.forecast import pages as forecast
from labsys.lab.emergency import emergency_of
from labsys.lab.help_page import keep_copy
from labsys.lab.telephones import pieces_of
from labsys.navigation import navigation
from labsys.people.access import current_person, is_always_open
from labsys.people.permissions import Permission, may
from labsys.quantities import show_mass, show_volume
from labsys.records import queries as records
from labsys.timetable.local_time import clock_words, to_local

CONTENT_SECURITY_POLICY = "; ".join(
    (
        "default-src 'none'",
        "style-src 'self'",
        "script-src 'self'",
        "img-src 'self'",
        "font-src 'self'",
        "connect-src 'self'",
        "worker-src 'self'",
        "manifest-src 'self'",
        "form-action 'self'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
    )
)


def show_pages(app: Flask) -> None:
    """Give every page its frame."""

    @app.before_request
    def know_the_lab() -> None:
        if request.endpoint == "desk.health" or is_always_open(request.endpoint):
            return
        g.lab = records.lab_or_none(db.session)
        keep_copy(g.lab)
        g.zone = ZoneInfo(g.lab.timezone) if g.lab else ZoneInfo("UTC")

    @app.context_processor
    def common() -> dict[str, Any]:
        return {
            "lab": g.get("lab"),
            "emergency": emergency_of(g.get("lab")),
            "nav": navigation(),
            "look": chosen_look(),
            "may": lambda permission: current_user.is_authenticated and may(current_person(), permission),
            "Permission": Permission,
            "now": clock.now(),
            "keeps_entries": request.is_secure or request.host.partition(":")[0] in ("localhost", "127.0.0.1"),
        }

    app.add_template_global(to_svg, "to_svg")
    app.add_template_global(label_of, "label_of")
    app.add_template_global(pieces_of, "pieces_of")
    app.add_template_global(lambda booking: company_of(db.session, booking, now=clock.now()), "company_of")
    app.add_template_global(
        lambda bath: forecast.of_bath(db.session, bath, now=clock.now(), zone=g.zone), "forecast_of"
    )
    app.add_template_global(
        lambda booking: forecast.of_class(db.session, booking, now=clock.now(), zone=g.zone), "enough_for"
    )
    app.add_template_filter(show_volume, "volume")
    app.add_template_filter(show_mass, "mass")

    @app.template_filter("when")
    def when(instant: datetime) -> str:
        return f"{to_local(instant, zone=g.zone):%a %-d %b %Y, %H:%M}"

    @app.template_filter("day")
    def day(instant: datetime) -> str:
        return f"{to_local(instant, zone=g.zone):%-d %b %Y}"

    @app.template_filter("clock")
    def at_clock(instant: datetime) -> str:
        return clock_words(instant, zone=g.zone)

    @app.after_request
    def set_headers(response: Response) -> Response:
        response.headers.setdefault("Content-Security-Policy", CONTENT_SECURITY_POLICY)
        response.headers["X-Content-Type-Options"] = "nosniff"
        has_secret = "token" in (request.view_args or {})  # an address that is one is not told, not even to this site
        response.headers["Referrer-Policy"] = "strict-origin" if has_secret else "same-origin"
        response.headers["Cross-Origin-Opener-Policy"] = "same-origin"
        if request.endpoint != "static":
            response.headers.setdefault("Cache-Control", "no-store")
        return response
