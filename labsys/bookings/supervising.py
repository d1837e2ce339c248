"""What supervisors do: say that they come or cannot, arrive, leave; and what becomes of a booking when one falls away.

Suspended is worked out from the facts each time; what is kept is that people were told of it.
"""

from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy import or_, select

from labsys.bookings import queries, rules, supervision, words
from labsys.bookings.comings_and_goings import follow
from labsys.bookings.holding import hold
from labsys.bookings.models import Booking, Supervision
from labsys.bookings.rules import Plan
from labsys.bookings.supervision import NotSupervised
from labsys.database import DbSession
from labsys.jobs.kinds import Kind, Made, Task
from labsys.mail import service as mail
from labsys.membership import ages
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, may, require
from labsys.people.queries import people_who_may
from labsys.places import queries as places
from labsys.places.models import Station
from labsys.records import queries as records
from labsys.timetable.local_time import to_local
from labsys.timetable.spans import Span


@act
def come(act: Act, *, booking_id: int) -> Booking:
    """Say that one comes to supervise a booking, in the place of whoever was named.

    Raises NotPermitted, NotFound, BookingRefused, SlotTaken where the room is full, or NotSupervised.
    """
    booking = _to_supervise(act, booking_id)
    second_id = booking.supervision.second_adult_id if booking.supervision else None
    plan = Plan(supervisor_id=act.actor.id, second_adult_id=second_id)
    supervision.name_supervisor(act, booking, plan, is_moved=False)
    act.session.flush()
    act.session.refresh(booking.supervision)
    stations = stations_of(act.session, booking)
    if why := next(supervision.why_no_supervisor(act.session, supervision.work_of(booking, stations), now=act.now), ""):
        raise NotSupervised(why)
    places.lock_stations(act.session, [station.id for station in stations])
    around = Span(booking.starts_at - timedelta(days=4), booking.ends_at + timedelta(days=4))
    calendar = places.calendar(act.session, within=around)
    hold(act.session, booking=booking, stations=stations, calendar=calendar, now=act.now)
    look_again(act, booking)
    act.tell("booking.supervisor_comes", about=booking, facts={"supervisor": act.actor.id})
    return booking


@act
def not_come(act: Act, *, booking_id: int) -> Booking:
    """Say that one cannot come after all: the booking is suspended. Raises NotPermitted, NotFound or BookingRefused."""
    booking, row = _supervised_by(act, booking_id)
    row.comes = False
    look_again(act, booking)
    act.tell("booking.supervisor_comes_not", about=booking, facts={"supervisor": act.actor.id})
    return booking


@act
def arrive(act: Act, *, booking_id: int) -> Booking:
    """Note, as its supervisor, that one is here. Raises NotPermitted, NotFound or BookingRefused."""
    booking, row = _supervised_by(act, booking_id)
    rules.check_can_arrive(starts_at=booking.starts_at, arrived_at=None, now=act.now, zone=records.zone(act.session))
    row.arrived_at, row.left_at = act.now, None
    look_again(act, booking)
    act.tell("booking.supervisor_arrived", about=booking, facts={"supervisor": act.actor.id})
    follow(act)
    return booking


@act
def leave(act: Act, *, booking_id: int) -> Booking:
    """Note, as its supervisor, that one goes: what has begun stops. Raises NotPermitted, NotFound or BookingRefused."""
    booking, row = _supervised_by(act, booking_id)
    if row.arrived_at is None:
        raise rules.BookingRefused("You have not arrived for this booking.")
    row.left_at = act.now
    look_again(act, booking)
    act.tell("booking.supervisor_left", about=booking, facts={"supervisor": act.actor.id})
    follow(act)
    return booking


def look_again(act: Act, booking: Booking) -> bool:
    """Step: whether the booking is newly suspended, or no longer is; then it is noted, and its person told."""
    act.session.flush()
    act.session.refresh(booking)
    stands_against = suspended_because(act.session, booking, act=act)
    if bool(stands_against) is is_told_suspended(booking):
        return False
    row = booking.supervision
    if row is None:
        row = booking.supervision = Supervision()
    row.suspended_at = act.now if stands_against else None
    message = words.suspended if stands_against else words.resumed
    for person in {booking.person, booking.made_by}:
        said = message(booking, at=act.now, whose=person, zone=records.zone(act.session))
        mail.queue(act.session, said, to=person, by=act.by, now=act.now)
    return True


def is_told_suspended(booking: Booking) -> bool:
    """Whether people were told that a booking is suspended."""
    return booking.supervision is not None and booking.supervision.suspended_at is not None


def look_again_at_those_of(act: Act, person_id: int) -> None:
    """Step: look again at every booking to come for which somebody answers, as their own time has changed."""
    for booking in _open_bookings(act.session, now=act.now, person_id=person_id):
        if look_again(act, booking):
            _tell_record(act, booking)


def suspended_because(session: DbSession, booking: Booking, *, act: Act) -> list[str]:
    """What stands against a booking of somebody under 18 now, in sentences; of one that has begun, who is not here."""
    day = to_local(booking.starts_at, zone=records.zone(session)).date()
    is_over = booking.cancelled_at or booking.missed_at or booking.left_at or booking.ends_at <= act.now
    if is_over or booking.class_name or not ages.is_under_18(session, booking.person_id, on=day):
        return []
    own = act.by is not None and act.by.id == booking.person_id
    work = supervision.work_of(booking, stations_of(session, booking))
    return list(supervision.why_not(session, work, now=act.now, begins=booking.is_here, own=own))


@dataclass(frozen=True)
class Shown:
    """How a supervised booking stands, for its person, those who book for others and the supervisor."""

    suspended: list[str]
    before_it_begins: list[str]
    supervisor: str
    second_adult: str
    has_begun: bool
    says: list[tuple[str, str]]  # what the reader may say of it: the last part of its address, and the words


def shown(act: Act, booking: Booking, *, is_open: bool) -> Shown | None:
    """How a booking of somebody under 18 stands; nothing where it needs no supervisor, nor at a shared tablet."""
    day = to_local(booking.starts_at, zone=records.zone(act.session)).date()
    is_asked = is_open and act.visit is None and not booking.class_name
    if not is_asked or not ages.is_under_18(act.session, booking.person_id, on=day):
        return None
    suspended = suspended_because(act.session, booking, act=act)
    own = act.by is not None and act.by.id == booking.person_id
    work = supervision.work_of(booking, stations_of(act.session, booking))
    to_come = [] if suspended else list(supervision.why_not(act.session, work, now=act.now, begins=True, own=own))
    return Shown(
        suspended=suspended,
        before_it_begins=to_come,
        supervisor=work.supervisor.name if work.supervisor else "",
        second_adult=work.second_adult.name if work.second_adult else "",
        has_begun=booking.is_here,
        says=_may_say(act, booking),
    )


def _may_say(act: Act, booking: Booking) -> list[tuple[str, str]]:
    """What a supervisor may say next: whoever is not yet the one who comes may become it."""
    if not may(act.actor, Permission.BOOK_FOR_OTHERS) or act.actor.id == booking.person_id:
        return []
    row = booking.supervision
    if row is None or row.supervisor_id != act.actor.id:
        return [("come", "I supervise this")]
    is_here = row.arrived_at is not None and row.left_at is None
    soon = act.now >= booking.starts_at - rules.EARLIEST_ARRIVAL
    return [
        *([("leave", "I go now")] if is_here else [("arrive", "I am here")] if soon else []),
        *([("not-come", "I cannot come")] if row.comes and not is_here else []),
        *([("come", "I come")] if not row.comes and not is_here else []),
    ]


def asks_for_adults(act: Act, is_for_class: bool, *, booking: Booking | None = None) -> bool:
    """Whether a form asks who answers for the person: for whoever counts as under 18, or might; never at a tablet."""
    if is_for_class or act.visit is not None:
        return False
    if may(act.actor, Permission.BOOK_FOR_OTHERS):
        return True
    day = to_local(act.now, zone=records.zone(act.session)).date()
    return ages.is_under_18(act.session, booking.person_id if booking else act.actor.id, on=day)


def supervisors(session: DbSession) -> list[tuple[int, str]]:
    """Who may supervise, by name."""
    return [(person.id, person.name) for person in people_who_may(session, Permission.BOOK_FOR_OTHERS)]


def stations_of(session: DbSession, booking: Booking) -> list[Station]:
    """The place of a booking and what comes with it."""
    station = places.station_or_raise(session, booking.station_id)
    return [station, *(row.brings for row in station.brings)]


@act
def look_again_at(act: Act, *, booking_id: int) -> Booking:
    """Look again at one booking, as the lab itself does; tells nothing where nothing has changed."""
    booking = queries.booking_or_raise(act.session, booking_id, lock=True)
    if look_again(act, booking):
        _tell_record(act, booking)
    return booking


def look_again_at_all(task: Task) -> Made:
    """Look again at every booking to come that somebody answers for: what fell away elsewhere is told here."""
    ids = [booking.id for booking in _open_bookings(task.session, now=task.now())]
    task.session.rollback()
    told = [look_again_at(Act(task.session, by=None, now=task.now()), booking_id=booking_id) for booking_id in ids]
    return Made(f"Looked at {len(ids)} bookings; {sum(map(is_told_suspended, told))} are suspended.")


LOOK_AGAIN = Kind(
    name="supervised bookings",
    title="Look again at bookings that need a supervisor",
    run=look_again_at_all,
    every=timedelta(minutes=1),
)


def _tell_record(act: Act, booking: Booking) -> None:
    if is_told_suspended(booking):
        act.tell("booking.suspended", about=booking)
    else:
        act.tell("booking.resumed", about=booking)


def _open_bookings(session: DbSession, *, now: datetime, person_id: int | None = None) -> list[Booking]:
    """Bookings not over that name somebody, or a certain person, to answer for theirs."""
    if person_id is None:
        named = or_(Supervision.id.is_not(None), Booking.person_id.in_(ages.stated_under_18(at=now)))
    else:
        named = or_(Supervision.supervisor_id == person_id, Supervision.second_adult_id == person_id)
    query = (
        select(Booking)
        .outerjoin(Booking.supervision)
        .where(
            named,
            Booking.ends_at > now,
            Booking.cancelled_at.is_(None),
            Booking.missed_at.is_(None),
            Booking.left_at.is_(None),
        )
    )
    return list(session.execute(query.order_by(Booking.starts_at, Booking.id)).scalars())


def _to_supervise(act: Act, booking_id: int) -> Booking:
    """A booking to come of somebody under 18, read to be changed."""
    require(act.actor, Permission.BOOK_FOR_OTHERS)
    booking = queries.booking_or_raise(act.session, booking_id, lock=True)
    rules.check_can_change(
        cancelled_at=booking.cancelled_at,
        left_at=booking.left_at,
        ends_at=booking.ends_at,
        missed_at=booking.missed_at,
        now=act.now,
    )
    day = to_local(booking.starts_at, zone=records.zone(act.session)).date()
    if booking.class_name or not ages.is_under_18(act.session, booking.person_id, on=day):
        raise rules.BookingRefused("This booking needs no supervisor.")
    return booking


def _supervised_by(act: Act, booking_id: int) -> tuple[Booking, Supervision]:
    booking = _to_supervise(act, booking_id)
    row = booking.supervision
    if row is None or row.supervisor_id != act.actor.id:
        raise rules.BookingRefused("Somebody else is named to supervise it. Say first that you come.")
    return booking, row
