"""What pages show of the forecast: beside a bath, on a booking, on a course, on the first page, and on its own."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby
from zoneinfo import ZoneInfo

from labsys.baths.diary import Foreseen
from labsys.baths.models import Bath
from labsys.baths.rules import life
from labsys.bookings.models import Booking
from labsys.chemistry.life import State
from labsys.database import DbSession
from labsys.forecast import queries, words
from labsys.forecast.models import BathForecast, ClassForecast, Run, Verdict
from labsys.forecast.words import Answer
from labsys.records import queries as records
from labsys.store.models import Bottle

LOOKED_AHEAD = timedelta(days=7)  # for classes, on the first page
LISTED_AHEAD = timedelta(days=14)  # on its own page: later ones need a fresh bath in any case


@dataclass(frozen=True)
class BathShown:
    """What is said of a bath on its page: when it ends, and whether it is enough for the classes to come."""

    ends: str
    answers: tuple[Answer, ...]
    as_of: str
    estimate: str = words.AN_ESTIMATE


def of_bath(session: DbSession, bath: Bath, *, now: datetime, zone: ZoneInfo) -> BathShown | None:
    """The forecast beside a bath that stands; None for one that is dumped or waits to be."""
    if bath.is_waiting:
        return None
    run = queries.newest(session)
    row = queries.of_bath(session, bath.id) if run else None
    rows = queries.class_rows(session, now=now, bath_id=bath.id) if run else []
    answers = _answers(session, rows, now=now, zone=zone)
    if life(bath, now=now).state is State.EXHAUSTED:
        ends = ""  # the page says so above
    elif run is None or row is None:
        ends = "When it ends is not known: it has not been worked out yet."
    elif words.is_old(run, now=now, zone=zone):
        ends = "When it ends is not known today."
    elif words.moved_on(row, bath):
        ends = "When it ends is being worked out anew: more went through it since."
    else:
        ends = words.ends_in_words(row, run, now=now, zone=zone)
    return BathShown(ends, tuple(answers), words.as_of(run, now=now, zone=zone))


def foreseen_end(session: DbSession, bath: Bath, *, now: datetime) -> Foreseen | None:
    """Between which moments a bath is expected to end, for its diary; None where its page says that it is not known."""
    row = queries.of_bath(session, bath.id)
    if row is None or row.earliest_at is None or row.latest_at is None:
        return None
    is_of_now = not words.is_old(row.run, now=now, zone=records.zone(session)) and not words.moved_on(row, bath)
    return Foreseen(row.earliest_at, row.latest_at) if is_of_now else None


def of_class(session: DbSession, booking: Booking, *, now: datetime, zone: ZoneInfo) -> "ClassShown | None":
    """Whether the baths are enough for a class that has not begun; None for anything else."""
    if not booking.class_name or booking.starts_at <= now or booking.cancelled_at is not None:
        return None
    rows = queries.class_rows(session, now=now, booking_id=booking.id)
    answers = _answers(session, rows, now=now, zone=zone)
    run = rows[0][0].run if rows else queries.newest(session)
    if not answers:
        answers = [words.without_rows(booking, run, now=now, zone=zone)]
    return ClassShown(booking, tuple(words.worst_first(answers)), words.as_of(run, now=now, zone=zone))


@dataclass(frozen=True)
class ClassShown:
    """One class with what is said of each of its baths, the worst first."""

    booking: Booking
    answers: tuple[Answer, ...]
    as_of: str
    estimate: str = words.AN_ESTIMATE

    @property
    def verdict(self) -> Verdict:
        return self.answers[0].verdict

    @property
    def question(self) -> str:
        return self.answers[0].question

    @property
    def head(self) -> str:
        return self.answers[0].head

    @property
    def in_short(self) -> str:
        return words.in_short(self.answers)

    @property
    def is_enough(self) -> bool:
        return self.verdict is Verdict.ENOUGH

    @property
    def warns(self) -> bool:
        return self.verdict in (Verdict.NO, Verdict.PERHAPS)


def classes_ahead(
    session: DbSession, *, now: datetime, zone: ZoneInfo, until: datetime | None = None
) -> list[ClassShown]:
    """The classes to come, each with what is said of its baths, in order of time."""
    rows = queries.class_rows(session, now=now, until=until)
    answers = _answers(session, rows, now=now, zone=zone)
    as_of = words.as_of(rows[0][0].run, now=now, zone=zone) if rows else ""
    return [
        ClassShown(of_one[0].booking, tuple(words.worst_first(of_one)), as_of)
        for of_one in (list(group) for _, group in groupby(answers, key=lambda each: each.booking.id))
    ]


Rows = Sequence[tuple[ClassForecast, BathForecast | None]]


def _answers(session: DbSession, rows: Rows, *, now: datetime, zone: ZoneInfo) -> list[Answer]:
    may_need_one = any(row.verdict is not Verdict.ENOUGH for row, _ in rows)
    spares = queries.spares(session) if may_need_one else []
    return [words.answer(row, of_bath, spares=spares, now=now, zone=zone) for row, of_bath in rows]


# Its own page


@dataclass(frozen=True)
class BathRow:
    """A bath with its range, for the table and the chart."""

    bath: Bath
    row: BathForecast
    said: str


@dataclass(frozen=True)
class BottleRow:
    bottle: Bottle
    said: str


@dataclass(frozen=True)
class Whole:
    """All that the forecast says: baths by how soon they end, those not known first; classes and bottles."""

    run: Run
    rows: tuple[BathRow, ...]
    classes: tuple[ClassShown, ...]
    bottles: tuple[BottleRow, ...]


def whole(session: DbSession, run: Run, *, now: datetime, zone: ZoneInfo) -> Whole:
    """Everything that the newest forecast says."""
    standing = [row for row in queries.bath_rows(session) if not row.bath.is_waiting]
    rows = [BathRow(row.bath, row, words.ends_in_words(row, run, now=now, zone=zone)) for row in standing]
    rows.sort(key=lambda each: (not each.row.why_not_known, each.row.earliest_at or run.until, each.bath.id))
    bottles = [
        BottleRow(row.bottle, words.bottle_in_words(row, run, now=now, zone=zone))
        for row in queries.bottle_rows(session)
        if row.bottle.vessel.level
    ]
    return Whole(
        run, tuple(rows), tuple(classes_ahead(session, now=now, zone=zone, until=now + LISTED_AHEAD)), tuple(bottles)
    )
