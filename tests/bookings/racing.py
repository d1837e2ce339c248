"""One of the two processes that race for the same bookings."""

from collections import Counter
from collections.abc import Sequence
from multiprocessing.queues import Queue
from multiprocessing.synchronize import Barrier
from pathlib import Path
from typing import Any

from labsys.bookings import service
from labsys.bookings.rules import Plan, SlotTaken
from labsys.database import db
from labsys.people.acts import Act
from labsys.people.models import Person
from labsys.timetable.spans import Span
from labsys.web import create_app
from tests.conftest import settings
from tests.support.waiting import PATIENCE_S


def race(
    instance: Path,
    database_url: str,
    person_id: int,
    station_id: int,
    slots: Sequence[Span],
    now: Any,
    together: Barrier,
    outcomes: "Queue[Counter[str]]",
) -> None:
    """Try to book each slot at the same moment as the other process, and count how it ended."""
    ended: Counter[str] = Counter()
    with create_app(settings(instance, database_url)).app_context():
        person = db.session.get_one(Person, person_id)
        for slot in slots:
            together.wait(timeout=PATIENCE_S)
            try:
                service.book(
                    Act(db.session, by=person, now=now),
                    person_id=person_id,
                    station_id=station_id,
                    span=slot,
                    plan=Plan(),
                )
                ended["won"] += 1
            except SlotTaken:
                ended["taken"] += 1
            except Exception as error:  # noqa: BLE001 (any other end is what the test looks for)
                ended[repr(error)] += 1
        db.session.remove()
        db.engine.dispose()
    outcomes.put(ended)
