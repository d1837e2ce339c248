"""The state of the play: who is who, what time it is, and a generator that tells the same story every time."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from functools import partial
from random import Random
from typing import Any
from zoneinfo import ZoneInfo

from labsys.config import Config
from labsys.database import DbSession
from labsys.demo.fixtures import Entry, Fixtures
from labsys.documents.document import Document, P
from labsys.documents.service import issue_document
from labsys.people.acts import Act
from labsys.people.models import Person
from labsys.people.passwords import Cost
from labsys.timetable.local_time import to_instant, to_local

WEEKS = 13
SEED = 1897

Scene = tuple[datetime, Callable[[], object]]


@dataclass
class Play:
    """What every scene needs. `at` is the time in the play; it only goes on.

    `ids` holds what was entered, by its kind and the key that the fixtures know it by; people by their key alone.
    """

    session: DbSession
    fixtures: Fixtures
    now: datetime
    password: str
    cost: Cost
    random: Random = field(default_factory=lambda: Random(SEED))  # noqa: S311 - a story, not a secret
    ids: dict[str, int] = field(default_factory=dict)
    at: datetime = field(init=False)

    def __post_init__(self) -> None:
        self.zone = ZoneInfo(self.fixtures.told["lab"]["settings"]["timezone"])
        self.today = to_local(self.now, zone=self.zone).date()
        self.at = self.instant(self.day(WEEKS * 7 + 1), time(9, 0))

    def day(self, days_ago: int) -> date:
        return self.today - timedelta(days=days_ago)

    def instant(self, day: date, clock: time) -> datetime:
        return to_instant(datetime.combine(day, clock), zone=self.zone)

    def scene(self, days_ago: int, clock: str, scene: Callable[["Play", Entry], object], told: Entry) -> Scene:
        """What an entry of the fixtures tells, on a day before today at a time on the lab's clock."""
        return self.instant(self.day(days_ago), time.fromisoformat(clock)), partial(scene, self, told)

    def later(self) -> datetime:
        """Let two minutes pass, and say what time it is."""
        self.at += timedelta(minutes=2)
        return self.at

    def act(self, who: Person | str | None) -> Act:
        """An act of somebody, or of the lab itself, two minutes after the last one."""
        self.later()
        return self.act_now(who)

    def act_now(self, who: Person | str | None) -> Act:
        """An act at the time that it is in the play."""
        return Act(self.session, by=self.person(who) if isinstance(who, str) else who, now=self.at)

    def issue(self, who: Person | str, document: Document[P, Any], asked: P) -> None:
        """Let somebody issue a document; its codes lead to this machine."""
        issue_document(self.act(who), document, asked, public_url=Config.public_url)

    def person(self, key: str) -> Person:
        return self.session.get_one(Person, self.ids[key])

    @property
    def technician(self) -> Person:
        """The two technicians take turns by the day."""
        return self.person("joss" if self.at.toordinal() % 2 else "hana")
