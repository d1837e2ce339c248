"""How much solution a tank or a tray needs."""

from dataclasses import dataclass

from labsys.chemistry.errors import CalculationError, check_between
from labsys.chemistry.ranges import Range

LEAST_TRAY_DEPTH_MM = 12.7  # half an inch: US Army subcourse SS0509, Laboratory Procedures, ed. 8 (1988), film trays

# Small inversion tanks, per reel: common practice, no source; engraved on or under the tank. The trade reckons 500 mL
# for a 120, so 2.5 L for five.
REEL_ML = {
    "135-24": Range(240.0, 270.0, 300.0),
    "135-36": Range(240.0, 270.0, 300.0),
    "120": Range(450.0, 500.0, 500.0),
    "220": Range(450.0, 500.0, 500.0),
}


@dataclass(eq=False)
class NotOnAReel(CalculationError):
    """The size is not wound on a reel; measure what its holder or tray takes."""

    size_key: str

    def __str__(self) -> str:
        return f"{self.size_key} is not wound on a reel"


def reels_ml(*, size_key: str, reels: int) -> Range:
    """Return the solution that covers a number of reels in a small inversion tank.

    Fill the tank with empty reels if it holds more, so that the load does not slide. The figure on the tank governs.

    Parameters:
        size_key: Key of a roll film size, such as "120". [-]
        reels: Number of loaded reels, 1 to 20. [-]
    Returns:
        Least, usual and largest volume. [mL]
    Raises:
        OutOfRange: The number of reels is out of range.
        NotOnAReel: Sheet film and paper.
    Source:
        Common practice, no source; empty reels: NAVEDTRA 14209, Photography (Basic).

    >>> reels_ml(size_key="120", reels=5).typical
    2500.0
    """
    check_between("reels", reels, 1, 20)
    if size_key not in REEL_ML:
        raise NotOnAReel(size_key)
    return REEL_ML[size_key].times(reels)


def tray_litres(*, length_mm: float, width_mm: float, depth_mm: float = LEAST_TRAY_DEPTH_MM) -> float:
    """Return the solution in a tray, length * width * depth.

    Trays are 10 to 30 mm larger inside than the paper they are named for; use measured sizes where they are known.

    Parameters:
        length_mm: Inside length, 50 to 2000. [mm]
        width_mm: Inside width, 50 to 2000. [mm]
        depth_mm: Depth of solution, 12.7 to 150. [mm]
    Returns:
        Volume. [L]
    Raises:
        OutOfRange: A value is out of range; less than half an inch does not cover a moving sheet.
    Source:
        Geometry; least depth 1/2 in: US Army subcourse SS0509, Laboratory Procedures, ed. 8 (1988), for film trays.

    >>> round(tray_litres(length_mm=508, width_mm=406.4), 2)
    2.62
    """
    check_between("length_mm", length_mm, 50, 2000, "mm")
    check_between("width_mm", width_mm, 50, 2000, "mm")
    check_between("depth_mm", depth_mm, LEAST_TRAY_DEPTH_MM, 150, "mm")
    return length_mm * width_mm * depth_mm / 1e6


COATING_ML_PER_M2 = 78.0  # 4 mL brushed on an 8x10 in sheet: common practice, no source


def coating_ml(*, area_mm2: int) -> float:
    """Return the light-sensitive solution that is brushed on an area of paper.

    Parameters:
        area_mm2: Area to coat, 0 or more. [mm²]
    Returns:
        Volume; paper that drinks, or a sponge brush, takes more. [mL]
    Raises:
        OutOfRange: The area is negative.
    Source:
        Common practice, no source: about 4 mL on an 8x10 in sheet.

    >>> round(coating_ml(area_mm2=51_613), 1)
    4.0
    """
    check_between("area_mm2", area_mm2, 0, None, "mm²")
    return COATING_ML_PER_M2 * area_mm2 / 1e6


@dataclass(frozen=True, slots=True)
class UsualTray:
    """A tray by its nominal size, and the usual fill. [mm, L]"""

    key: str
    length_mm: float
    width_mm: float
    usual_litres: tuple[float, float]


# Sizes from 25.4 mm to the inch; fills are common practice, no source.
USUAL_TRAYS = (
    UsualTray("8x10 in", 254.0, 203.2, (1.0, 1.0)),
    UsualTray("10x12 in", 304.8, 254.0, (1.0, 1.5)),
    UsualTray("11x14 in", 355.6, 279.4, (1.5, 2.0)),
    UsualTray("12x16 in", 406.4, 304.8, (2.0, 2.0)),
    UsualTray("16x20 in", 508.0, 406.4, (3.0, 4.0)),
    UsualTray("20x24 in", 609.6, 508.0, (5.0, 6.0)),
)
