"""An entry made without a network: the form it would have been, read as that form, and given to the same act."""

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any, TypeVar

from flask import current_app, g
from werkzeug.datastructures import MultiDict
from werkzeug.exceptions import HTTPException
from werkzeug.routing import RequestRedirect

from labsys.baths import queries as baths
from labsys.baths import uses
from labsys.baths.models import BathLine
from labsys.baths.rules import WAITS
from labsys.baths.use_forms import UseForm
from labsys.baths.use_pages import pieces_in_words
from labsys.bookings import queries as bookings
from labsys.bookings import service as booking_service
from labsys.bookings.models import Booking
from labsys.database import DbSession
from labsys.forms import CLOCK_TOLERANCE, LabForm
from labsys.incidents import service as incidents
from labsys.incidents.forms import KIND_NAMES, ReportForm
from labsys.lab.emergency import emergency_of
from labsys.people.acts import Act
from labsys.people.permissions import Permission, may
from labsys.places import queries as places
from labsys.presence import queries as presence_queries
from labsys.presence import service as presence
from labsys.presence.forms import GuestForm, TouchForm
from labsys.presence.service import Way
from labsys.processes import queries as processes
from labsys.products import queries as products
from labsys.records.errors import Refused
from labsys.restrictions.rules import NotOpen

ONESELF = "me"  # whom a touch is about that was made on the page kept on a device
OLDEST = timedelta(days=60)
MOST_FIELDS = 200
LONGEST_FIELD = 4_000
_NOT_OPEN = "This process is not open to whoever came. They can read why under their own booking."
F = TypeVar("F", bound=LabForm)
Typed = MultiDict[str, str]


class NotTaken(Refused):
    """What was entered could not be taken over as it stands; the message says why and what to do."""


@dataclass(frozen=True)
class Entry:
    """What was typed, where it would have been sent, and when by the clock of this server."""

    key: str
    path: str
    fields: tuple[tuple[str, str], ...]
    happened_at: datetime
    who: str = ""

    @property
    def typed(self) -> Typed:
        return MultiDict(self.fields)

    @property
    def as_json(self) -> str:
        return json.dumps(self.fields)


def read_entry(sent: Any) -> Entry:
    """Read what a device sent of one entry. Raises ValueError for what no page of ours sends."""
    if not isinstance(sent, Mapping):
        raise ValueError("not an entry")
    key, path, fields, happened = (sent.get(name) for name in ("key", "path", "fields", "happened"))
    if not (isinstance(key, str) and 8 <= len(key) <= 36 and isinstance(path, str) and len(path) <= 200):
        raise ValueError("no key or no path")
    if not (isinstance(fields, list) and len(fields) <= MOST_FIELDS and all(map(_is_field, fields))):
        raise ValueError("no fields")
    if isinstance(happened, bool) or not isinstance(happened, int) or not 0 <= happened < 10**14:
        raise ValueError("no time")
    happened_at = datetime(1970, 1, 1, tzinfo=UTC) + timedelta(milliseconds=happened)
    who = sent.get("who")
    return Entry(key, path, tuple((name, text) for name, text in fields), happened_at, str(who) if who else "")


def fields_of(kept: str) -> tuple[tuple[str, str], ...]:
    """What was typed, as it is kept."""
    return tuple((name, text) for name, text in json.loads(kept))


def check_time(happened_at: datetime, *, now: datetime) -> None:
    """Raise NotTaken for a time that nobody can have meant."""
    if happened_at > now + CLOCK_TOLERANCE:
        raise NotTaken("That is in the future. The clock of the device stands wrong, or was changed meanwhile.")
    if happened_at < now - OLDEST:
        raise NotTaken(f"That is more than {OLDEST.days} days ago. Have it entered by hand.")


def check_form(entry: Entry) -> None:
    """Raise NotTaken for what is sent to no form that devices keep."""
    _where(entry.path)


def take_over(act: Act, entry: Entry) -> str:
    """Give an entry to the act its form would have gone to, as of when it happened, and say what came of it.

    Raises whatever that act raises, or NotTaken.
    """
    check_time(entry.happened_at, now=act.now)
    endpoint, numbers = _where(entry.path)
    return _TAKEN[endpoint](act, min(entry.happened_at, act.now), entry.typed, **numbers)


def in_words(session: DbSession, entry: Entry) -> str:
    """Say what an entry is, without who was hurt."""
    endpoint, numbers = _where(entry.path)
    if endpoint == "baths.log":
        line = session.get(BathLine, numbers["line_id"])
        if line is None:
            return "Work through a line that is not there"
        form = _form(UseForm, entry.typed)
        form.went.offer(line.work)
        form.validate()
        return f"{', '.join(map(pieces_in_words, form.went.data)) or 'Work'} through {line.name}"[:400]
    if endpoint == "incidents.report":
        kind = {str(kind): name for kind, name in KIND_NAMES.items()}.get(entry.typed.get("kind", ""), "")
        return f"Incident: {kind or 'not said what'}. {entry.typed.get('what', '')}"[:400]
    if endpoint == "presence.touch":
        return "Came in" if entry.typed.get("way") == Way.IN else "Went out"
    if endpoint == "presence.add_guest":
        return f"A guest came: {entry.typed.get('name', '')}"[:400]
    return "Arrived on a booking"


def counted(number: int) -> str:
    """Say how many entries.

    >>> counted(1), counted(3)
    ('1 entry', '3 entries')
    """
    return "1 entry" if number == 1 else f"{number} entries"


def is_incident(entry: Entry) -> bool:
    return _where(entry.path)[0] == "incidents.report"


def _is_field(field: Any) -> bool:
    return (
        isinstance(field, list)
        and len(field) == 2
        and all(isinstance(part, str) and len(part) <= LONGEST_FIELD for part in field)
    )


def _where(path: str) -> tuple[str, dict[str, Any]]:
    """Which form is sent to a path, and the numbers in it. Raises NotTaken for one that is not kept on devices."""
    try:
        endpoint, numbers = current_app.url_map.bind("localhost").match(path, method="POST")
    except (HTTPException, RequestRedirect) as error:
        raise NotTaken("There is no such form.") from error
    if endpoint not in _TAKEN:
        raise NotTaken("This form is not taken over from a device.")
    return str(endpoint), dict(numbers)


def _form(kind: type[F], typed: Typed) -> F:
    return kind(formdata=typed, meta={"csrf": False})


def _require_valid(form: LabForm) -> None:
    if not form.validate():
        told = [message for field in form for message in field.errors if isinstance(message, str)]
        raise NotTaken(" ".join([*form.form_errors, *told]) or "It is not filled in.")


def _log(act: Act, at: datetime, typed: Typed, *, line_id: int) -> str:
    """Work of which nobody could ask before whether it may start is recorded as done, and flagged."""
    line = baths.line_or_raise(act.session, line_id)
    form = _form(UseForm, typed)
    form.went.offer(line.work)
    if not may(act.actor, Permission.LOG_TALLY):
        del form.class_name
    _require_valid(form)
    logged = uses.log_uses(
        act,
        line_id=line_id,
        went=form.went.data,
        used_at=form.used_at.instant if form.used_at.data and form.used_at.instant else at,
        class_name=(form.class_name.data or "") if form.class_name else "",
    )
    if not logged:
        return WAITS
    return " ".join(dict.fromkeys(["Logged.", *(use.flag for use in logged if use.flag)]))


def _arrive(act: Act, at: datetime, typed: Typed, *, booking_id: int) -> str:
    booking = bookings.booking_or_raise(act.session, booking_id)
    return _come_on(act, booking, at=at, fan_runs=typed.get("fan_runs") == "yes")


def arrive_or_come(act: Act, *, person_id: int, at: datetime, is_by_hand: bool = False) -> str:
    """Note that somebody came: on what they had booked then, or else as in the building."""
    running = bookings.running(act.session, person_id=person_id, now=at)
    booking = next((row for row in running if row.arrived_at is None and at < row.ends_at), None)
    if booking is not None:
        return _come_on(act, booking, at=at, is_by_hand=is_by_hand)
    key = presence_queries.key_of(person_id)
    presence.touch(act, key=key, way=Way.IN, at=at, is_by_hand=is_by_hand)
    return "Noted as in."


def _come_on(act: Act, booking: Booking, *, at: datetime, is_by_hand: bool = False, fan_runs: bool = False) -> str:
    """Note an arrival on a booking. Where that is refused they are in the building all the same, which is noted."""
    if booking.arrived_at is not None:
        return "The arrival is noted already."
    booking_id, key = booking.id, presence_queries.key_of(booking.person_id)
    try:
        booking_service.arrive(act, booking_id=booking_id, at=at, fan_runs=fan_runs)
    except Refused as refusal:
        why = _NOT_OPEN if isinstance(refusal, NotOpen) else str(refusal)
        presence.touch(act, key=key, way=Way.IN, at=at, is_by_hand=is_by_hand)
        raise NotTaken(f"Noted as in the building, but not on the booking: {why}") from refusal
    return "Arrived."


def _report(act: Act, at: datetime, typed: Typed) -> str:
    form = _form(ReportForm, typed)
    form.offer(
        stations=places.stations(act.session),
        processes=processes.processes(act.session),
        products=products.products(act.session),
    )
    _require_valid(form)
    happened_at = form.happened_at.instant if form.happened_at.data and form.happened_at.instant else at
    incidents.report(act, told=form.told, happened_at=happened_at)
    return f"Written down. {emergency_of(g.lab).nobody_told} The safety adviser sees it on Today."


def _touch(act: Act, at: datetime, typed: Typed) -> str:
    form = _form(TouchForm, typed)
    _require_valid(form)
    is_own = form.who.data == ONESELF
    if is_own and form.went is Way.IN:
        return arrive_or_come(act, person_id=act.actor.id, at=at)
    key = presence_queries.key_of(act.actor.id) if is_own else form.who.data or ""
    presence.touch(act, key=key, way=form.went, at=at)
    return "Noted as in." if form.went is Way.IN else "Noted as out."


def _add_guest(act: Act, at: datetime, typed: Typed) -> str:
    form = _form(GuestForm, typed)
    _require_valid(form)
    return f"{presence.add_guest(act, name=form.name.data or '', at=at).name} is in."


_TAKEN: dict[str, Callable[..., str]] = {
    "baths.log": _log,
    "bookings.arrive": _arrive,
    "incidents.report": _report,
    "presence.touch": _touch,
    "presence.add_guest": _add_guest,
}
