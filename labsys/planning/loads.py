"""Which of the lab's tanks and trays a load goes into, which volume covers it, and whether a load fits a volume."""

from collections.abc import Sequence

from labsys.chemistry.sizes import Material, Size
from labsys.chemistry.volumes import REEL_ML, USUAL_TRAYS, UsualTray, reels_ml
from labsys.labware.models import WorkingVessel, WorkingVesselKind
from labsys.labware.rules import Fill, fill_for, most_of
from labsys.planning.facts import PlannedLoad
from labsys.quantities import UL_PER_L, UL_PER_ML, show_volume
from labsys.records.errors import Refused

MOST_REELS = 20  # of `reels_ml`
MOST_PIECES = 500


class PlanRefused(Refused):
    """The session cannot be planned so; the message says why and what to do."""


class LoadTooLarge(PlanRefused):
    """The load is not covered by the volume; carries what it needs, and how many the volume covers. [µL, -]"""

    def __init__(self, *, size: Size, count: int, needed_ul: int, working_ul: int, covered: int) -> None:
        super().__init__(
            f"{count} of {size.key} need at least {show_volume(needed_ul)}; {show_volume(working_ul)} covers "
            f"{covered or 'none'}. Take fewer or a larger tank.",
            field="volume",
        )
        self.needed_ul = needed_ul
        self.working_ul = working_ul
        self.covered = covered


def planned_load(
    *,
    size: Size,
    material: Material,
    count: int,
    volume_ul: int | None = None,
    vessel: WorkingVessel | None = None,
    offered: Sequence[WorkingVessel] = (),
) -> PlannedLoad:
    """Return a load with the vessel it goes into and the volume that covers it.

    Where nobody chose a vessel or a volume, the smallest filling among those of the lab is taken; where the lab has
    entered none that takes the load, the usual volume.

    Parameters:
        size: Size of the pieces. [-]
        material: What they are made of. [-]
        count: How many, 1 or more. [-]
        volume_ul: The volume somebody wants, or None. [µL]
        vessel: The tank or tray somebody chose, or None. [-]
        offered: The lab's tanks and trays in use. [-]
    Returns:
        The load. [µL]
    Raises:
        PlanRefused: The vessel does not take the load, or the volume does not fit it.
    Source:
        `labsys.labware.rules` and `usual_volume_ul`.
    """
    notes: tuple[str, ...] = ()
    covering_ul = _covering_ul(size=size, material=material, count=count)
    is_chosen = vessel is not None
    if vessel is None and volume_ul is None:
        vessel = _smallest(offered, size=size, material=material, count=count)
        if vessel is None and any(tank_or_tray.kind is _kind_for(material) for tank_or_tray in offered):
            notes = (_none_takes(offered, size=size, material=material, count=count),)
    if vessel is None:
        working_ul = volume_ul or usual_volume_ul(size=size, material=material, count=count)
        return PlannedLoad(
            size, material, count, working_ul, largest_ul=volume_ul, notes=notes, covering_ul=covering_ul
        )
    fill = fill_for(vessel, size=size, count=count)
    if fill is None:
        raise PlanRefused(_why_not(vessel, size=size, count=count), field="vessel")
    working_ul = _checked(volume_ul or fill.volume_ul, vessel=vessel, fill=fill, size=size, count=count)
    if fill.empty:
        reels = "an empty reel" if fill.empty == 1 else f"{fill.empty} empty reels"
        notes = (f"Fill the tank up with {reels}, so that the load does not slide.",)
    if is_chosen or material is Material.FILM:  # sheets go through whichever tray a shared bath stands in
        covering_ul = fill.least_ul
    return PlannedLoad(size, material, count, working_ul, vessel.name, vessel.capacity_ul, notes, covering_ul)


def _kind_for(material: Material) -> WorkingVesselKind:
    return WorkingVesselKind.TANK if material is Material.FILM else WorkingVesselKind.TRAY


def _smallest(offered: Sequence[WorkingVessel], *, size: Size, material: Material, count: int) -> WorkingVessel | None:
    """The vessel with the smallest filling that covers a load: a tank for film where one takes it, else a tray."""
    taking = [
        (vessel.kind is not _kind_for(material), fill.volume_ul, vessel.id, vessel)
        for vessel in offered
        if (fill := fill_for(vessel, size=size, count=count)) is not None
    ]
    return min(taking)[-1] if taking else None


def _none_takes(offered: Sequence[WorkingVessel], *, size: Size, material: Material, count: int) -> str:
    most = max((most_of(vessel, size=size) for vessel in offered), default=0)
    if material is Material.FILM and most:
        return (
            f"The lab's largest tank takes {most} of {size.key}; this is the usual volume for {count}. Share them out, "
            "or take one run after another."
        )
    what = "tank or tray" if material is Material.FILM else "tray"
    return f"No {what} of the lab is entered for {size.key}: this is the usual volume."


def _why_not(vessel: WorkingVessel, *, size: Size, count: int) -> str:
    if most := most_of(vessel, size=size):
        return f"{vessel.name} takes {most} of {size.key} at most, not {count}. Take fewer, or another."
    return f"{vessel.name} does not take {size.key}. Choose another tank or tray."


def _checked(working_ul: int, *, vessel: WorkingVessel, fill: Fill, size: Size, count: int) -> int:
    if working_ul > vessel.capacity_ul:
        raise PlanRefused(
            f"{vessel.name} takes {show_volume(vessel.capacity_ul)} at most. Enter less, or choose a larger one.",
            field="volume",
        )
    if working_ul < fill.least_ul:
        raise PlanRefused(
            f"{vessel.name} needs {show_volume(fill.least_ul)} to cover {count} of {size.key}. Enter more, or leave "
            "the volume empty.",
            field="volume",
        )
    return working_ul


def usual_volume_ul(*, size: Size, material: Material, count: int) -> int:
    """Return the volume a load usually takes: by reels for roll film, else a filled tray that the size lies flat in.

    Parameters:
        size: Size of the pieces. [-]
        material: What they are made of. [-]
        count: How many, 1 or more. [-]
    Returns:
        Volume. [µL]
    Raises:
        PlanRefused: More reels than one tank holds, or a size that no usual tray takes.
    Source:
        `labsys.chemistry.volumes`: common practice, no source.

    >>> from labsys.chemistry.sizes import size_of
    >>> usual_volume_ul(size=size_of(key="120"), material=Material.FILM, count=5)
    2500000
    >>> usual_volume_ul(size=size_of(key="8x10 in"), material=Material.RC, count=30)
    1000000
    """
    if material is Material.FILM and size.key in REEL_ML:
        if count > MOST_REELS:
            raise PlanRefused(
                f"At most {MOST_REELS} reels go into one tank. Plan one run at a time, or enter the volume of yours.",
                field="count",
            )
        return round(reels_ml(size_key=size.key, reels=count).typical * UL_PER_ML)
    tray = _usual_tray(size)
    if tray is None:
        raise PlanRefused("No usual tray takes this size. Enter the volume yours takes.", field="volume")
    return round(tray.usual_litres[1] * UL_PER_L)


def _usual_tray(size: Size) -> UsualTray | None:
    """A sheet fits a tray of its own nominal size or any of more area: true of every size in the table."""
    return next((tray for tray in USUAL_TRAYS if size.surface_mm2 <= tray.length_mm * tray.width_mm + 1), None)


def _covering_ul(*, size: Size, material: Material, count: int) -> int | None:
    """The least that usually covers a load, None where no usual vessel takes it. [µL]"""
    if material is Material.FILM and size.key in REEL_ML:
        return round(count * REEL_ML[size.key].low * UL_PER_ML)
    tray = _usual_tray(size)
    return None if tray is None else round(tray.usual_litres[0] * UL_PER_L)


def check_load(*, size: Size, material: Material, count: int, working_ul: int) -> None:
    """Raise LoadTooLarge where rolls of film stand out of the solution.

    Source:
        `labsys.chemistry.volumes`: common practice, no source. Sheets go through one after another.
    """
    if material is not Material.FILM or size.key not in REEL_ML:
        return
    least_ul = round(REEL_ML[size.key].low * UL_PER_ML)
    if count * least_ul > working_ul:
        raise LoadTooLarge(
            size=size, count=count, needed_ul=count * least_ul, working_ul=working_ul, covered=working_ul // least_ul
        )
