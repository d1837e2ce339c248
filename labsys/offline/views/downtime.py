"""After the power was gone: what is on the sheets of the downtime pack is entered once, with the real times."""

from collections.abc import Callable
from datetime import date
from typing import Any, cast

from flask import g
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.answers import form_page, saved
from labsys.baths import queries as baths
from labsys.baths import uses
from labsys.baths.rules import WAITS
from labsys.database import db
from labsys.forms import given
from labsys.offline import entries, queries
from labsys.offline.blueprint import bp
from labsys.offline.entries import NotTaken
from labsys.offline.forms import CameRow, DowntimeForm, WentRow, instant_on
from labsys.people.access import current_person, permits
from labsys.people.acts import Act, AlreadyDone, SubmissionKeyMisused
from labsys.people.models import Person
from labsys.people.permissions import NotPermitted, Permission, may
from labsys.people.queries import people_here
from labsys.presence import service as presence
from labsys.presence.queries import key_of
from labsys.presence.service import Way
from labsys.quantities import counted
from labsys.records.errors import NotFound, Refused
from labsys.timetable.local_time import to_local

_MOST_NAMES = 500


@bp.route("/downtime", methods=["GET", "POST"])
@permits(Permission.BOOK_FOR_OTHERS)
def downtime() -> ResponseReturnValue:
    """Enter what is on paper of one day; a line that cannot be entered comes back with why, and the others stand."""
    form = DowntimeForm()
    form.offer(baths.lines(db.session) if may(current_person(), Permission.LOG_TALLY) else [])
    waits = False
    if form.validate_on_submit():
        day = given(form.day.data)
        for row in form.rows:
            said = _entered(row, day)
            waits = waits or said == WAITS
        if not any(row.errors for row in form.rows):
            done = f"Entered: {counted(len(form.rows), 'line')} of paper."
            return saved(f"{done} {WAITS}" if waits else done, ".downtime")
        form.form_errors.append("What has a remark is not entered. The other lines are, and stay so if you send again.")
    elif not form.is_submitted():
        form.day.data = to_local(clock.now(), zone=g.zone).date()
    names = [person.name for person in people_here(db.session)]
    return form_page("offline/downtime.html", form, names=names if len(names) <= _MOST_NAMES else [])


def _entered(row: CameRow | WentRow, day: date) -> str:
    """Enter one line, and say what came of it; what stands against it is said beside it."""
    enter = cast(Callable[..., str], _came if isinstance(row, CameRow) else _went)
    try:
        person = _person(row.who.data or "")
        said = enter(row, person, day)
    except (Refused, NotFound, NotPermitted, ValueError) as error:
        row.refuse(str(error))
        return str(error)
    row.is_done = True
    return said


def _came(row: CameRow, person: Person, day: date) -> str:
    came_at = instant_on(day, row.came.data or "")
    left_at = instant_on(day, row.left.data, after=came_at) if row.left.data else None
    if left_at is None and day < to_local(clock.now(), zone=g.zone).date():
        raise NotTaken("They came on another day: write when they went.")
    person_id, line_key, refusal = person.id, row.line_key.data or "", None

    def come(act: Act) -> str:
        return entries.arrive_or_come(act, person_id=person_id, at=came_at, is_by_hand=True)

    try:
        said = _once(line_key, come)
    except NotTaken as why:  # they are in the building all the same
        said, refusal = str(why), why
    if left_at is not None:
        left: dict[str, Any] = {"key": key_of(person_id), "way": Way.OUT, "at": left_at, "is_by_hand": True}
        _once(f"{line_key}-out", lambda act: str(presence.touch(act, **left)))
    if refusal is not None:
        raise refusal
    return said


def _went(row: WentRow, person: Person, day: date) -> str:
    used_at = instant_on(day, row.at.data or "")
    logged: dict[str, Any] = {
        "line_id": row.line.data,
        "went": [row.pieces],
        "used_at": used_at,
        "person_id": person.id,
    }
    logged["class_name"] = row.class_name.data or ""
    return _once(row.line_key.data or "", lambda act: "Logged." if uses.log_uses(act, **logged) else WAITS)


def _once(key: str, do: Callable[[Act], str]) -> str:
    """Do what a line says, or nothing where the line was entered before."""
    if queries.was_acted_on(db.session, key):
        return "Entered already."
    try:
        return do(Act(db.session, by=current_person(), now=clock.now(), key=key))
    except (AlreadyDone, SubmissionKeyMisused):
        return "Entered already."


def _person(typed: str) -> Person:
    people = queries.person_named(db.session, typed)
    if len(people) == 1:
        return people[0]
    if people:
        raise NotTaken(f"Several people are called {typed}. Write the e-mail address.")
    raise NotTaken(f"Nobody here is called {typed}. A guest is noted under In the building.")
