"""How long the longest acts of a term hold the write lock: the whole time that the act takes, since it begins by it.

    .venv/bin/python -m benchmarks.lock

A small lab on SQLite in a folder for temporary files: a term is booked, a roster comes in by parts, and a closure moves
two hundred bookings in one act. Each is done once, and its time printed by the clock, what waits for the disk included.
"""

import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import flask_migrate
from sqlalchemy import select

from labsys.closing import service as closing
from labsys.closing.rules import Answer, Fate, Scope
from labsys.courses import service as courses
from labsys.courses.dates import Decided
from labsys.courses.roster import Row
from labsys.courses.rules import Term
from labsys.courses.service import PART, CourseEntry
from labsys.database import db
from labsys.people import service as people
from labsys.people.models import Role
from labsys.places import service as places
from labsys.places.models import Room
from labsys.places.rules import StationFacts
from labsys.timetable.spans import Span
from labsys.web import create_app
from tests.conftest import settings
from tests.support.lab import START, SmallLab

MONDAY = datetime(2026, 3, 9, 18, tzinfo=UTC)
HOURS = timedelta(hours=2)
WEEKS, STUDENTS, HIT = 12, 18, 200


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        app = create_app(settings(Path(folder), f"sqlite:///{folder}/labsys.sqlite3"))
        with app.app_context():
            flask_migrate.upgrade()
            _measure(SmallLab.set_up(db.session))
            db.session.remove()
            db.engine.dispose()


def _measure(lab: SmallLab) -> None:
    lab.add_places()
    print(f"{'act':<56}{'ms by the clock':>16}")
    few = _rows(STUDENTS)
    course = _row(f"a course: {WEEKS} weeks, {STUDENTS} on the roster", lambda: _term(lab, "First prints", WEEKS, few))
    _row("a course: 100 weeks", lambda: _term(lab, "Every week", 100, ()))
    rows = _rows(PART)
    _row(f"a part of a long roster: {PART} rows", lambda: _more(lab, course, rows))
    _row("the same part again, nobody new", lambda: _more(lab, course, rows))
    scope, span, answers = _booked(lab)
    _row(
        f"a closure that moves {HIT} bookings",
        lambda: closing.close(lab.act("technician"), scope=scope, span=span, reason="new lamp", answers=answers),
    )


def _row(name: str, work: Callable[[], Any]) -> Any:
    began = time.perf_counter()
    outcome = work()
    print(f"{name:<56}{1_000 * (time.perf_counter() - began):>16.0f}")
    return outcome


def _rows(count: int) -> list[Row]:
    return [Row(number, f"Guest {number}", f"guest.{number}@example.org") for number in range(count)]


def _term(lab: SmallLab, name: str, weeks: int, rows: Any) -> int:
    hour = MONDAY if rows else MONDAY - 3 * HOURS
    starts = [hour + timedelta(weeks=week) for week in range(weeks)]
    entry = CourseEntry(
        name,
        "spring 2026",
        Term(MONDAY.date(), 60 * hour.hour, 60 * hour.hour + 120, f"FREQ=WEEKLY;COUNT={weeks}"),
        lab.ids["Enlarger"],
        4,
        (lab.ids["instructor"],),
        override="measured",
    )
    dates = [Decided(start.date(), Span(start, start + HOURS)) for start in starts]
    return courses.set_up(lab.act("instructor"), entry=entry, dates=dates, rows=rows).id


def _more(lab: SmallLab, course_id: int, rows: Any) -> None:
    courses.add_students(lab.act("instructor"), course_id=course_id, rows=rows)


def _booked(lab: SmallLab) -> tuple[Scope, Span, dict[int, Answer]]:
    """A hall of twenty units, two hundred bookings in it, and where each can go: nothing of this is measured."""
    room = db.session.scalars(select(Room)).first()
    assert room is not None
    facts = StationFacts(position=9, margin_minutes=15, note="")
    hall = places.add_station(lab.act("technician"), room_id=room.id, name="Hall", units=20, facts=facts)
    lab.ids["Hall"] = hall.id
    for number in range(20):
        invited = people.invite_person(
            lab.act("manager"), name=f"Member {number}", email=f"m{number}@example.org", roles=[Role.MEMBER]
        )
        lab.come_in(f"member {number}", invited)
    day = datetime(START.year, START.month, START.day, tzinfo=UTC) + timedelta(days=1)
    for number in range(HIT):
        start = day + timedelta(days=number // 80, hours=10 + 3 * (number // 20 % 4))
        lab.book("Hall", Span(start, start + HOURS), role=f"member {number % 20}")
    scope, span = Scope(station_id=hall.id), Span(day, day + timedelta(hours=96))
    hits = closing.hits_of(db.session, scope=scope, span=span, reason="new lamp", now=lab.now)
    return scope, span, {hit.booking.id: Answer(Fate.MOVE, hit.moves[0]) for hit in hits}


if __name__ == "__main__":
    main()
