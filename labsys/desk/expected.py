"""Whom the day expects, and the inductions that stand between them and their work."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from zoneinfo import ZoneInfo

from sqlalchemy import select

from labsys.bookings.board import Shown
from labsys.bookings.models import Booking, Hold
from labsys.chemistry.sizes import Material
from labsys.database import DbSession
from labsys.inductions import gate, rules
from labsys.inductions.models import Hazard
from labsys.inductions.rules import Missing, Subject
from labsys.people.models import Person
from labsys.people.permissions import Permission, may
from labsys.places.models import StationUnit
from labsys.processes.models import Process


@dataclass(frozen=True)
class Lapse:
    """An induction held now that lapses soon."""

    induction_id: int
    name: str
    lapses_at: datetime


@dataclass(frozen=True)
class Expected:
    """Somebody with time at a place today that is not over.

    The booking is the first that may not start yet, else the first of all; `missing` is what it lacks.
    """

    person_id: int
    name: str
    is_viewer: bool
    booking_id: int
    starts_at: datetime
    missing: tuple[Missing, ...]
    lapses: tuple[Lapse, ...]


@dataclass(frozen=True)
class _Asked:
    """One booking as the clearance gate is asked about it; one that has begun is asked nothing."""

    shown: Shown
    person_id: int
    process_id: int | None
    material: Material | None
    station_ids: frozenset[int]

    def subjects(self, hazards: Mapping[int, frozenset[Hazard]]) -> list[Subject]:
        if self.shown.is_here:
            return []
        asked = [Subject(station_id=one) for one in sorted(self.station_ids)]
        if self.process_id is not None:
            asked.append(Subject(material=self.material, hazards=hazards.get(self.process_id, frozenset())))
        return asked


def sees_others(viewer: Person) -> bool:
    """Whether somebody is told who else may not start: those who note arrivals, and those who can help."""
    return may(viewer, Permission.BOOK_FOR_OTHERS) or may(viewer, Permission.SIGN_OFF)


def expected_today(
    session: DbSession, *, bookings: Collection[Shown], viewer: Person, now: datetime, zone: ZoneInfo
) -> list[Expected]:
    """Ask the gate about everybody a day still expects whom the viewer may be told of; five queries, however many.

    Each booking is asked about as of its start, or as of now once that is past.
    """
    asked = _asked(session, [one for one in bookings if not (one.has_left or one.is_past)], viewer=viewer)
    person_ids = {one.person_id for one in asked}
    requirements = gate.requirements_in_force(session)
    induction_ids = {one.induction_id for one in requirements}
    editions = gate.editions(session, induction_ids=induction_ids)
    signed: dict[int, list[rules.Signed]] = {person_id: [] for person_id in person_ids}
    for row in gate.sign_offs(session, person_ids=person_ids, induction_ids=induction_ids):
        signed[row.person_id].append(row)
    hazards = gate.hazards_by_process(session, process_ids={one.process_id for one in asked if one.process_id})
    known = _Known(requirements, editions, signed, hazards, now, zone)
    by_person: dict[int, list[_Asked]] = {}
    for one in asked:
        by_person.setdefault(one.person_id, []).append(one)
    return [_expected(found, known) for found in by_person.values()]


def _asked(session: DbSession, bookings: Collection[Shown], *, viewer: Person) -> list[_Asked]:
    """The bookings in the order of their start, with the places they hold."""
    shown = {one.booking_id: one for one in bookings if one.is_mine or sees_others(viewer)}
    chosen = (
        select(Booking.id, Booking.person_id, Booking.process_id, Process.material, StationUnit.station_id)
        .join(Hold, Hold.booking_id == Booking.id)
        .join(StationUnit, Hold.unit_id == StationUnit.id)
        .outerjoin(Process, Booking.process_id == Process.id)
        .where(Booking.id.in_(shown))
        .order_by(Booking.starts_at, Booking.id)
    )
    rows = session.execute(chosen).all()
    return [
        _Asked(shown[booking_id], person_id, process_id, material, frozenset(row.station_id for row in held))
        for (booking_id, person_id, process_id, material), held in groupby(rows, key=lambda row: row[:4])
    ]


@dataclass(frozen=True)
class _Known:
    """All that the answers are worked out from."""

    requirements: Sequence[rules.Required]
    editions: Sequence[rules.Edition]
    signed: Mapping[int, Sequence[rules.Signed]]
    hazards: Mapping[int, frozenset[Hazard]]
    now: datetime
    zone: ZoneInfo

    def missing(self, one: _Asked) -> tuple[Missing, ...]:
        subjects = one.subjects(self.hazards)
        found = rules.clearance(
            person_ids=[one.person_id],
            subjects=subjects,
            requirements=self.requirements,
            editions=self.editions,
            sign_offs=self.signed[one.person_id],
            at=max(self.now, one.shown.starts_at),
            now=self.now,
            zone=self.zone,
        )
        return rules.joined(lack for subject in subjects for lack in found[one.person_id, subject].missing)

    def lapses(self, person_id: int) -> tuple[Lapse, ...]:
        names = {one.induction_id: one.name for one in self.requirements}
        held = rules.standings(
            [person_id], induction_ids=names, editions=self.editions, sign_offs=self.signed[person_id], at=self.now
        )
        ends = {one: rules.lapse_to_remind_of(held[person_id, one], now=self.now) for one in names}
        found = [Lapse(one, names[one], lapses_at) for one, lapses_at in ends.items() if lapses_at is not None]
        return tuple(sorted(found, key=lambda one: (one.lapses_at, one.name)))


def _expected(found: Sequence[_Asked], known: _Known) -> Expected:
    missing = {one: known.missing(one) for one in found}
    first = next((one for one in found if missing[one]), found[0])
    return Expected(
        person_id=first.person_id,
        name=first.shown.name,
        is_viewer=first.shown.is_mine,
        booking_id=first.shown.booking_id,
        starts_at=first.shown.starts_at,
        missing=missing[first],
        lapses=known.lapses(first.person_id),
    )
