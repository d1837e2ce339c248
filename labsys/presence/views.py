"""Pages of who is in the building: the list, a touch in, a touch out."""

from datetime import timedelta

from flask import Blueprint, flash, g, jsonify, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import refusals_at, saved
from labsys.database import db
from labsys.duty import queries as duty
from labsys.duty.rules import NO_ALARM
from labsys.forms import LabForm
from labsys.people.access import current_person, permits, this_act
from labsys.people.acts import AlreadyDone
from labsys.people.permissions import Permission, may
from labsys.presence import pages, queries, service
from labsys.presence.forms import GuestForm, TouchForm
from labsys.records.errors import NotFound, Refused

bp = Blueprint("presence", __name__)

LONGER = timedelta(hours=1)


@bp.get("/building")
@permits(Permission.SEE_LAB)
def index() -> ResponseReturnValue:
    """Show who is in the building: to whoever notes arrivals everybody, to anybody else themselves and a number."""
    now, person = clock.now(), current_person()
    heads = queries.heads(db.session)
    settings = duty.settings(db.session)
    own_key = queries.key_of(person.id)
    sees_all = may(person, Permission.BOOK_FOR_OTHERS)
    to_call = queries.contacts(db.session, heads) if sees_all and person.confined_to is None else pages.NOBODY
    views = pages.head_views(heads, now=now, after=settings.overdue_after, zone=g.zone, contacts=to_call)
    return render_template(
        "presence/index.html",
        heads=views if sees_all else [view for view in views if view.key == own_key],
        expected=queries.expected(db.session, now=now, zone=g.zone, but_for=heads) if sees_all else [],
        said=pages.in_a_sentence(pages.how_many(heads)),
        own_key=own_key,
        is_in=any(view.key == own_key for view in views),
        sees_all=sees_all,
        guest=GuestForm(formdata=None),
        no_alarm=NO_ALARM,
    )


@bp.post("/building/touch")
@permits(Permission.SEE_LAB)
def touch() -> ResponseReturnValue:
    """Note that somebody came or went: by a button, or by the script of the page, which is answered in JSON."""
    form = TouchForm()
    if not form.validate():
        return _refused("This page had been open too long. Open it again.")
    act = this_act(form)
    try:
        service.touch(act, key=form.who.data or "", way=form.went, at=act.now)
    except AlreadyDone:
        return _done("That is noted already.")  # a phone that did not hear of it the first time
    except (Refused, NotFound) as refusal:
        return _refused(str(refusal))
    return _done("Noted as in." if form.went is service.Way.IN else "Noted as out.")


@bp.post("/building/guests")
@permits(Permission.BOOK_FOR_OTHERS)
def add_guest() -> ResponseReturnValue:
    """Note somebody without an account who came."""
    form = GuestForm()
    if not form.validate():
        return _refused(" ".join(form.name.errors) or "Open this page again.")
    act = this_act(form)
    try:
        presence = service.add_guest(act, name=form.name.data or "", at=act.now)
    except AlreadyDone:
        return _done("That is noted already.")
    except Refused as refusal:
        return _refused(str(refusal))
    return _done(f"{presence.name} is in.")


@bp.post("/building/<string:key>/longer")
@permits(Permission.SEE_LAB)
def stay_longer(key: str) -> ResponseReturnValue:
    """Say that somebody stays an hour longer."""
    form = LabForm()
    form.validate()
    act = this_act(form)
    head = queries.head_of(db.session, key)
    until = max(head.until if head else act.now, act.now) + LONGER
    with refusals_at(".index"):
        service.stay_longer(act, key=key, until=until)
    return saved("An hour longer is noted.", ".index")


def _is_script() -> bool:
    return request.accept_mimetypes.best == "application/json"


def _done(message: str) -> ResponseReturnValue:
    return jsonify(said=message) if _is_script() else saved(message, ".index")


def _refused(message: str) -> ResponseReturnValue:
    if _is_script():
        return jsonify(said=message), 422
    flash(message, "problem")
    return redirect(url_for(".index"), 303)
