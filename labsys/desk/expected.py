"""Whom the day expects, and the inductions that stand between them and their work."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from operator import attrgetter
from zoneinfo import ZoneInfo

from sqlalchemy import select

from labsys.bookings.cells import Shown
from labsys.bookings.models import Booking, Hold
from labsys.database import DbSession
from labsys.inductions import gate, rules
from labsys.inductions.rules import Missing, Subject
from labsys.people.models import Person
from labsys.people.permissions import Permission, may
from labsys.places.models import Room, RoomKind, Station, StationUnit


@dataclass(frozen=True)
class Lapse:
    """An induction held now that lapses soon."""

    induction_id: int
    name: str
    lapses_at: datetime


@dataclass(frozen=True)
class Expected:
    """Somebody with time at a place today that is not over.

    The booking is the first that may not start yet or go on, else the first of all; `missing` is what it lacks.
    """

    person_id: int
    name: str
    is_viewer: bool
    booking_id: int
    starts_at: datetime
    is_here: bool
    missing: tuple[Missing, ...]
    lapses: tuple[Lapse, ...]


@dataclass(frozen=True)
class _Asked:
    """One booking as the clearance gate is asked about it: until it ends, or now where its person is at work."""

    shown: Shown
    person_id: int
    process_id: int | None
    ends_at: datetime
    rooms: Mapping[int, RoomKind]  # by station

    def subjects(self, work: Mapping[int, Subject]) -> list[Subject]:
        own = None if self.process_id is None else work.get(self.process_id, Subject())
        return gate.subjects_at(self.rooms, work=own, every_work=work.values())

    def at(self, now: datetime) -> datetime:
        return now if self.shown.is_here else max(now, self.ends_at)


def sees_others(viewer: Person) -> bool:
    """Whether somebody is told who else may not start: those who note arrivals, and those who can help."""
    return may(viewer, Permission.BOOK_FOR_OTHERS) or may(viewer, Permission.SIGN_OFF)


def expected_today(
    session: DbSession, *, bookings: Collection[Shown], viewer: Person, now: datetime, zone: ZoneInfo
) -> list[Expected]:
    """Ask the gate about everybody a day still expects whom the viewer may be told of; four queries, however many.

    Each booking is asked about as of its end, and as of now while its person is at work.
    """
    coming = [booking for booking in bookings if not (booking.has_left or booking.is_past)]
    by_person: dict[int, list[_Asked]] = {}
    for asked in _asked(session, coming, viewer=viewer):
        by_person.setdefault(asked.person_id, []).append(asked)
    requirements, editions = gate.requirements_and_editions(session)
    induction_ids = {requirement.induction_id for requirement in requirements}
    signed: dict[int, list[rules.Signed]] = {person_id: [] for person_id in by_person}
    for row in gate.sign_offs(session, person_ids=set(by_person), induction_ids=induction_ids):
        signed[row.person_id].append(row)
    process_ids = {asked.process_id for own in by_person.values() for asked in own}
    decided = None if None in process_ids else [key for key in process_ids if key is not None]
    work = gate.work_by_process(session, process_ids=decided)
    known = _Known(requirements, editions, signed, work, now, zone)
    return [_expected(own, known) for own in by_person.values()]


def _asked(session: DbSession, bookings: Collection[Shown], *, viewer: Person) -> list[_Asked]:
    """The bookings in the order of their start, with the places they hold."""
    shown = {booking.booking_id: booking for booking in bookings if booking.is_mine or sees_others(viewer)}
    query = (
        select(Booking.id, Booking.person_id, Booking.process_id, Booking.ends_at, StationUnit.station_id, Room.kind)
        .join(Hold, Hold.booking_id == Booking.id)
        .join(StationUnit, Hold.unit_id == StationUnit.id)
        .join(Station, StationUnit.station_id == Station.id)
        .join(Room, Station.room_id == Room.id)
        .where(Booking.id.in_(shown))
        .order_by(Booking.starts_at, Booking.id)
    )
    rows = session.execute(query).all()
    return [
        _Asked(shown[booking_id], person_id, process_id, ends_at, {row.station_id: row.kind for row in held})
        for (booking_id, person_id, process_id, ends_at), held in groupby(rows, key=lambda row: row[:4])
    ]


@dataclass(frozen=True)
class _Known:
    """All that the answers are worked out from."""

    requirements: Sequence[rules.Required]
    editions: Sequence[rules.Edition]
    signed: Mapping[int, Sequence[rules.Signed]]
    work: Mapping[int, Subject]
    now: datetime
    zone: ZoneInfo

    def missing(self, asked: _Asked) -> tuple[Missing, ...]:
        subjects = asked.subjects(self.work)
        answers = rules.clearance(
            person_ids=[asked.person_id],
            subjects=subjects,
            requirements=self.requirements,
            editions=self.editions,
            sign_offs=self.signed[asked.person_id],
            at=asked.at(self.now),
            now=self.now,
            zone=self.zone,
        )
        return rules.joined(lack for subject in subjects for lack in answers[asked.person_id, subject].missing)

    def lapses(self, person_id: int) -> tuple[Lapse, ...]:
        names = {requirement.induction_id: requirement.name for requirement in self.requirements}
        held = rules.standings(
            [person_id], induction_ids=names, editions=self.editions, sign_offs=self.signed[person_id], at=self.now
        )
        ends = {key: rules.lapse_to_remind_of(held[person_id, key], now=self.now) for key in names}
        lapses = [Lapse(key, names[key], lapses_at) for key, lapses_at in ends.items() if lapses_at is not None]
        return tuple(sorted(lapses, key=attrgetter("lapses_at", "name")))


def _expected(own: Sequence[_Asked], known: _Known) -> Expected:
    missing = [(asked, known.missing(asked)) for asked in own]
    first, lacks = next((pair for pair in missing if pair[1]), missing[0])
    return Expected(
        person_id=first.person_id,
        name=first.shown.name,
        is_viewer=first.shown.is_mine,
        booking_id=first.shown.booking_id,
        starts_at=first.shown.starts_at,
        is_here=first.shown.is_here,
        missing=lacks,
        lapses=known.lapses(first.person_id),
    )
