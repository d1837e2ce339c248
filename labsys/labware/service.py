"""What people do with the lists of what the lab owns: add a cylinder, add or change a tank or tray."""

from collections.abc import Sequence
from dataclasses import dataclass

from labsys.chemistry.care import SolutionKind
from labsys.chemistry.measuring import Cylinder, CylinderClass, NotInStandard
from labsys.database import flush_or_refuse
from labsys.equipment.models import EquipmentKind
from labsys.equipment.service import EquipmentFacts, enter
from labsys.labware import queries
from labsys.labware.models import OwnedCylinder, VesselFill, WorkingVessel, WorkingVesselKind
from labsys.labware.rules import CylinderRefused, VesselRefused, cylinder_name, tray_ul
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require
from labsys.quantities import UL_PER_ML, show_volume

_NAME = {"constraint": "uq_working_vessels_name", "columns": "working_vessels.name"}


@dataclass(frozen=True)
class FillEntry:
    size: str
    count: int
    volume_ul: int


@dataclass(frozen=True, kw_only=True)
class VesselEntry:
    """All that is entered of a tank, with its fills, or of a tray, with its inside measures and usual depth."""

    name: str
    kind: WorkingVesselKind
    capacity_ul: int
    length_mm: int | None = None
    width_mm: int | None = None
    depth_mm: int | None = None
    fills: Sequence[FillEntry] = ()
    source: str = ""


@act
def add_cylinder(
    act: Act,
    *,
    nominal_ml: int,
    division_ul: int,
    accuracy_class: CylinderClass,
    kept_for: SolutionKind | None,
    least_ul: int | None = None,
) -> OwnedCylinder:
    """Note a measuring cylinder the lab owns, where its scale begins, and what it is kept for.

    Raises NotPermitted, CylinderRefused, or CalculationError for an impossible one.
    """
    require(act.actor, Permission.KEEP_STOCK)
    try:
        Cylinder(nominal_ml=nominal_ml, division_ml=division_ul / UL_PER_ML, accuracy_class=accuracy_class)
    except NotInStandard as error:
        raise CylinderRefused(
            f"No standard cylinder holds {nominal_ml} mL. Check the size, or choose “no class marked”.",
            field="accuracy_class",
        ) from error
    name = cylinder_name(nominal_ml=nominal_ml, accuracy_class=accuracy_class, kept_for=kept_for)
    cylinder = OwnedCylinder(
        equipment=enter(act, kind=EquipmentKind.CYLINDER, facts=EquipmentFacts(name=name)),
        nominal_ml=nominal_ml,
        division_ul=division_ul,
        accuracy_class=accuracy_class,
        kept_for=kept_for,
        least_ul=least_ul,
    )
    act.session.add(cylinder)
    facts = {"nominal_ml": nominal_ml, "class": accuracy_class, "kept_for": kept_for, "least_ul": least_ul}
    act.tell("cylinder.added", about=cylinder, facts=facts)
    return cylinder


@act
def add_vessel(act: Act, *, entry: VesselEntry) -> WorkingVessel:
    """Note a tank or tray the lab owns. Raises NotPermitted, VesselRefused, or OutOfRange for an impossible tray."""
    require(act.actor, Permission.KEEP_STOCK)
    if queries.working_vessel_by_name(act.session, entry.name) is not None:
        raise _name_taken(entry.name)
    vessel = WorkingVessel(kind=entry.kind)
    _fill_in(vessel, entry)
    act.session.add(vessel)
    flush_or_refuse(act.session, _name_taken(entry.name), **_NAME)
    act.tell("vessel.added", about=vessel, facts=_facts(vessel))
    return vessel


@act
def change_vessel(act: Act, *, vessel_id: int, entry: VesselEntry, in_use: bool) -> WorkingVessel:
    """Change a tank or tray, or take it out of use; plans then go by what it is now.

    Raises NotPermitted, NotFound, VesselRefused or OutOfRange.
    """
    require(act.actor, Permission.KEEP_STOCK)
    vessel = queries.working_vessel_or_raise(act.session, vessel_id, lock=True)
    same_name = queries.working_vessel_by_name(act.session, entry.name)
    if same_name is not None and same_name.id != vessel.id:
        raise _name_taken(entry.name)
    before = _facts(vessel)
    vessel.fills.clear()
    act.session.flush()  # the old rows go before the new ones come, or they would collide
    _fill_in(vessel, entry)
    vessel.closed_at = None if in_use else vessel.closed_at or act.now
    flush_or_refuse(act.session, _name_taken(entry.name), **_NAME)
    facts = {**_facts(vessel), "was": before}
    act.tell("vessel.changed", about=vessel, facts=facts)
    return vessel


def _fill_in(vessel: WorkingVessel, entry: VesselEntry) -> None:
    sides = (entry.length_mm, entry.width_mm, entry.depth_mm)
    if vessel.kind is WorkingVesselKind.TRAY:
        if None in sides:
            raise VesselRefused("Measure the tray inside: length, width and depth of solution.", field="length_mm")
        length_mm, width_mm, depth_mm = (side or 0 for side in sides)
        takes = [tray_ul(length_mm=length_mm, width_mm=width_mm, depth_mm=depth_mm)]
    else:
        if not entry.fills:
            raise VesselRefused("Enter one filling at least, such as five of 120 in 2.5 L.")
        takes = [fill.volume_ul for fill in entry.fills]
    if max(takes) > entry.capacity_ul:
        raise VesselRefused(
            f"It takes {show_volume(entry.capacity_ul)} at most; a filling of {show_volume(max(takes))} is entered.",
            field="capacity",
        )
    vessel.name = entry.name
    vessel.capacity_ul = entry.capacity_ul
    vessel.length_mm, vessel.width_mm, vessel.depth_mm = sides
    vessel.source = entry.source
    vessel.fills = [VesselFill(**vars(fill)) for fill in entry.fills]


def _name_taken(name: str) -> VesselRefused:
    return VesselRefused(f"There is a tank or tray called {name} already.", field="name")


def _facts(vessel: WorkingVessel) -> dict[str, object]:
    return {
        "name": vessel.name,
        "kind": vessel.kind,
        "capacity_ul": vessel.capacity_ul,
        "inside_mm": [vessel.length_mm, vessel.width_mm, vessel.depth_mm],
        "fills": [[fill.size, fill.count, fill.volume_ul] for fill in vessel.fills],
        "in_use": vessel.closed_at is None,
    }
