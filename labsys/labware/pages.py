"""What the pages about cylinders, tanks and trays show, in words."""

from dataclasses import dataclass

from labsys.chemistry.care import KIND_NAMES
from labsys.labware.models import OwnedCylinder, WorkingVessel
from labsys.labware.queries import off_ml
from labsys.labware.rules import CLASS_NAMES, for_a_hand, tray_ul
from labsys.quantities import UL_PER_ML, figure, show_volume


@dataclass(frozen=True)
class CylinderView:
    """A cylinder in words, and how its checks stand; its page is that of the equipment it is."""

    equipment_id: int
    cells: tuple[str, str, str, str, str]
    counts: str
    checked: str


@dataclass(frozen=True)
class VesselView:
    """A tank or tray in words."""

    vessel: WorkingVessel
    capacity: str
    takes: tuple[str, ...]


def cylinder_view(cylinder: OwnedCylinder) -> CylinderView:
    """How far off a cylinder counts, and by what."""
    check = cylinder.equipment.reading
    if check is None:
        checked = "never checked: not known. The wider of its class and two divisions counts"
    elif not check.has_passed:
        checked = f"failed {check.happened_on:%-d %b %Y}: not used"
    else:
        checked = f"{check.happened_on:%-d %b %Y}"
    return CylinderView(cylinder.equipment_id, cylinder_row(cylinder), f"± {off_ml(cylinder):g} mL", checked)


def cylinder_row(cylinder: OwnedCylinder) -> tuple[str, str, str, str, str]:
    """What a cylinder holds, one division of its scale, its lowest mark, its class, and what it is kept for."""
    return (
        f"{cylinder.nominal_ml} mL",
        f"{figure(cylinder.division_ul, UL_PER_ML)} mL",
        "not looked at" if cylinder.least_ul is None else f"{figure(cylinder.least_ul, UL_PER_ML)} mL",
        CLASS_NAMES[cylinder.accuracy_class],
        KIND_NAMES[cylinder.kept_for] if cylinder.kept_for else "any solution",
    )


def vessel_view(vessel: WorkingVessel) -> VesselView:
    if vessel.length_mm is not None and vessel.width_mm is not None and vessel.depth_mm is not None:
        filled = for_a_hand(tray_ul(length_mm=vessel.length_mm, width_mm=vessel.width_mm, depth_mm=vessel.depth_mm))
        takes: tuple[str, ...] = (
            f"{vessel.length_mm} × {vessel.width_mm} mm inside; {show_volume(filled)} at {vessel.depth_mm} mm",
        )
    else:
        takes = tuple(f"{fill.count} of {fill.size} in {show_volume(fill.volume_ul)}" for fill in vessel.fills)
    return VesselView(vessel, show_volume(vessel.capacity_ul), takes)
