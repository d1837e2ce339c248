"""Decisions about tanks and trays: what covers a load, and volumes as a hand fills them."""

from dataclasses import dataclass

from labsys.chemistry.care import KIND_NAMES, SolutionKind
from labsys.chemistry.measuring import CylinderClass
from labsys.chemistry.sizes import Size
from labsys.chemistry.volumes import LEAST_TRAY_DEPTH_MM, tray_litres
from labsys.labware.models import WorkingVessel
from labsys.quantities import UL_PER_L, UL_PER_ML
from labsys.records.errors import Refused

_STEPS_UL = ((UL_PER_L // 2, 10 * UL_PER_ML), (2 * UL_PER_L, 50 * UL_PER_ML))
_COARSEST_UL = 100 * UL_PER_ML


class VesselRefused(Refused):
    """The tank or tray cannot be as entered; the message says why and what to do."""


class CylinderRefused(Refused):
    """The measuring cylinder cannot be as entered; the message says why."""


CLASS_NAMES = {CylinderClass.A: "class A", CylinderClass.B: "class B", CylinderClass.UNMARKED: "no class marked"}


def cylinder_name(*, nominal_ml: int, accuracy_class: CylinderClass, kept_for: SolutionKind | None) -> str:
    """How a cylinder is called among the equipment.

    >>> cylinder_name(nominal_ml=250, accuracy_class=CylinderClass.B, kept_for=None)
    'Measuring cylinder, 250 mL, class B'
    """
    kept = f", for {KIND_NAMES[kept_for]}" if kept_for else ""
    return f"Measuring cylinder, {nominal_ml} mL, {CLASS_NAMES[accuracy_class]}{kept}"


@dataclass(frozen=True, slots=True)
class Fill:
    """What covers a load in a vessel: the usual filling and the least, and how many empty reels go in with it. [µL]"""

    volume_ul: int
    least_ul: int
    empty: int = 0


def for_a_hand(volume_ul: int) -> int:
    """Return a volume rounded up to what a hand fills: 10 mL below half a litre, 50 mL below two, then 100 mL.

    Parameters:
        volume_ul: Volume, above 0. [µL]
    Returns:
        Volume, never less. [µL]
    Source:
        Common practice, no source.

    >>> for_a_hand(612_000), for_a_hand(2_621_935), for_a_hand(6_010_000), for_a_hand(2_500_000)
    (650000, 2700000, 6100000, 2500000)
    """
    step = next((step for below, step in _STEPS_UL if volume_ul < below), _COARSEST_UL)
    return -(-volume_ul // step) * step


def fill_for(vessel: WorkingVessel, *, size: Size, count: int) -> Fill | None:
    """Return what covers a load in a tank or tray, None where it does not take it.

    A tank takes the filling entered for the load, or for the next larger one, made up with empty reels. Sheets go
    through a tray one after another, so a tray takes any number that lies flat in it.

    Parameters:
        vessel: The lab's own tank or tray. [-]
        size: Size of the pieces. [-]
        count: How many, 1 or more. [-]
    Returns:
        The filling, or None. [µL]
    Source:
        The lab's own figures. Least depth of a tray: US Army subcourse SS0509, Laboratory Procedures, ed. 8 (1988).
        Empty reels: NAVEDTRA 14209, Photography (Basic).
    """
    if vessel.length_mm is None or vessel.width_mm is None or vessel.depth_mm is None:
        entered = sorted(
            (fill.count, fill.volume_ul) for fill in vessel.fills if fill.size == size.key and fill.count >= count
        )
        if not entered:
            return None
        reels, volume_ul = entered[0]
        return Fill(volume_ul, volume_ul, empty=reels - count if size.sides_mm is None else 0)
    inside = (vessel.length_mm, vessel.width_mm)
    if size.sides_mm is None or any(
        side > room for side, room in zip(sorted(size.sides_mm), sorted(inside), strict=True)
    ):
        return None
    return Fill(
        for_a_hand(tray_ul(length_mm=inside[0], width_mm=inside[1], depth_mm=vessel.depth_mm)),
        for_a_hand(tray_ul(length_mm=inside[0], width_mm=inside[1], depth_mm=LEAST_TRAY_DEPTH_MM)),
    )


def tray_ul(*, length_mm: float, width_mm: float, depth_mm: float) -> int:
    """Return the solution in a tray. [µL] Raises OutOfRange."""
    return round(tray_litres(length_mm=length_mm, width_mm=width_mm, depth_mm=depth_mm) * UL_PER_L)


def most_of(vessel: WorkingVessel, *, size: Size) -> int:
    """Return the largest number of a size entered for a tank, 0 where none is."""
    return max((fill.count for fill in vessel.fills if fill.size == size.key), default=0)
