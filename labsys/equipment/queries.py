"""What pages and other rooms read of equipment: how each piece stands, what it closes, how far off instruments are."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from sqlalchemy import String, and_, cast, func, or_, select, true
from sqlalchemy.orm import joinedload

from labsys.database import DbSession
from labsys.equipment import rules
from labsys.equipment.models import Equipment, EquipmentCheck, EquipmentFault, EquipmentKind, is_newest
from labsys.equipment.rules import Counted, Due, Instruments
from labsys.people.row_kinds import Page, RowKind, Search
from labsys.places.calendar import FOR_GOOD, Closed
from labsys.places.models import Station
from labsys.records.models import CodeKind, Lab
from labsys.records.queries import get_or_raise
from labsys.timetable.local_time import day_words, to_local
from labsys.timetable.opening import day_span
from labsys.timetable.spans import Span


@dataclass(frozen=True)
class Standing:
    """A piece of equipment as it stands: its checks, whether it is out of order, and the lab's grace."""

    equipment: Equipment
    checks: tuple[Due, ...]
    failed: tuple[EquipmentCheck, ...]
    stopped_at: datetime | None
    grace_days: int | None
    zone: ZoneInfo

    @property
    def next_due(self) -> Due | None:
        return min(self.checks, key=lambda check: check.due_on, default=None)

    def closing(self, now: datetime) -> tuple[datetime, str] | None:
        """Since when what it serves is closed, or it is not to be used, and why; None where neither is so."""
        return min(self._closings(now), default=None)

    def _closings(self, now: datetime) -> Iterator[tuple[datetime, str]]:
        name, today = self.equipment.name, to_local(now, zone=self.zone).date()
        if self.stopped_at is not None:
            yield self.stopped_at, f"{name} is reported out of order. Closed until somebody has seen to it"
        for check in self.failed:
            said = f"{name} failed: {check.kind}, {day_words(check.happened_on)}. Closed until it passes"
            yield check.recorded_at, said
        for due in self.checks:
            closes_on = due.closes_on(self.grace_days)
            if self.equipment.serves and closes_on <= today and not due.is_failed:
                since = day_span(closes_on, zone=self.zone).start
                yield since, f"{name}: {due.period.check} overdue since {day_words(due.due_on)}"
        lapses_on = self.equipment.lapses_on
        if lapses_on is not None and lapses_on < today:
            yield day_span(lapses_on, zone=self.zone).end, f"{name} is past its date, {day_words(lapses_on)}"


def standings(session: DbSession, *, serving: bool = False) -> list[Standing]:
    """All equipment in use as it stands, in one statement; `serving` leaves out what closes nothing."""
    stopped_at = (
        select(func.min(EquipmentFault.reported_at))
        .where(EquipmentFault.equipment_id == Equipment.id, EquipmentFault.cleared_at.is_(None))
        .where(EquipmentFault.kind.in_(rules.STOPS), Equipment.kind.in_(rules.PROTECTS))
        .correlate(Equipment)
        .scalar_subquery()
    )
    query = (
        select(Equipment, EquipmentCheck, stopped_at, Lab.check_grace_days, Lab.timezone)
        .select_from(Equipment)
        .join(Lab, true())
        .outerjoin(EquipmentCheck, and_(EquipmentCheck.equipment_id == Equipment.id, is_newest()))
        .options(joinedload(Equipment.room), joinedload(Equipment.station).joinedload(Station.room))
        .where(Equipment.retired_at.is_(None))
        .order_by(Equipment.kind, Equipment.name, Equipment.id)
    )
    if serving:
        query = query.where(or_(Equipment.room_id.is_not(None), Equipment.station_id.is_not(None)))
    newest: dict[Equipment, list[EquipmentCheck]] = {}
    facts = {}
    for equipment, check, stopped, grace_days, timezone in session.execute(query):
        newest.setdefault(equipment, []).extend([check] if check else [])
        facts[equipment] = stopped, grace_days, ZoneInfo(timezone)
    return [_standing(equipment, checks, *facts[equipment]) for equipment, checks in newest.items()]


def _standing(
    equipment: Equipment,
    newest: list[EquipmentCheck],
    stopped_at: datetime | None,
    grace_days: int | None,
    zone: ZoneInfo,
) -> Standing:
    by_kind = {check.kind: check for check in newest}
    checks = tuple(
        rules.due(
            period,
            done_on=check.happened_on if (check := by_kind.get(period.check)) else None,
            has_passed=check.has_passed if check else False,
            added_on=equipment.added_on,
        )
        for period in rules.periods()[equipment.kind]
    )
    failed = tuple(check for check in newest if not check.has_passed)
    return Standing(equipment, checks, failed, stopped_at, grace_days, zone)


def closed(session: DbSession, now: datetime) -> list[Closed]:
    """What equipment closes: each place or room since when, and why; none of it ends by itself."""
    return closed_of(standings(session, serving=True), now)


def closed_of(equipment: Iterable[Standing], now: datetime) -> list[Closed]:
    """What of this equipment closes."""
    return [
        Closed(
            Span(since, FOR_GOOD),
            why,
            standing.equipment.serves,
            standing.equipment.room_id,
            standing.equipment.station_id,
        )
        for standing in equipment
        if standing.equipment.serves and (closing := standing.closing(now)) is not None
        for since, why in [closing]
    ]


# Instruments


def instruments(session: DbSession) -> Instruments:
    """How far off the lab's thermometers, balances and pH meters count; here, and nowhere else, their errors come into
    the lab's sums."""
    query = select(Equipment).options(joinedload(Equipment.reading)).where(Equipment.kind.in_(rules.INSTRUMENTS))
    owned = session.execute(query.where(Equipment.retired_at.is_(None)).order_by(Equipment.id)).scalars().all()
    of_kind = {kind: _usable([each for each in owned if each.kind is kind]) for kind in rules.INSTRUMENTS}
    steps = [each.step_micro for each in of_kind[EquipmentKind.BALANCE] if each.step_micro]

    def counted(kind: EquipmentKind, ordinary_micro: int) -> Counted | None:
        offs = [_off(each) for each in of_kind[kind]]
        return rules.counted(kind, offs, never_micro=rules.NEVER_CHECKED * ordinary_micro)

    return Instruments(
        thermometer=counted(EquipmentKind.THERMOMETER, rules.ORDINARY_MICRO[EquipmentKind.THERMOMETER]),
        balance=counted(EquipmentKind.BALANCE, max(steps, default=rules.MICRO)),
        step_g=max(steps) / rules.MICRO if steps else None,
        ph_meter=counted(EquipmentKind.PH_METER, rules.ORDINARY_MICRO[EquipmentKind.PH_METER]),
    )


def _usable(owned: list[Equipment]) -> list[Equipment]:
    """Those that did not fail the last check of their reading; where all did, they count all the same."""
    return [each for each in owned if each.reading is None or each.reading.has_passed] or owned


def _off(equipment: Equipment) -> int | None:
    check = equipment.reading
    if check is None or check.error_micro is None or check.doubt_micro is None:
        return None
    return rules.off_micro(error_micro=check.error_micro, doubt_micro=check.doubt_micro)


# Single rows


def equipment_or_raise(session: DbSession, equipment_id: int, *, lock: bool = False) -> Equipment:
    return get_or_raise(session, Equipment, equipment_id, "equipment", lock=lock)


def fault_or_raise(session: DbSession, fault_id: int, *, lock: bool = False) -> EquipmentFault:
    return get_or_raise(session, EquipmentFault, fault_id, "fault", lock=lock)


def checks_of(
    session: DbSession, equipment_id: int, *, before_id: int | None = None, limit: int
) -> list[EquipmentCheck]:
    """The checks of one piece, as they were entered, the newest first."""
    query = (
        select(EquipmentCheck)
        .options(joinedload(EquipmentCheck.recorded_by), joinedload(EquipmentCheck.examination))
        .where(EquipmentCheck.equipment_id == equipment_id)
        .order_by(EquipmentCheck.id.desc())
        .limit(limit)
    )
    if before_id is not None:
        query = query.where(EquipmentCheck.id < before_id)
    return list(session.execute(query).scalars())


def open_faults(
    session: DbSession, *, equipment_id: int | None = None, station_id: int | None = None
) -> list[EquipmentFault]:
    """Faults that stand, the oldest first: all, or those of one piece or place."""
    query = (
        select(EquipmentFault)
        .options(
            joinedload(EquipmentFault.equipment).joinedload(Equipment.room),
            joinedload(EquipmentFault.equipment).joinedload(Equipment.station),
            joinedload(EquipmentFault.station),
            joinedload(EquipmentFault.reported_by),
        )
        .where(EquipmentFault.cleared_at.is_(None))
        .order_by(EquipmentFault.id)
    )
    if equipment_id is not None:
        query = query.where(EquipmentFault.equipment_id == equipment_id)
    if station_id is not None:
        query = query.where(EquipmentFault.station_id == station_id)
    return list(session.execute(query).scalars())


EQUIPMENT = RowKind(
    table=Equipment,
    called="equipment",
    many="equipment",
    pages=(Page("equipment.show", "equipment_id"),),
    coded=CodeKind.EQUIPMENT,
    search=Search(
        select(
            Equipment.id,
            Equipment.name,
            Equipment.code,
            cast(Equipment.kind, String),
            Equipment.retired_at.is_not(None),
        ),
        by=(Equipment.name,),
        gone="out of use",
    ),
)
FAULT = RowKind(table=EquipmentFault, called="fault", many="faults", pages=(Page("equipment.fault", "fault_id"),))
