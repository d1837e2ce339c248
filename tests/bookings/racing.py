"""One of the two processes that race for the same bookings, or for the same offers."""

from collections import Counter
from collections.abc import Sequence
from multiprocessing.queues import Queue
from multiprocessing.synchronize import Barrier
from pathlib import Path
from typing import Any

from labsys.bookings import service, waiting
from labsys.bookings.rules import BookingRefused, Plan, SlotTaken
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


def race_for_offers(
    instance: Path,
    database_url: str,
    person_id: int | None,
    wait_ids: Sequence[int],
    now: Any,
    together: Barrier,
    outcomes: "Queue[Counter[str]]",
) -> None:
    """Take each offer at the same moment as the other process does, or as the lab it is (nobody) lets it lapse."""
    ended: Counter[str] = Counter()
    with create_app(settings(instance, database_url)).app_context():
        person = None if person_id is None else db.session.get_one(Person, person_id)
        for wait_id in wait_ids:
            together.wait(timeout=PATIENCE_S)
            act = Act(db.session, by=person, now=now)
            try:
                if person is None:
                    ended["lapsed" if waiting.lapse(act, wait_id=wait_id) else "too late to lapse"] += 1
                else:
                    waiting.accept(act, wait_id=wait_id)
                    ended["taken"] += 1
            except BookingRefused:
                ended["refused"] += 1
            except Exception as error:  # noqa: BLE001 (any other end is what the test looks for)
                ended[repr(error)] += 1
        db.session.remove()
        db.engine.dispose()
    outcomes.put(ended)
