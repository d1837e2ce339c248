"""How earlier forecasts did: counted, and those that were wrong one by one."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from labsys.baths.queries import BATH
from labsys.bookings.queries import BOOKING
from labsys.database import DbSession
from labsys.forecast import queries, words
from labsys.forecast.drawn import Mark, Marked
from labsys.forecast.models import BathForecast, BottleForecast, ClassForecast, ClassOutcome, Outcome, Verdict
from labsys.store.queries import BOTTLE
from labsys.timetable.local_time import day_words, to_local

_LISTED = 50


@dataclass(frozen=True)
class Held:
    """How many ranges held, ended before or after; those cut short are counted apart, and in no share."""

    held: int
    before: int
    after: int
    cut: int

    @property
    def judged(self) -> int:
        return self.held + self.before + self.after

    @property
    def in_words(self) -> str:
        """How often the range held, or that nothing can be said yet."""
        if not self.judged:
            return "None can be judged yet."
        share = f"{100 * self.held / self.judged:.0f} %"
        wrong = f"{self.before} ended before their range, {self.after} after it"
        return f"{self.held} of {self.judged} held ({share}); {wrong}."


@dataclass(frozen=True)
class Record:
    """How the forecasts of the last year did; of classes, what was said and what came of it."""

    baths: Held
    bottles: Held
    classes: Mapping[tuple[Verdict, ClassOutcome], int]

    @property
    def failed(self) -> int:
        """Forecasts of classes in which a bath did not last."""
        return sum(count for (_, outcome), count in self.classes.items() if outcome is ClassOutcome.FAILED)

    @property
    def missed(self) -> int:
        """Of those, how many had said that it was enough."""
        return self.classes.get((Verdict.ENOUGH, ClassOutcome.FAILED), 0)

    @property
    def needless(self) -> int:
        """Forecasts that said it was not enough, and it was."""
        return self.classes.get((Verdict.NO, ClassOutcome.LASTED), 0)

    @property
    def of_classes(self) -> int:
        return sum(self.classes.values())


def record(session: DbSession) -> Record:
    """Count what came of each forecast that could be judged: the first of each day."""
    return Record(
        _held(queries.outcomes_of_baths(session)),
        _held(queries.outcomes_of_bottles(session)),
        queries.outcomes_of_classes(session),
    )


def _held(counts: Mapping[Outcome, int]) -> Held:
    return Held(*(counts.get(outcome, 0) for outcome in Outcome))


def marks(session: DbSession) -> list[Mark]:
    """What came of each class, beside what the newest forecast of an earlier day had said of its baths."""
    of_class: dict[int, dict[int, ClassForecast]] = defaultdict(dict)
    for row in queries.judged_classes(session):
        of_class[row.booking_id][row.bath_id or 0] = row  # in order of time: the newest stays
    return [_mark(list(rows.values())) for rows in of_class.values()]


def _mark(rows: list[ClassForecast]) -> Mark:
    booking = rows[0].booking
    failed = [row for row in rows if row.outcome is ClassOutcome.FAILED]
    if failed:
        marked = Marked.MISSED if any(row.verdict is Verdict.ENOUGH for row in failed) else Marked.WARNED
    else:
        marked = Marked.NEEDLESS if any(row.verdict is not Verdict.ENOUGH for row in rows) else Marked.QUIET
    return Mark(booking.starts_at, booking.class_name, marked)


@dataclass(frozen=True)
class Wrong:
    """One forecast that was wrong: of what, as of when, what it said, and what came."""

    what: str
    href: str
    made: str
    said: str
    came: str


def wrong_bath(row: BathForecast, *, now: datetime, zone: ZoneInfo) -> Wrong:
    """A bath that ended outside its range."""
    named = f"{row.bath.name} {row.bath.code}"
    return _wrong(row, named, BATH.address(row.bath_id), now=now, zone=zone)


def wrong_bottles(session: DbSession, *, now: datetime, zone: ZoneInfo) -> list[Wrong]:
    """Bottles that were empty or past their date outside their range, the newest first."""
    rows = queries.wrong_of_bottles(session, limit=_LISTED)
    return [_wrong(row, row.bottle.code, BOTTLE.address(row.bottle_id), now=now, zone=zone) for row in rows]


def _wrong(row: BathForecast | BottleForecast, named: str, href: str, *, now: datetime, zone: ZoneInfo) -> Wrong:
    said = words.range_in_words(row, row.run, now=now, zone=zone)
    if row.ended_at is None:
        came = "It was good for longer."
    else:
        came = f"It ended on {day_words(to_local(row.ended_at, zone=zone).date())}."
    if row.outcome is Outcome.AFTER and row.ended_at is not None:
        came = f"Still good when the range was over; seen until {day_words(to_local(row.ended_at, zone=zone).date())}."
    return Wrong(named, href, day_words(row.run.day), f"Ends {said}.", came)


def wrong_classes(session: DbSession, *, now: datetime, zone: ZoneInfo) -> list[Wrong]:
    """Classes in which a bath failed though it was said to be enough, or lasted though it was said not to be."""
    return [
        Wrong(
            f"{row.booking.class_name}, {day_words(to_local(row.booking.starts_at, zone=zone).date())}",
            BOOKING.address(row.booking_id),
            day_words(row.run.day),
            f"{row.bath.name} {row.bath.code}: {row.verdict}." if row.bath else "",
            f"It {row.outcome}." if row.outcome else "",
        )
        for row in queries.wrong_of_classes(session, limit=_LISTED)
    ]
