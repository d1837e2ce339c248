"""What people do with equipment: enter it, check it, take it out of use, report a fault and clear it."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from labsys.equipment import queries, rules
from labsys.equipment.models import (
    CheckKind,
    Equipment,
    EquipmentCheck,
    EquipmentFault,
    EquipmentKind,
    Examination,
    FaultKind,
)
from labsys.equipment.rules import EquipmentRefused
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require
from labsys.places import queries as places
from labsys.records import queries as lab
from labsys.records import service as records
from labsys.records.models import CodeKind
from labsys.timetable.local_time import to_local


@dataclass(frozen=True, kw_only=True)
class EquipmentFacts:
    """What is said of a piece of equipment; what it serves is closed when it fails."""

    name: str
    whereabouts: str = ""
    room_id: int | None = None
    station_id: int | None = None
    lapses_on: date | None = None
    step_micro: int | None = None


@dataclass(frozen=True, kw_only=True)
class Found:
    """What came of a check. An error of a reading stands beside how far off what it was held against may be."""

    has_passed: bool
    error_micro: int | None = None
    doubt_micro: int | None = None
    note: str = ""
    particulars: Mapping[str, str] | None = None  # of a thorough examination and test


@act
def add(act: Act, *, kind: EquipmentKind, facts: EquipmentFacts) -> Equipment:
    """Enter a piece of equipment. Raises NotPermitted, NotFound or EquipmentRefused."""
    require(act.actor, Permission.KEEP_EQUIPMENT)
    if kind is EquipmentKind.CYLINDER:
        raise EquipmentRefused("Measuring cylinders are entered in the chemical store, with their scale.", field="kind")
    equipment = enter(act, kind=kind, facts=facts)
    act.tell("equipment.added", about=equipment, facts=_told(equipment))
    return equipment


def enter(act: Act, *, kind: EquipmentKind, facts: EquipmentFacts) -> Equipment:
    """Step: put a piece of equipment on the list and give it its code. Raises NotFound or EquipmentRefused."""
    equipment = Equipment(kind=kind, added_on=_today(act))
    _put(act, equipment, facts)
    act.session.add(equipment)
    act.session.flush()
    equipment.code = records.give_code(act.session, kind=CodeKind.EQUIPMENT, row_id=equipment.id)
    return equipment


@act
def change(act: Act, *, equipment_id: int, facts: EquipmentFacts) -> Equipment:
    """Change what is said of a piece: where it is, what it serves, the date of a new bottle.

    Raises NotPermitted, NotFound or EquipmentRefused.
    """
    require(act.actor, Permission.KEEP_EQUIPMENT)
    equipment = _in_use(act, equipment_id)
    before = _told(equipment)
    _put(act, equipment, facts)
    act.session.flush()
    act.tell("equipment.changed", about=equipment, facts={**_told(equipment), "was": before})
    return equipment


@act
def retire(act: Act, *, equipment_id: int, because: str) -> Equipment:
    """Take a piece out of use, with the reason; it closes nothing any more. Raises NotPermitted, NotFound or
    EquipmentRefused."""
    require(act.actor, Permission.KEEP_EQUIPMENT)
    equipment = _in_use(act, equipment_id)
    if not because:
        raise EquipmentRefused("Say why it is taken out of use, and what stands in for it.", field="because")
    equipment.retired_at, equipment.retired_because = act.now, because
    act.tell("equipment.retired", about=equipment, facts={"because": because})
    return equipment


@act
def check(act: Act, *, equipment_id: int, kind: CheckKind, happened_on: date, found: Found) -> EquipmentCheck:
    """Enter a check with what was found. One that failed closes what it serves until one of its kind passes.

    Raises NotPermitted, NotFound or EquipmentRefused.
    """
    require(act.actor, Permission.KEEP_EQUIPMENT)
    equipment = _in_use(act, equipment_id)
    rules.period_of(equipment.kind, kind)
    if happened_on > _today(act):
        raise EquipmentRefused("That day is to come. Enter a check when it is done.", field="happened_on")
    if kind is CheckKind.READING and (found.error_micro is None or found.doubt_micro is None):
        raise EquipmentRefused("Enter the error found, and how far off what it was held against may be.", field="error")
    if kind is CheckKind.EXAMINATION and not found.particulars:
        raise EquipmentRefused("Enter what the record of an examination has to say.", field="employer")
    done = EquipmentCheck(
        equipment_id=equipment.id,
        kind=kind,
        happened_on=happened_on,
        recorded_at=act.now,
        recorded_by_id=act.actor.id,
        has_passed=found.has_passed,
        error_micro=found.error_micro if kind is CheckKind.READING else None,
        doubt_micro=found.doubt_micro if kind is CheckKind.READING else None,
        note=found.note,
        examination=Examination(**found.particulars) if found.particulars else None,
    )
    act.session.add(done)
    act.session.flush()
    facts = {
        "kind": kind,
        "on": happened_on.isoformat(),
        "passed": found.has_passed,
        "error_micro": done.error_micro,
        "doubt_micro": done.doubt_micro,
        "note": found.note,
        **({"particulars": dict(found.particulars)} if found.particulars else {}),
    }
    act.tell("equipment.checked", about=equipment, facts=facts)
    return done


@act
def report_fault(
    act: Act, *, kind: FaultKind, words: str = "", equipment_id: int | None = None, station_id: int | None = None
) -> EquipmentFault:
    """Report that something is wrong with equipment or a place; anybody may. It stands until it is cleared.

    Raises NotPermitted, NotFound or EquipmentRefused.
    """
    require(act.actor, Permission.REPORT_INCIDENT)
    equipment = queries.equipment_or_raise(act.session, equipment_id) if equipment_id is not None else None
    station = places.station_or_raise(act.session, station_id) if station_id is not None else None
    subject = equipment or station
    if subject is None or (equipment is not None and station is not None):
        raise EquipmentRefused("Say of one thing what is wrong with it.")
    fault = EquipmentFault(
        equipment_id=equipment_id,
        station_id=station_id,
        kind=kind,
        words=words,
        reported_at=act.now,
        reported_by_id=act.actor.id,
    )
    act.session.add(fault)
    act.session.flush()
    act.tell("fault.reported", about=fault, facts={"of": subject.name, "kind": kind, "words": words})
    return fault


@act
def clear_fault(act: Act, *, fault_id: int, how: str) -> EquipmentFault:
    """Clear a fault, with what was done. Raises NotPermitted, NotFound or EquipmentRefused."""
    require(act.actor, Permission.KEEP_EQUIPMENT)
    fault = queries.fault_or_raise(act.session, fault_id, lock=True)
    if fault.cleared_at is not None:
        raise EquipmentRefused("Somebody has cleared this fault already.")
    if not how:
        raise EquipmentRefused("Say what was done: mended, replaced, or nothing found.", field="how")
    fault.cleared_at, fault.cleared_by_id, fault.cleared_how = act.now, act.actor.id, how
    act.tell("fault.cleared", about=fault, facts={"how": how})
    return fault


def _in_use(act: Act, equipment_id: int) -> Equipment:
    equipment = queries.equipment_or_raise(act.session, equipment_id, lock=True)
    if equipment.retired_at is not None:
        raise EquipmentRefused(f"{equipment.name} is out of use.")
    return equipment


def _put(act: Act, equipment: Equipment, facts: EquipmentFacts) -> None:
    if facts.room_id is not None and facts.station_id is not None:
        raise EquipmentRefused("It serves a room or one place, not both.", field="serves")
    room = places.room_or_raise(act.session, facts.room_id) if facts.room_id is not None else None
    station = places.station_or_raise(act.session, facts.station_id) if facts.station_id is not None else None
    is_bottle = equipment.kind is EquipmentKind.EYEWASH_BOTTLE
    if is_bottle and facts.lapses_on is None:
        raise EquipmentRefused(
            "Enter the last day printed on the bottle: one without a date is none.", field="lapses_on"
        )
    if equipment.kind is EquipmentKind.BALANCE and facts.step_micro is None:
        raise EquipmentRefused("Enter the step its display shows.", field="step")
    equipment.name, equipment.whereabouts = facts.name, facts.whereabouts
    equipment.room, equipment.station = room, station
    equipment.lapses_on = facts.lapses_on if is_bottle else None
    equipment.step_micro = facts.step_micro if equipment.kind is EquipmentKind.BALANCE else None


def _today(act: Act) -> date:
    return to_local(act.now, zone=lab.zone(act.session)).date()


def _told(equipment: Equipment) -> dict[str, object]:
    return {
        "kind": equipment.kind,
        "name": equipment.name,
        "whereabouts": equipment.whereabouts,
        "serves": equipment.serves,
        "lapses_on": equipment.lapses_on.isoformat() if equipment.lapses_on else None,
        "step_micro": equipment.step_micro,
    }
