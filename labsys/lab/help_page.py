"""The help page: one plain page that needs nothing else, and a copy of it on disk for when the database is down."""

import hashlib
import json
import logging
import re
from base64 import b64encode
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import cast
from zoneinfo import ZoneInfo

from flask import Flask, Response, current_app, make_response
from sqlalchemy.exc import SQLAlchemyError

from labsys import clock
from labsys.config import Config
from labsys.database import DbSession, db
from labsys.hazards import first_aid
from labsys.lab.emergency import READING_TELLS_NOBODY, Emergency, emergency_of
from labsys.lab.telephones import pieces_of
from labsys.records import queries as records
from labsys.records.models import Lab
from labsys.timetable.local_time import to_local

HELP, NO_NETWORK = "help.html", "help-no-network.html"  # as they are called in the instance folder
_STATED = "emergency.json"  # beside them: what the lab states, for the other pages that the database fails
_ROOT = '<html lang="en">'
_STYLE = re.compile(r"<style>(.*?)</style>", re.DOTALL)
_STYLE_SHEETS = ("tokens.css", "help.css")
_KEPT = "labsys_help_kept"
_ON_DUTY = "labsys-on-duty"


@dataclass(frozen=True)
class OnDuty:
    """Who is on duty now, and until when that holds: a device that keeps the page leaves it out afterwards."""

    facts: Sequence[tuple[str, str]]
    until: datetime


AskDuty = Callable[[DbSession, datetime, ZoneInfo], OnDuty | None]


def register_duty(app: Flask, ask: AskDuty) -> None:
    """Let the application know who is asked for who is on duty: a room below this one."""
    app.extensions[_ON_DUTY] = ask


def help_page(name: str, *, look: str | None) -> Response:
    """Answer with the help page as the lab states it now; where the database fails, with the copy of it."""
    try:
        lab = records.lab_or_none(db.session)
        page = _rendered(lab, now=clock.now(), name=name, on_duty=_on_duty(lab, now=clock.now()))
    except SQLAlchemyError as error:
        logging.getLogger("labsys.web").error("help page from its copy", exc_info=error)
        page = _copy(name) or _rendered(None, now=clock.now(), name=name)
    return _answer(page, look=look)


def keep_copy(lab: Lab | None) -> None:
    """Write the help page into the instance folder where what the lab states has changed since it was written."""
    stated = (emergency_of(lab), lab.timezone) if lab is not None else None
    if stated is None or current_app.extensions.get(_KEPT) == stated:
        return
    folder, now = _folder(current_app), clock.now()
    copies = {name: _rendered(lab, now=now, name=name) for name in (HELP, NO_NETWORK)}
    try:
        for name, kept in {**copies, _STATED: json.dumps(asdict(stated[0]))}.items():
            fresh = folder / f"{name}.new"
            fresh.write_text(kept, encoding="utf-8")
            fresh.replace(folder / name)
    except OSError as error:
        logging.getLogger("labsys.web").error("help page not kept", exc_info=error)
        return
    current_app.extensions[_KEPT] = stated


def emergency_kept() -> Emergency:
    """What the lab stated when the database last answered; where that was not kept or cannot be read, nothing."""
    try:
        return Emergency(**json.loads(_copy(_STATED) or "{}"))
    except (TypeError, ValueError) as error:
        logging.getLogger("labsys.web").error("what the lab states not read", exc_info=error)
        return Emergency()


def _on_duty(lab: Lab | None, *, now: datetime) -> OnDuty | None:
    if lab is None or _ON_DUTY not in current_app.extensions:
        return None
    return cast(AskDuty, current_app.extensions[_ON_DUTY])(db.session, now, ZoneInfo(lab.timezone))


def _rendered(lab: Lab | None, *, now: datetime, name: str, on_duty: OnDuty | None = None) -> str:
    """The page as text, with its style inside and nothing of a visitor in it; no copy on disk names who is on duty."""
    zone = ZoneInfo(lab.timezone) if lab is not None else ZoneInfo("UTC")
    return current_app.jinja_env.get_template("lab/help.html").render(
        emergency=emergency_of(lab),
        near_at_hand=_near_at_hand(emergency_of(lab)),
        on_duty=on_duty,
        orders=(*first_aid.FIRST_AID, first_aid.CUT),
        spills=first_aid.SPILLS,
        title=first_aid.HELP_FIRST,
        closing=first_aid.SDS_FIRST,
        reading=READING_TELLS_NOBODY,
        pieces_of=pieces_of,
        is_without_network=name == NO_NETWORK,
        as_of=f"{to_local(now, zone=zone):%a %-d %b %Y, %H:%M}",
        style="\n".join(_static(sheet) for sheet in _STYLE_SHEETS),
    )


def _near_at_hand(emergency: Emergency) -> tuple[tuple[str, str], ...]:
    """Where help is, the address first: it is what an ambulance asks."""
    *others, address = emergency.facts
    return (address, *others)


def _static(name: str) -> str:
    return (Path(str(current_app.static_folder)) / name).read_text(encoding="utf-8")


def _folder(app: Flask) -> Path:
    config: Config = app.config["LABSYS"]
    return config.instance


def _copy(name: str) -> str | None:
    try:
        return (_folder(current_app) / name).read_text(encoding="utf-8")
    except OSError:
        return None


def _answer(page: str, *, look: str | None) -> Response:
    """The page in the look of this screen. Its own style is let in by its digest, and no other."""
    chosen = page.replace(_ROOT, f'{_ROOT[:-1]} data-look="{look}">', 1) if look else page
    style = _STYLE.search(page)
    digest = b64encode(hashlib.sha256((style[1] if style else "").encode("utf-8")).digest()).decode("ascii")
    response = make_response(chosen)
    response.headers["Content-Security-Policy"] = (
        f"default-src 'none'; style-src 'sha256-{digest}'; script-src 'self'; img-src 'self'; connect-src 'self'; "
        "worker-src 'self'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'"
    )
    response.headers["Cache-Control"] = "no-cache"
    return response
