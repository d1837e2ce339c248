"""What pages read of the forecast that stands, and of those before it."""

from collections import Counter
from collections.abc import Sequence
from datetime import datetime

from sqlalchemy import Select, func, select
from sqlalchemy.orm import contains_eager, joinedload

from labsys.baths.models import Bath
from labsys.baths.queries import for_life
from labsys.bookings.models import Booking
from labsys.database import DbSession
from labsys.forecast.models import (
    BathForecast,
    BottleForecast,
    ClassForecast,
    ClassOutcome,
    Outcome,
    ProductForecast,
    Run,
    Verdict,
)

_NEWEST = select(func.max(Run.id)).scalar_subquery()


def newest(session: DbSession) -> Run | None:
    """The forecast that stands."""
    return session.execute(select(Run).order_by(Run.id.desc()).limit(1)).scalar_one_or_none()


def bath_rows(session: DbSession) -> list[BathForecast]:
    """What it says of each bath."""
    query = (
        select(BathForecast)
        .where(BathForecast.run_id == _NEWEST)
        .options(joinedload(BathForecast.bath).options(*for_life()))
        .order_by(BathForecast.id)
    )
    return list(session.execute(query).scalars().unique())


def of_bath(session: DbSession, bath_id: int) -> BathForecast | None:
    of_this = (BathForecast.run_id == _NEWEST, BathForecast.bath_id == bath_id)
    query = select(BathForecast).where(*of_this).options(joinedload(BathForecast.run))
    return session.execute(query).scalar_one_or_none()


def class_rows(
    session: DbSession,
    *,
    now: datetime,
    until: datetime | None = None,
    bath_id: int | None = None,
    booking_id: int | None = None,
) -> list[tuple[ClassForecast, BathForecast | None]]:
    """What it says of the classes that have not begun, in order of time: of all of them, of one, or of one bath.

    Each comes with what the same forecast says of the bath: what had gone through it then.
    """
    of_same = (BathForecast.run_id == ClassForecast.run_id) & (BathForecast.bath_id == ClassForecast.bath_id)
    query = (
        select(ClassForecast, BathForecast)
        .join(ClassForecast.booking)
        .outerjoin(BathForecast, of_same)
        .where(ClassForecast.run_id == _NEWEST, Booking.starts_at > now, Booking.cancelled_at.is_(None))
        .options(
            joinedload(ClassForecast.run),
            joinedload(ClassForecast.booking),
            joinedload(ClassForecast.bath).options(*for_life()),
        )
        .order_by(Booking.starts_at, ClassForecast.id)
    )
    if until is not None:
        query = query.where(Booking.starts_at < until)
    if bath_id is not None:
        query = query.where(ClassForecast.bath_id == bath_id)
    if booking_id is not None:
        query = query.where(ClassForecast.booking_id == booking_id)
    return [(row, of_bath) for row, of_bath in session.execute(query).unique()]


def spares(session: DbSession) -> list[Bath]:
    """Baths that can take another's place."""
    query = select(Bath).where(Bath.in_service_at.is_(None), Bath.dumped_at.is_(None)).options(*for_life())
    return list(session.execute(query.order_by(Bath.id)).scalars().unique())


def product_rows(session: DbSession) -> list[ProductForecast]:
    """What it says of each product in the store."""
    query = (
        select(ProductForecast)
        .where(ProductForecast.run_id == _NEWEST)
        .options(joinedload(ProductForecast.run), joinedload(ProductForecast.product))
        .order_by(ProductForecast.id)
    )
    return list(session.execute(query).scalars())


def bottle_rows(session: DbSession) -> list[BottleForecast]:
    """What it says of each bottle."""
    query = select(BottleForecast).where(BottleForecast.run_id == _NEWEST).options(joinedload(BottleForecast.bottle))
    return list(session.execute(query.order_by(BottleForecast.id)).scalars())


# How earlier ones did


def outcomes_of_baths(session: DbSession) -> Counter[Outcome]:
    return _counted(session, select(BathForecast.outcome, func.count()).group_by(BathForecast.outcome))


def outcomes_of_bottles(session: DbSession) -> Counter[Outcome]:
    return _counted(session, select(BottleForecast.outcome, func.count()).group_by(BottleForecast.outcome))


def _counted(session: DbSession, query: Select[Outcome | None, int]) -> Counter[Outcome]:
    return Counter({outcome: count for outcome, count in session.execute(query) if outcome is not None})


def outcomes_of_classes(session: DbSession) -> Counter[tuple[Verdict, ClassOutcome]]:
    """How often each verdict was followed by each outcome."""
    query = select(ClassForecast.verdict, ClassForecast.outcome, func.count()).where(ClassForecast.outcome.is_not(None))
    rows = session.execute(query.group_by(ClassForecast.verdict, ClassForecast.outcome))
    return Counter({(verdict, outcome): count for verdict, outcome, count in rows if outcome is not None})


def judged_classes(session: DbSession) -> list[ClassForecast]:
    """What was said of classes on days before them, of those that could be judged, in order of time."""
    query = (
        select(ClassForecast)
        .join(ClassForecast.run)
        .join(ClassForecast.booking)
        .where(ClassForecast.outcome.in_((ClassOutcome.LASTED, ClassOutcome.FAILED)))
        .options(contains_eager(ClassForecast.run), contains_eager(ClassForecast.booking))
        .order_by(Run.id)
    )
    return [row for row in session.execute(query).scalars() if row.run.made_at.date() < row.starts_at.date()]


def wrong_of_baths(session: DbSession, *, before_id: int | None, limit: int) -> list[BathForecast]:
    """Ranges outside of which a bath ended, the newest first; pages by key."""
    wrong = BathForecast.outcome.in_((Outcome.BEFORE, Outcome.AFTER))
    query = select(BathForecast).where(wrong).options(joinedload(BathForecast.run), joinedload(BathForecast.bath))
    if before_id is not None:
        query = query.where(BathForecast.id < before_id)
    return list(session.execute(query.order_by(BathForecast.id.desc()).limit(limit)).scalars())


def wrong_of_classes(session: DbSession, *, limit: int) -> Sequence[ClassForecast]:
    """Classes in which a bath failed though it was said to be enough, or lasted though it was said not to be."""
    missed = (ClassForecast.verdict == Verdict.ENOUGH) & (ClassForecast.outcome == ClassOutcome.FAILED)
    needless = (ClassForecast.verdict == Verdict.NO) & (ClassForecast.outcome == ClassOutcome.LASTED)
    query = (
        select(ClassForecast)
        .where(missed | needless)
        .options(joinedload(ClassForecast.run), joinedload(ClassForecast.booking), joinedload(ClassForecast.bath))
        .order_by(ClassForecast.id.desc())
    )
    return session.execute(query.limit(limit)).scalars().all()


def wrong_of_bottles(session: DbSession, *, limit: int) -> Sequence[BottleForecast]:
    wrong = BottleForecast.outcome.in_((Outcome.BEFORE, Outcome.AFTER))
    query = (
        select(BottleForecast).where(wrong).options(joinedload(BottleForecast.run), joinedload(BottleForecast.bottle))
    )
    return session.execute(query.order_by(BottleForecast.id.desc()).limit(limit)).scalars().all()
