"""The forecast is kept by the runner: worked out anew when what it rests on has changed, and once on each day."""

from datetime import datetime, timedelta
from hashlib import sha256
from zoneinfo import ZoneInfo

from sqlalchemy import delete, func, select

from labsys.baths.models import Batch, Bath, Check, Rotation, Use
from labsys.bookings.models import Booking
from labsys.courses.models import CourseProcess, Meeting
from labsys.database import DbSession
from labsys.forecast import queries
from labsys.forecast.judging import judge
from labsys.forecast.models import Run
from labsys.forecast.reading import read
from labsys.forecast.working import Row, work_out
from labsys.jobs.kinds import Kind, Made, Task
from labsys.ledger.models import Movement
from labsys.places.models import Closure
from labsys.products.models import Product
from labsys.records import queries as records
from labsys.records.transactions import transaction
from labsys.store.models import Bottle
from labsys.timetable.local_time import clock_words, to_local

LOOKED_AT_EVERY = timedelta(minutes=10)
KEPT_FOR = timedelta(days=366)


def keep_forecast(task: Task) -> Made:
    """Work the forecast out anew, unless nothing that it rests on has changed today."""
    run = keep(task.session, now=task.now())
    zone = records.zone(task.session)
    newest = run or queries.newest(task.session)
    assert newest is not None  # noqa: S101 - without one it was worked out just now
    said = clock_words(newest.made_at, zone=zone)
    return Made(f"Worked out at {said}." if run else f"As worked out at {said}: nothing has changed since.")


def keep(session: DbSession, *, now: datetime) -> Run | None:
    """Work the forecast out and keep it, with what came of earlier ones; None where the newest still stands."""
    zone = records.zone(session)
    day, basis = to_local(now, zone=zone).date(), basis_of(session, now=now)
    newest = queries.newest(session)
    if newest is not None and (newest.day, newest.basis) == (day, basis):
        return None
    facts = read(session, now=now, zone=zone)
    run = Run(made_at=now, day=day, until=facts.until, basis=basis)
    rows = list(work_out(facts, run))
    _write(session, run, rows, now=now, zone=zone)
    return run


KEEP_FORECAST = Kind(
    name="forecast", title="Work out how long baths and bottles last", run=keep_forecast, every=LOOKED_AT_EVERY
)


@transaction
def _write(session: DbSession, run: Run, rows: list[Row], *, now: datetime, zone: ZoneInfo) -> None:
    session.add_all([run, *rows])
    session.flush()
    first_of_days = select(func.min(Run.id)).group_by(Run.day)
    session.execute(delete(Run).where(Run.id != run.id, Run.id.not_in(first_of_days)))
    session.execute(delete(Run).where(Run.made_at < now - KEPT_FOR))
    judge(session, now=now, zone=zone)


def basis_of(session: DbSession, *, now: datetime) -> str:
    """A digest of all that a forecast rests on: it changes with every use, test, mixing, booking and bottle."""
    counts = (
        select(func.max(Use.id)),
        select(func.max(Check.id)),
        select(func.max(Batch.id)),
        select(func.max(Rotation.id)),
        select(func.count(Bath.in_service_at), func.count(Bath.out_of_service_at), func.count(Bath.dumped_at)),
        select(func.max(Movement.id)),
        select(func.max(Bottle.id), func.count(Bottle.lapses_on)),
        select(func.sum(Product.edition)),
        select(func.count(Closure.id), func.max(Closure.id)),
        select(func.count(Meeting.id), func.max(Meeting.id)),
        select(func.count(CourseProcess.id)),
        select(
            func.count(Booking.id),
            func.sum(Booking.version),
            func.count(Booking.cancelled_at),
            func.count(Booking.missed_at),
            func.max(Booking.id),
        ).where(Booking.ends_at > now),
    )
    told = [tuple(row) for query in counts for row in session.execute(query)]
    return sha256(repr(told).encode()).hexdigest()
