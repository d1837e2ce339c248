"""Which volume a load takes where nobody says one, and whether a load fits a volume."""

from labsys.chemistry.sizes import Material, Size
from labsys.chemistry.volumes import REEL_ML, USUAL_TRAYS, reels_ml
from labsys.quantities import UL_PER_L, UL_PER_ML, show_volume
from labsys.records.errors import Refused

MOST_REELS = 20  # of `reels_ml`
MOST_PIECES = 500


class PlanRefused(Refused):
    """The session cannot be planned so; the message says why and what to do."""


class LoadTooLarge(PlanRefused):
    """The load is not covered by the volume; carries what it needs, and how many the volume covers. [µL, -]"""

    def __init__(self, *, size: Size, count: int, needed_ul: int, working_ul: int, covered: int) -> None:
        takes = f"{show_volume(working_ul)} covers {covered}" if covered else f"{show_volume(working_ul)} covers none"
        super().__init__(
            f"{count} of {size.key} need at least {show_volume(needed_ul)}; {takes}. Take fewer or a larger tank.",
            field="volume",
        )
        self.needed_ul = needed_ul
        self.working_ul = working_ul
        self.covered = covered


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
    # A sheet fits a tray of its own nominal size or any of more area: true of every size in the table.
    tray = next((one for one in USUAL_TRAYS if size.surface_mm2 <= one.length_mm * one.width_mm + 1), None)
    if tray is None:
        raise PlanRefused("No usual tray takes this size. Enter the volume yours takes.", field="volume")
    return round(tray.usual_litres[1] * UL_PER_L)


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
            size=size,
            count=count,
            needed_ul=count * least_ul,
            working_ul=working_ul,
            covered=working_ul // least_ul,
        )
