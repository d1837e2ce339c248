"""Equipment of the demonstration, with its checks: entered late in the story, so that nothing of it stood overdue."""

from datetime import timedelta
from typing import Any

from labsys.demo.fixtures import Entry
from labsys.demo.play import Play
from labsys.equipment import service
from labsys.equipment.models import CheckKind, Equipment, EquipmentKind, FaultKind
from labsys.equipment.rules import MICRO
from labsys.equipment.service import EquipmentFacts, Found
from labsys.handover import service as handover
from labsys.labware.models import OwnedCylinder
from labsys.quantities import UL_PER_ML


def equip(play: Play, _: Entry) -> None:
    """Enter what is checked, each check as it was last done, and a fault that stands."""
    told = play.fixtures.told["equipment"]
    for row in told["equipment"]:
        equipment = service.add(play.act("joss"), kind=EquipmentKind(row["kind"]), facts=_facts(play, row))
        for check in row["checks"]:
            _check(play, equipment, check, told["examination"])
        if fault := row.get("fault"):
            kind = FaultKind(fault["kind"])
            service.report_fault(play.act(fault["who"]), kind=kind, words=fault["words"], equipment_id=equipment.id)
    handover.write(play.act("hana"), text=told["handover"]["note"])
    film = told["handover"]["film"]
    handover.find_film(
        play.act("hana"),
        what=film["what"],
        whereabouts=film["whereabouts"],
        owner_id=play.ids[film["owner"]],
        owner_words="",
    )


def check_cylinder(play: Play, cylinder: OwnedCylinder) -> None:
    """The check of a new cylinder: off by two fifths of a division, held against what is good to a tenth of one."""
    division_micro = cylinder.division_ul * MICRO // UL_PER_ML
    found = Found(has_passed=True, error_micro=division_micro * 2 // 5, doubt_micro=division_micro // 10)
    service.check(
        play.act("joss"),
        equipment_id=cylinder.equipment_id,
        kind=CheckKind.READING,
        happened_on=play.at.date(),
        found=found,
    )


def _facts(play: Play, row: Entry) -> EquipmentFacts:
    lapses_in = row.get("lapses_in_days")
    return EquipmentFacts(
        name=row["name"],
        whereabouts=row.get("whereabouts", ""),
        room_id=play.ids[f"room {row['room']}"] if "room" in row else None,
        station_id=play.ids[f"station {row['station']}"] if "station" in row else None,
        lapses_on=play.today + timedelta(days=lapses_in) if lapses_in else None,
        step_micro=round(row["step_g"] * MICRO) if "step_g" in row else None,
    )


def _check(play: Play, equipment: Equipment, told: Entry, examination: Entry) -> None:
    kind = CheckKind(told["check"])
    found: dict[str, Any] = {"has_passed": True}
    if kind is CheckKind.EXAMINATION:
        found["particulars"] = examination
    if "error" in told:
        found |= {"error_micro": round(told["error"] * MICRO), "doubt_micro": round(told["doubt"] * MICRO)}
    service.check(
        play.act("joss"),
        equipment_id=equipment.id,
        kind=kind,
        happened_on=play.day(told["days_ago"]),
        found=Found(**found),
    )
