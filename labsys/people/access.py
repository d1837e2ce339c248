"""Who may open which page: the permission stands above the view, and a view without one stops the start."""

from collections.abc import Callable
from enum import Enum
from typing import TypeVar, cast
from urllib.parse import urlsplit

from flask import Flask, current_app, g, redirect, request, url_for
from flask.typing import ResponseReturnValue
from flask_login import current_user

from labsys import clock
from labsys.database import db
from labsys.forms import LabForm
from labsys.people.acts import Act
from labsys.people.models import Person
from labsys.people.permissions import NotPermitted, Permission, may

View = TypeVar("View", bound=Callable[..., ResponseReturnValue])


class Open(Enum):
    """Pages that ask for no permission."""

    ANYONE = "anyone"
    ALWAYS = "anyone, also when the database is down"
    SIGNED_IN = "anyone signed in"


ANYONE = Open.ANYONE
ALWAYS = Open.ALWAYS
SIGNED_IN = Open.SIGNED_IN
_ATTRIBUTE = "labsys_permits"


class EndpointWithoutPermission(Exception):
    """A view was registered without saying who may open it."""


def permits(needed: Permission | Open) -> Callable[[View], View]:
    """Say who may open a view."""

    def mark(view: View) -> View:
        setattr(view, _ATTRIBUTE, needed)
        return view

    return mark


def needed_for(endpoint: str) -> Permission | Open:
    """Who may open the view of an endpoint."""
    return cast(Permission | Open, getattr(current_app.view_functions[endpoint], _ATTRIBUTE))


def is_always_open(endpoint: str | None) -> bool:
    """Whether the page of an endpoint asks nothing of the database: not the lab, nor who is there."""
    return endpoint is not None and needed_for(endpoint) is ALWAYS


def current_person() -> Person:
    """The person signed in; only for views that ask for one."""
    return cast(Person, current_user._get_current_object())


def client_address() -> str:
    """The address the request comes from, no longer than is kept; a proxy may send anything."""
    return (request.remote_addr or "")[:64]


def this_act(form: LabForm | None = None) -> Act:
    """The act of this request: who is signed in, now, with the form's key, through the tablet it comes from."""
    return Act(
        db.session,
        by=current_person() if current_user.is_authenticated else None,
        now=clock.now(),
        key=form.submission_key.data if form is not None and current_user.is_authenticated else None,
        visit=g.get("visit"),
    )


def guard(app: Flask) -> None:
    """Check each request against its view's permission; refuse to start with a view that names none."""
    setattr(app.view_functions["static"], _ATTRIBUTE, ALWAYS)
    for endpoint, view in app.view_functions.items():
        if not hasattr(view, _ATTRIBUTE):
            raise EndpointWithoutPermission(endpoint)

    @app.before_request
    def check() -> ResponseReturnValue | None:
        if request.endpoint is None:
            return None
        needed = needed_for(request.endpoint)
        if needed in (ANYONE, ALWAYS):
            return None
        if not current_user.is_authenticated:
            if request.method == "GET":
                return redirect(url_for("people.sign_in", next=request.full_path.rstrip("?")), 303)
            return redirect(url_for("people.sign_in"), 303)
        if isinstance(needed, Permission) and not may(current_person(), needed):
            raise NotPermitted(needed)
        return None


def safe_next(target: str | None) -> str:
    """Where to go after signing in: a path on this site, or the first page."""
    fallback = url_for("desk.today")
    if not target or not target.startswith("/") or target.startswith(("//", "/\\")) or "\\" in target:
        return fallback
    parts = urlsplit(target)
    return fallback if parts.scheme or parts.netloc else target
