"""Who is in the building: people, not bookings. Each person is one head, however many reasons there are for it."""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from sqlalchemy import func, select
from sqlalchemy.orm import joinedload

from labsys.bookings.models import Booking, Supervision
from labsys.courses import queries as courses
from labsys.courses.models import Attendance
from labsys.database import DbSession
from labsys.duty.models import Presence
from labsys.duty.queries import supervisors_here
from labsys.duty.rota import on_duty_at
from labsys.membership.contacts import contacts_of
from labsys.membership.models import EmergencyContact
from labsys.people.models import Person, PersonRole, Role
from labsys.places.models import Station
from labsys.timetable.local_time import to_local
from labsys.timetable.opening import day_span


@dataclass(frozen=True)
class Head:
    """Somebody in the building, with all that says so. `key` is how a touch names them."""

    key: str
    name: str
    person_id: int | None
    what: str
    since: datetime
    until: datetime
    bookings: tuple[Booking, ...] = ()
    attendances: tuple[Attendance, ...] = ()
    presences: tuple[Presence, ...] = ()
    supervisions: tuple[Supervision, ...] = ()

    @property
    def guests(self) -> int:
        """How many people came along with them on a booking."""
        return sum(booking.guests or 0 for booking in self.bookings)


@dataclass(frozen=True)
class Expected:
    """Somebody who is not known to be in, and may come: booked today, on duty, or one of the staff."""

    key: str
    name: str
    what: str


@dataclass
class _Found:
    heads: dict[str, Head] = field(default_factory=dict)

    def add(self, head: Head) -> None:
        """Several reasons make one head: here since the first of them, until the last."""
        had = self.heads.get(head.key)
        if had is None:
            self.heads[head.key] = head
            return
        self.heads[head.key] = replace(
            had,
            what=", ".join(dict.fromkeys((had.what, head.what))),
            since=min(had.since, head.since),
            until=max(had.until, head.until),
            bookings=had.bookings + head.bookings,
            attendances=had.attendances + head.attendances,
            presences=had.presences + head.presences,
            supervisions=had.supervisions + head.supervisions,
        )


def heads(session: DbSession) -> list[Head]:
    """Everybody known to be in, by name; four queries, however many there are."""
    found = _Found()
    here = select(Booking).where(
        Booking.arrived_at.is_not(None), Booking.left_at.is_(None), Booking.cancelled_at.is_(None)
    )
    whole = joinedload(Booking.person), joinedload(Booking.station).joinedload(Station.room)
    for booking in session.execute(here.options(*whole).order_by(Booking.id)).scalars():
        what = f"teaches {booking.class_name}" if booking.class_name else booking.station.name
        since = booking.arrived_at or booking.starts_at
        found.add(_of_person(booking.person, what, since, booking.ends_at, bookings=(booking,)))
    for attending in courses.attending_now(session):
        at, until, row = attending.attendance.arrived_at, attending.booking.ends_at, attending.attendance
        if attending.person is not None:
            found.add(_of_person(attending.person, attending.course, at, until, attendances=(row,)))
        else:
            key = f"student-{row.id}"
            found.add(Head(key, attending.student.name, None, attending.course, at, until, attendances=(row,)))
    for watch in supervisors_here(session):
        if watch.supervisor is not None and watch.arrived_at is not None:
            at, until = watch.arrived_at, watch.booking.ends_at
            found.add(_of_person(watch.supervisor, "supervises", at, until, supervisions=(watch,)))
    present = select(Presence).where(Presence.left_at.is_(None)).options(joinedload(Presence.person))
    for presence in session.execute(present.order_by(Presence.id)).scalars():
        at, until = presence.came_at, presence.leaves_by
        if presence.person is not None:
            found.add(_of_person(presence.person, "signed in", at, until, presences=(presence,)))
        else:
            found.add(Head(f"guest-{presence.id}", presence.name, None, "guest", at, until, presences=(presence,)))
    return sorted(found.heads.values(), key=lambda head: (head.name.casefold(), head.key))


def head_of(session: DbSession, key: str) -> Head | None:
    """The head that a touch names; None where they are not known to be in."""
    return next((head for head in heads(session) if head.key == key), None)


def contacts(session: DbSession, heads: Iterable[Head]) -> dict[int, EmergencyContact]:
    """Whom to call in an emergency for those who are in, where the lab asks."""
    return contacts_of(session, {head.person_id for head in heads if head.person_id is not None})


def left_since(session: DbSession, *, person_id: int, at: datetime) -> datetime | None:
    """When somebody was last noted as gone, after an instant; None where they were not."""
    of_presences = select(func.max(Presence.left_at)).where(Presence.person_id == person_id, Presence.left_at >= at)
    of_bookings = select(func.max(Booking.left_at)).where(Booking.person_id == person_id, Booking.left_at >= at)
    gone = [session.execute(query).scalar_one_or_none() for query in (of_presences, of_bookings)]
    return max((instant for instant in gone if instant is not None), default=None)


def expected(session: DbSession, *, now: datetime, zone: ZoneInfo, but_for: Iterable[Head]) -> list[Expected]:
    """Whom a touch can note as come: who is on duty, whoever is booked today, and the staff, in that order."""
    is_in = {head.person_id for head in but_for}
    found: dict[int, Expected] = {}

    def add(person_id: int, name: str, what: str) -> None:
        if person_id not in is_in and person_id not in found:
            found[person_id] = Expected(key_of(person_id), name, what)

    opening = on_duty_at(session, now=now, zone=zone)
    for kind, turn in (opening.turns if opening else {}).items():
        if turn.person is not None and turn.person.is_active:
            add(turn.person.id, turn.person.name, kind.value)
    today = day_span(to_local(now, zone=zone).date(), zone=zone)
    booked = select(Booking).where(
        Booking.starts_at < today.end,
        Booking.ends_at > now,
        Booking.starts_at >= today.start - timedelta(days=1),
        Booking.arrived_at.is_(None),
        Booking.cancelled_at.is_(None),
        Booking.missed_at.is_(None),
    )
    whole = joinedload(Booking.person), joinedload(Booking.station)
    for booking in session.execute(booked.options(*whole).order_by(Booking.starts_at, Booking.id)).scalars():
        add(booking.person.id, booking.person.name, f"{booking.station.name} from {_hour(booking.starts_at, zone)}")
    staff = (
        select(Person.id, Person.name)
        .where(Person.left_at.is_(None), Person.role_rows.any(PersonRole.role != Role.MEMBER))
        .order_by(Person.name, Person.id)
    )
    for person_id, name in session.execute(staff):
        add(person_id, name, "staff")
    return list(found.values())


def key_of(person_id: int) -> str:
    return f"person-{person_id}"


def _hour(instant: datetime, zone: ZoneInfo) -> str:
    return f"{to_local(instant, zone=zone):%H:%M}"


def _of_person(
    person: Person,
    what: str,
    since: datetime,
    until: datetime,
    *,
    bookings: tuple[Booking, ...] = (),
    attendances: tuple[Attendance, ...] = (),
    presences: tuple[Presence, ...] = (),
    supervisions: tuple[Supervision, ...] = (),
) -> Head:
    key = key_of(person.id)
    return Head(key, person.name, person.id, what, since, until, bookings, attendances, presences, supervisions)
