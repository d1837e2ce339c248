"""What keeps bookings fair: the limits the lab sets, places that nobody came to given free, and how often that was."""

from collections.abc import Collection
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta

from sqlalchemy import and_, case, func, or_, select

from labsys.bookings import fair_use, queries
from labsys.bookings.fair_use import Limits
from labsys.bookings.models import Booking, FairUse
from labsys.bookings.rules import BookingRefused
from labsys.database import DbSession
from labsys.people.acts import Act, act
from labsys.people.models import Person, Role
from labsys.people.permissions import Permission, require
from labsys.records import queries as records
from labsys.records.models import Lab
from labsys.timetable.spans import Span

COUNTED_FOR = timedelta(days=90)
_NAMES = tuple(asdict(Limits()))


@dataclass(frozen=True)
class Lapses:
    """How often somebody cancelled late, or did not come."""

    late: int = 0
    missed: int = 0


def limits_by_role(session: DbSession) -> dict[Role, Limits]:
    """What each role may book: as set, else the usual."""
    rows = session.execute(select(FairUse)).scalars()
    told = {row.role: Limits(**{name: getattr(row, name) for name in _NAMES}) for row in rows}
    return {role: told.get(role, Limits()) for role in Role}


def limits_of(session: DbSession, person: Person) -> Limits:
    """What somebody may book, by the widest of their roles."""
    by_role = limits_by_role(session)
    return fair_use.widest([by_role[role] for role in person.roles] or [Limits()])


def check_fair(act: Act, *, booking: Booking, span: Span, starts_anew: bool, override: str) -> None:
    """Step: raise BeyondFairUse unless this is fair use, or whoever books for others says why it may be more."""
    if override:
        require(act.actor, Permission.BOOK_FOR_OTHERS)
        booking.override_reason = override
        return
    limits = limits_of(act.session, booking.person)
    others = queries.times_of_person(
        act.session, person_id=booking.person.id, since=min(act.now, span.start) - timedelta(days=8), but_for=booking.id
    )
    zone = records.zone(act.session)
    fair_use.check(
        span,
        limits=limits,
        others=others,
        now=act.now,
        zone=zone,
        starts_anew=starts_anew,
        is_class=bool(booking.class_name),
    )


@act
def set_limits(act: Act, *, role: Role, limits: Limits) -> FairUse:
    """Set what one role may book from now on; what is booked stays. Raises NotPermitted or BookingRefused."""
    require(act.actor, Permission.KEEP_PLACES)
    check_limits(limits)
    act.session.execute(select(Lab).with_for_update())
    row = act.session.execute(select(FairUse).where(FairUse.role == role)).scalar_one_or_none()
    if row is None:
        row = FairUse(role=role)
        act.session.add(row)
    for name, limit in asdict(limits).items():
        setattr(row, name, limit)
    act.session.flush()
    act.tell("fair_use.set", about=row, facts={"role": role, **asdict(limits)})
    return row


@act
def set_arriving(
    act: Act, *, free_after_minutes: int | None, late_cancel_minutes: int | None, offer_minutes: int
) -> Lab:
    """Set when a place that nobody came to is given free, what is cancelled late, and how long an offer stands.

    What is offered already stands as it was. Raises NotPermitted.
    """
    require(act.actor, Permission.KEEP_PLACES)
    lab = act.session.execute(select(Lab).with_for_update()).scalar_one()
    facts = {
        "free_after_minutes": free_after_minutes,
        "late_cancel_minutes": late_cancel_minutes,
        "offer_minutes": offer_minutes,
    }
    for name, minutes in facts.items():
        setattr(lab, name, minutes)
    act.tell("lab.arriving_set", about=lab, facts=facts)
    return lab


def lapses_of(session: DbSession, *, person_ids: Collection[int], now: datetime) -> dict[int, Lapses]:
    """How often each of these people cancelled late or did not come, in the last 90 days."""
    is_missed = or_(
        Booking.missed_at.is_not(None),
        and_(Booking.ends_at <= now, Booking.arrived_at.is_(None), Booking.cancelled_at.is_(None)),
    )
    query = (
        select(
            Booking.person_id,
            func.sum(case((Booking.is_late_cancel, 1), else_=0)),
            func.sum(case((is_missed, 1), else_=0)),
        )
        .where(Booking.person_id.in_(person_ids), Booking.starts_at > now - COUNTED_FOR, Booking.class_name == "")
        .group_by(Booking.person_id)
    )
    return {person_id: Lapses(int(late), int(missed)) for person_id, late, missed in session.execute(query)}


def check_limits(limits: Limits) -> None:
    """Raise BookingRefused for limits under which nobody could book at all."""
    if limits.notice_minutes >= limits.furthest_days * 24 * 60:
        raise BookingRefused("The notice is longer than people may book ahead. Check both.", field="notice_hours")
