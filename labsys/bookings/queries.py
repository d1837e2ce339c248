"""What pages and other rooms read of bookings and holds."""

from collections.abc import Collection, Mapping, Sequence
from datetime import datetime, timedelta
from types import MappingProxyType

from sqlalchemy import and_, func, or_, select
from sqlalchemy.orm import joinedload, selectinload

from labsys.bookings.free import Present
from labsys.bookings.models import Booking, Hold, Supervision, Wait
from labsys.bookings.rules import EARLIEST_ARRIVAL, LONGEST, heads
from labsys.database import DbSession
from labsys.people.models import Person
from labsys.people.row_kinds import Page, RowKind
from labsys.places.models import Station, StationUnit
from labsys.places.rules import LONGEST_MARGIN_MINUTES
from labsys.records.errors import NotFound
from labsys.records.queries import get_or_raise
from labsys.timetable.spans import Span

STILL_LOGGED = timedelta(hours=12)  # after a booking, its work is still the likeliest to be logged
LONGEST_HOLD = LONGEST + timedelta(minutes=LONGEST_MARGIN_MINUTES)


def booking_or_raise(session: DbSession, booking_id: int, *, lock: bool = False) -> Booking:
    whole = (
        joinedload(Booking.person).lazyload(Person.role_rows),
        joinedload(Booking.station).joinedload(Station.room),
        joinedload(Booking.process),
        selectinload(Booking.holds).joinedload(Hold.unit),
    )
    return get_or_raise(session, Booking, booking_id, "booking", lock=lock, options=whole)


def person_here_or_raise(session: DbSession, person_id: int) -> Person:
    """A person, kept from being closed out until the act is over."""
    query = (
        select(Person)
        .where(Person.id == person_id)
        .with_for_update(read=True)
        .execution_options(populate_existing=True)
    )
    person = session.execute(query).scalar_one_or_none()
    if person is None:
        raise NotFound("person", person_id)
    return person


def taken(
    session: DbSession,
    *,
    unit_ids: Collection[int],
    within: Span,
    but_for: Collection[int] = (),
    closed: Mapping[int, Sequence[Span]] = MappingProxyType({}),
) -> dict[int, list[Span]]:
    """When units are held or `closed` within a stretch of time, leaving out the holds of some bookings."""
    query = select(Hold.unit_id, Hold.starts_at, Hold.ends_at).where(
        Hold.unit_id.in_(unit_ids),
        Hold.starts_at < within.end,
        Hold.starts_at > within.start - LONGEST_HOLD,
        Hold.ends_at > within.start,
    )
    if but_for:
        query = query.where(or_(Hold.booking_id.is_(None), Hold.booking_id.not_in(but_for)))
    by_unit = {unit_id: list(closed.get(unit_id, ())) for unit_id in unit_ids}
    for unit_id, start, end in session.execute(query):
        by_unit[unit_id].append(Span(start, end))
    return by_unit


def present(
    session: DbSession, *, room_ids: Collection[int], within: Span, but_for: Collection[int] = ()
) -> dict[int, list[Present]]:
    """Who is booked in rooms within a stretch of time, by room: each booking once in a room, with all its people.

    Whoever an offer stands for counts as one who comes.
    """
    units, is_class = func.coalesce(Booking.units, 1), func.coalesce(Booking.class_name, "") != ""
    guests, comes = func.coalesce(Booking.guests, 0), func.coalesce(Supervision.comes, False)
    query = (
        select(
            *(Station.room_id, func.min(Hold.starts_at), func.max(Hold.ends_at), units, is_class),
            *(Booking.students, func.coalesce(Booking.teachers, 1), guests, comes),
        )
        .join_from(Hold, StationUnit)
        .join(Station, StationUnit.station_id == Station.id)
        .outerjoin(Booking, Hold.booking_id == Booking.id)
        .outerjoin(Booking.supervision)
        .where(
            Station.room_id.in_(room_ids),
            Hold.starts_at < within.end,
            Hold.starts_at > within.start - LONGEST_HOLD,
            Hold.ends_at > within.start,
        )
        .group_by(
            *(Station.room_id, Hold.wait_id, Booking.id, Booking.units, Booking.class_name, Booking.guests),
            *(Booking.students, Booking.teachers, Supervision.comes),
        )
    )
    if but_for:
        query = query.where(or_(Booking.id.is_(None), Booking.id.not_in(but_for)))
    by_room: dict[int, list[Present]] = {room_id: [] for room_id in room_ids}
    for room_id, start, end, of_units, of_class, students, teachers, of_guests, with_one in session.execute(query):
        along = of_guests + bool(with_one)
        brought = heads(units=of_units, is_class=bool(of_class), students=students, teachers=teachers, along=along)
        by_room[room_id].append(Present(Span(start, end), *brought))
    return by_room


def times_of_person(session: DbSession, *, person_id: int, since: datetime, but_for: int | None = None) -> list[Span]:
    """When somebody is or was booked since an instant, classes left out: what fair use counts."""
    query = select(Booking.id, Booking.starts_at, Booking.ends_at).where(
        Booking.person_id == person_id,
        Booking.ends_at > since,
        Booking.cancelled_at.is_(None),
        Booking.missed_at.is_(None),
        Booking.class_name == "",
    )
    return [Span(start, end) for row_id, start, end in session.execute(query) if row_id != but_for]


def to_come(
    session: DbSession, *, person_id: int, now: datetime, after_id: int | None = None, limit: int
) -> list[Booking]:
    """Somebody's bookings that are not over, the next first; `after_id` is the last one of the page before."""
    query = (
        select(Booking)
        .where(
            Booking.person_id == person_id,
            Booking.ends_at > now,
            Booking.cancelled_at.is_(None),
            Booking.missed_at.is_(None),
            Booking.left_at.is_(None),
        )
        .options(
            joinedload(Booking.station).joinedload(Station.room),
            joinedload(Booking.process),
            selectinload(Booking.holds),
        )
        .order_by(Booking.starts_at, Booking.id)
        .limit(limit)
    )
    if after_id is not None:
        at = select(Booking.starts_at).where(Booking.id == after_id).scalar_subquery()
        query = query.where(or_(Booking.starts_at > at, and_(Booking.starts_at == at, Booking.id > after_id)))
    return list(session.execute(query).scalars())


def over(
    session: DbSession, *, person_id: int, now: datetime, before_id: int | None = None, limit: int
) -> list[Booking]:
    """Somebody's bookings that are over or cancelled, the latest first; pages by key."""
    query = (
        select(Booking)
        .where(
            Booking.person_id == person_id,
            or_(
                Booking.ends_at <= now,
                Booking.cancelled_at.is_not(None),
                Booking.missed_at.is_not(None),
                Booking.left_at.is_not(None),
            ),
        )
        .options(joinedload(Booking.station), joinedload(Booking.process))
        .order_by(Booking.starts_at.desc(), Booking.id.desc())
        .limit(limit)
    )
    if before_id is not None:
        at = select(Booking.starts_at).where(Booking.id == before_id).scalar_subquery()
        query = query.where(or_(Booking.starts_at < at, and_(Booking.starts_at == at, Booking.id < before_id)))
    return list(session.execute(query).scalars())


def newest_of(session: DbSession, *, person_id: int, limit: int) -> list[Booking]:
    """Somebody's bookings, whatever became of them, the latest first."""
    query = (
        select(Booking)
        .where(Booking.person_id == person_id)
        .options(joinedload(Booking.station), joinedload(Booking.process))
        .order_by(Booking.starts_at.desc(), Booking.id.desc())
        .limit(limit)
    )
    return list(session.execute(query).scalars())


def running(session: DbSession, *, person_id: int, now: datetime) -> list[Booking]:
    """A person's own bookings that are on, or were over not long ago, the latest first."""
    query = (
        select(Booking)
        .where(
            Booking.person_id == person_id,
            Booking.starts_at <= now + EARLIEST_ARRIVAL,
            Booking.ends_at >= now - STILL_LOGGED,
            Booking.cancelled_at.is_(None),
            Booking.missed_at.is_(None),
        )
        .options(joinedload(Booking.station))
        .order_by(Booking.starts_at.desc(), Booking.id.desc())
    )
    return list(session.execute(query).scalars())


_WHOLE_WAIT = joinedload(Wait.person), joinedload(Wait.station).joinedload(Station.room), joinedload(Wait.process)


def wait_or_raise(session: DbSession, wait_id: int, *, lock: bool = False) -> Wait:
    return get_or_raise(session, Wait, wait_id, "wait", lock=lock, options=_WHOLE_WAIT)


def open_waits(session: DbSession, *, meeting: Span | None = None, now: datetime, lock: bool = False) -> list[Wait]:
    """Waits that are not over and have no offer, whoever waits longest first; those `meeting` a stretch of time.

    With `lock` those that another act has at hand are left out: no two acts wait for each other.
    """
    query = (
        select(Wait)
        .where(Wait.ended_at.is_(None), Wait.offered_until.is_(None), Wait.until_at > now)
        .options(*_WHOLE_WAIT)
        .order_by(Wait.made_at, Wait.id)
    )
    if meeting is not None:
        query = query.where(Wait.from_at < meeting.end, Wait.until_at > meeting.start)
    if lock:
        query = query.with_for_update(skip_locked=True, of=Wait).execution_options(populate_existing=True)
    return list(session.execute(query).scalars())


def all_waits(session: DbSession, *, limit: int = 200) -> list[Wait]:
    """Everybody who waits or has an offer, whoever waits longest first."""
    query = select(Wait).where(Wait.ended_at.is_(None)).options(*_WHOLE_WAIT).order_by(Wait.made_at, Wait.id)
    return list(session.execute(query.limit(limit)).scalars())


def waits_of_person(session: DbSession, person_id: int) -> list[Wait]:
    """What somebody waits for, or is offered, the next first."""
    query = select(Wait).where(Wait.person_id == person_id, Wait.ended_at.is_(None)).options(*_WHOLE_WAIT)
    return list(session.execute(query.order_by(Wait.from_at, Wait.id)).scalars())


def waits_that_hold(session: DbSession, *, unit_ids: Collection[int], span: Span) -> list[Wait]:
    """Offers that hold one of these units at some time of a span."""
    held = select(Hold.wait_id).where(
        Hold.unit_id.in_(unit_ids), Hold.wait_id.is_not(None), Hold.starts_at < span.end, Hold.ends_at > span.start
    )
    query = select(Wait).where(Wait.id.in_(held)).options(*_WHOLE_WAIT).order_by(Wait.id)
    query = query.with_for_update(of=Wait).execution_options(populate_existing=True)
    return list(session.execute(query).scalars())


def places_before(session: DbSession, wait: Wait) -> int:
    """How many wait for the same place at times that meet these, and came first."""
    query = select(func.count()).where(
        Wait.station_id == wait.station_id,
        Wait.ended_at.is_(None),
        Wait.from_at < wait.until_at,
        Wait.until_at > wait.from_at,
        or_(Wait.made_at < wait.made_at, and_(Wait.made_at == wait.made_at, Wait.id < wait.id)),
    )
    return session.execute(query).scalar_one()


WAIT = RowKind(
    table=Wait, called="place on the waiting list", many="waiting list", pages=(Page("waiting.show", "wait_id"),)
)
BOOKING = RowKind(table=Booking, called="booking", many="bookings", pages=(Page("bookings.show", "booking_id"),))
