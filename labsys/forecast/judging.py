"""What came of a forecast: each one kept is held beside what happened, once that is known, and never changed again."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from sqlalchemy import Select, func, select
from sqlalchemy.orm import joinedload

from labsys.baths.models import Bath, Use, UseBath
from labsys.baths.queries import for_life
from labsys.baths.rules import counted, life
from labsys.chemistry.life import Finding, Limit, State
from labsys.chemistry.sizes import Load, load_of, size_of
from labsys.database import DbSession
from labsys.forecast import rules
from labsys.forecast.models import BathForecast, BottleForecast, ClassForecast, ClassOutcome, Outcome, Run, Verdict
from labsys.ledger.models import Movement, Posting
from labsys.store.models import Bottle
from labsys.timetable.local_time import to_local
from labsys.timetable.opening import day_span


@dataclass(frozen=True)
class Ending:
    """When something ended, as far as it did; `out_at` is when it was taken out while it was still good."""

    ended_at: datetime | None = None
    out_at: datetime | None = None


def outcome_of(
    earliest: datetime | None,
    latest: datetime | None,
    ending: Ending,
    *,
    until: datetime,
    now: datetime,
    zone: ZoneInfo,
) -> Outcome | None:
    """How a range did, by whole days on the lab's clock; None while nobody can say."""
    first = None if earliest is None else day_span(to_local(earliest, zone=zone).date(), zone=zone).start
    last = None if latest is None else day_span(to_local(latest, zone=zone).date(), zone=zone).end
    end = ending.ended_at
    if end is not None and end < (until if first is None else first):
        return Outcome.BEFORE
    over = ending.out_at or now
    if end is not None:
        return Outcome.HELD if last is None or end < last else Outcome.AFTER
    if last is not None and over >= last:
        return Outcome.AFTER
    if last is None and over >= until:
        return Outcome.HELD
    return Outcome.CUT if ending.out_at is not None else None


def judge(session: DbSession, *, now: datetime, zone: ZoneInfo) -> int:
    """Step: say of each kept forecast that is still open what came of it. Returns of how many that was said."""
    first_of_days = select(func.min(Run.id)).group_by(Run.day)
    return (
        _judge_baths(session, first_of_days, now=now, zone=zone)
        + _judge_bottles(session, first_of_days, now=now, zone=zone)
        + _judge_classes(session, first_of_days, now=now)
    )


def _judge_baths(session: DbSession, runs: Select[int], *, now: datetime, zone: ZoneInfo) -> int:
    open_rows = (
        select(BathForecast)
        .where(BathForecast.run_id.in_(runs), BathForecast.outcome.is_(None), BathForecast.why_not_known == "")
        .options(joinedload(BathForecast.run), joinedload(BathForecast.bath).options(*for_life()))
    )
    rows = list(session.execute(open_rows).scalars().unique())
    endings = {bath.id: ending_of(session, bath, now=now) for bath in {row.bath for row in rows}}
    for row in rows:
        ending = endings[row.bath_id]
        row.outcome = outcome_of(row.earliest_at, row.latest_at, ending, until=row.run.until, now=now, zone=zone)
        if row.outcome is not None:
            row.ended_at = ending.ended_at or ending.out_at
    return sum(row.outcome is not None for row in rows)


def ending_of(session: DbSession, bath: Bath, *, now: datetime) -> Ending:
    """When a bath had taken all it may, was past its keeping time, or failed a test, whichever came first."""
    out_at = min((at for at in (bath.out_of_service_at, bath.dumped_at) if at is not None), default=None)
    left = life(bath, now=out_at or now)
    if left.state is not State.EXHAUSTED:
        return Ending(out_at=out_at)
    over = [finding for finding in left.findings if finding.share_used is not None and finding.share_used >= 1]
    return Ending(ended_at=min(_reached(session, bath, finding, by=out_at or now) for finding in over))


def _reached(session: DbSession, bath: Bath, finding: Finding, *, by: datetime) -> datetime:
    """When one rule's share came to the whole: the keeping time's end, the last test, or the use that took the rest."""
    if finding.limit is Limit.AGE:
        return bath.mixed_at + (by - bath.mixed_at) / float(finding.share_used or 1)
    if finding.limit not in (Limit.AREA, Limit.PIECES):
        tests = [check.checked_at for check in bath.checks if not check.is_fresh and check.checked_at <= by]
        return max(tests, default=by)
    facts = life(bath, now=by).facts
    weighed = [room for room in rules.fresh_rooms(facts) if bool(room.per_piece) is (finding.limit is Limit.PIECES)]
    share = sum(room.taken_by(counted(bath)) for room in weighed)
    for used_at, load in _newest_first(session, bath):
        share -= sum(room.taken_by(load) for room in weighed)
        if share < 1 - 1e-9:
            return used_at
    return by


def _newest_first(session: DbSession, bath: Bath) -> Iterable[tuple[datetime, Load]]:
    newer = Use.__table__.alias("newer")
    query = (
        select(Use.used_at, Use.size, Use.material, Use.count)
        .join(UseBath, UseBath.use_id == Use.id)
        .where(UseBath.bath_id == bath.id, Use.count > 0)
        .where(~select(newer.c.id).where(newer.c.corrects_id == Use.id).exists())
        .order_by(Use.used_at.desc(), Use.id.desc())
    )
    for used_at, size, material, count in session.execute(query):
        yield used_at, load_of(size=size_of(key=size), material=material, count=count)


def _judge_bottles(session: DbSession, runs: Select[int], *, now: datetime, zone: ZoneInfo) -> int:
    open_rows = (
        select(BottleForecast)
        .where(BottleForecast.run_id.in_(runs), BottleForecast.outcome.is_(None), BottleForecast.why_not_known == "")
        .options(joinedload(BottleForecast.run), joinedload(BottleForecast.bottle))
    )
    rows = list(session.execute(open_rows).scalars())
    empty = [row.bottle.vessel_id for row in rows if row.bottle.vessel.level == 0]
    moved = (
        select(Posting.vessel_id, func.max(Movement.happened_at))
        .join(Movement)
        .where(Posting.vessel_id.in_(empty))
        .group_by(Posting.vessel_id)
    )
    emptied = {row[0]: row[1] for row in session.execute(moved)}
    for row in rows:
        lapsed = _lapsed_at(row.bottle, zone=zone)
        ends = [at for at in (emptied.get(row.bottle.vessel_id), lapsed) if at is not None and at <= now]
        ending = Ending(ended_at=min(ends, default=None))
        row.outcome = outcome_of(row.earliest_at, row.latest_at, ending, until=row.run.until, now=now, zone=zone)
        if row.outcome is not None:
            row.ended_at = ending.ended_at
    return sum(row.outcome is not None for row in rows)


def _lapsed_at(bottle: Bottle, *, zone: ZoneInfo) -> datetime | None:
    return None if bottle.lapses_on is None else day_span(bottle.lapses_on, zone=zone).end


def _judge_classes(session: DbSession, runs: Select[int], *, now: datetime) -> int:
    open_rows = (
        select(ClassForecast)
        .join(ClassForecast.booking)
        .where(
            ClassForecast.run_id.in_(runs), ClassForecast.outcome.is_(None), ClassForecast.verdict != Verdict.NOT_KNOWN
        )
        .options(joinedload(ClassForecast.booking), joinedload(ClassForecast.bath).options(*for_life()))
    )
    rows = [row for row in session.execute(open_rows).scalars().unique() if row.booking.ends_at <= now]
    for row in rows:
        if row.bath is not None and row.booking.cancelled_at is None and row.booking.missed_at is None:
            row.outcome = _of_class(session, row.bath, row, now=now)
    return sum(row.outcome is not None for row in rows)


def _of_class(session: DbSession, bath: Bath, row: ClassForecast, *, now: datetime) -> ClassOutcome:
    """A bath fails in a class when more goes through by its end than it may take, or it had ended before."""
    starts_at, ends_at = row.booking.starts_at, row.booking.ends_at
    out_at = min((at for at in (bath.out_of_service_at, bath.dumped_at) if at is not None), default=None)
    if out_at is not None and out_at <= starts_at:
        return ClassOutcome.REPLACED
    ended_at = ending_of(session, bath, now=min(now, ends_at)).ended_at
    if ended_at is None or ended_at > ends_at:
        return ClassOutcome.LASTED
    if ended_at <= starts_at:
        return ClassOutcome.FAILED
    after = [load for used_at, load in _newest_first(session, bath) if used_at > ends_at]
    facts = life(bath, now=ends_at).facts
    over = any(
        room.taken_by(counted(bath)) - sum(room.taken_by(load) for load in after) > 1 + 1e-9
        for room in rules.fresh_rooms(facts)
    )
    past_age = any(
        finding.limit is Limit.AGE and finding.share_used is not None and finding.share_used >= 1
        for finding in life(bath, now=ends_at).findings
    )
    return ClassOutcome.FAILED if over or past_age else ClassOutcome.LASTED
