"""Washing out fixer: fill and dump, running water, the limits for keeping, and plans side by side.

Two simple laws: complete exchange between fills, and halving at a steady rate in running water. Both fail at the very
end, where thiosulfate clings to gelatin and baryta; a wash that only just passes on paper is too short.
"""

import math
from dataclasses import dataclass
from enum import StrEnum

from labsys.chemistry.errors import CalculationError, check_above, check_between
from labsys.chemistry.sizes import Material

HALF_TIME_SECONDS = 60.0  # NAVEDTRA 14209; US Army SS0509 gives 15 s, the slower is taken
QUICK_HALF_TIME_SECONDS = 15.0  # US Army SS0509: for RC paper, whose base takes nothing up, and which must not lie long
THIOSULFATE_IN_FIXER_G_PER_L = 60.0  # 600 mg in the 10 mL that film and tank carry (M. Torzynski, Strasbourg 2004)


# Never fewer changes, nor a shorter wash at 20 °C, whatever the sum says. Film and RC, three changes: three fills for
# fixers that do not harden (an encyclopaedia on washing). Fibre: 12 changes (Amateur Work). Running, film: a rapid
# washer 5 min, NAVEDTRA 14209; fibre 30 min, RC 2 min: common practice, no source.
LEAST_CHANGES = {Material.FILM: 3, Material.RC: 3, Material.FIBRE: 12}
LEAST_RUNNING_MINUTES = {Material.FILM: 5.0, Material.RC: 2.0, Material.FIBRE: 30.0}


class Keeping(StrEnum):
    """How long and what for the film is kept."""

    PERMANENT_FILM = "permanent_film"
    PERMANENT_RADIOGRAPH = "permanent_radiograph"


# 36 CFR 1238.14 (c) for microforms, film of ISO 18901 class LE-500; the radiographic figure: D. Nishimura, Conservation
# DistList, 21 Sept 1997, on ANSI IT9.1-1996 (read in extract). No limit was set there for paper.
LIMIT_G_PER_M2 = {Keeping.PERMANENT_FILM: 0.014, Keeping.PERMANENT_RADIOGRAPH: 0.020}


@dataclass(eq=False)
class NoPublishedLimit(CalculationError):
    """No limit for residual thiosulfate is published for this material."""

    material: Material

    def __str__(self) -> str:
        return f"no published limit for thiosulfate left in {self.material} is known here; test the print itself"


def limit_g_per_m2(*, material: Material, keeping: Keeping = Keeping.PERMANENT_FILM) -> float:
    """Return the thiosulfate that may stay in a material that is to be kept.

    Parameters:
        material: Film; for paper there is no published limit. [-]
        keeping: Film in general, or radiographs. [-]
    Returns:
        Thiosulfate ion left at most. [g/m²]
    Raises:
        NoPublishedLimit: For paper.
    Source:
        36 CFR 1238.14 (c); D. Nishimura, Conservation DistList, 21 Sept 1997, on ANSI IT9.1-1996 (read in extract).

    >>> limit_g_per_m2(material=Material.FILM)
    0.014
    """
    if material is not Material.FILM:
        raise NoPublishedLimit(material)
    return LIMIT_G_PER_M2[keeping]


def after_fills_g_per_l(*, start_g_per_l: float, left_ml: float, fill_ml: float, fills: int) -> float:
    """Return the thiosulfate in the last water after a number of fills, C = C0 * (r / (r + F))^n.

    Each fill has to stand, moved, until the emulsion is in balance with it: without a change of water up to about
    5 min.

    Parameters:
        start_g_per_l: Thiosulfate in what film and tank hold before the first fill, 0 to 500. [g/L]
        left_ml: Liquid left in tank and film after each dump, above 0. [mL]
        fill_ml: Fresh water of each fill, above 0. [mL]
        fills: Number of fills, 0 to 100. [-]
    Returns:
        Concentration. [g/L]
    Raises:
        OutOfRange: A value is out of range.
    Source:
        Dilution with complete exchange; the figures of M. Torzynski, note on film-washing arithmetic, Strasbourg 2004.

    >>> round(after_fills_g_per_l(start_g_per_l=60, left_ml=10, fill_ml=500, fills=1), 2)
    1.18
    """
    check_between("start_g_per_l", start_g_per_l, 0, 500, "g/L")
    check_above("left_ml", left_ml, 0, None, "mL")
    check_above("fill_ml", fill_ml, 0, None, "mL")
    check_between("fills", fills, 0, 100)
    return float(start_g_per_l * (left_ml / (left_ml + fill_ml)) ** fills)


def residue_g_per_m2(*, water_g_per_l: float, absorbed_ml: float, area_mm2: int) -> float:
    """Return the thiosulfate that dries into a piece out of the water it holds, x = C * Va / A.

    Parameters:
        water_g_per_l: Thiosulfate in that water, 0 or more. [g/L]
        absorbed_ml: Water the piece holds, 0 or more; about 2 for a 135-36. [mL]
        area_mm2: Surface of the piece, above 0. [mm²]
    Returns:
        Thiosulfate left. [g/m²]
    Raises:
        OutOfRange: A value is out of range.
    Source:
        Mass balance; 2 mL in the emulsion of a 135-36: M. Torzynski, Strasbourg 2004.

    >>> round(residue_g_per_m2(water_g_per_l=1.18, absorbed_ml=2, area_mm2=56_000), 3)
    0.042
    """
    check_between("water_g_per_l", water_g_per_l, 0, None, "g/L")
    check_between("absorbed_ml", absorbed_ml, 0, None, "mL")
    check_above("area_mm2", area_mm2, 0, None, "mm²")
    return water_g_per_l * absorbed_ml / 1000 / (area_mm2 / 1e6)


def in_running_water_g_per_m2(
    *, start_g_per_m2: float, minutes: float, half_time_seconds: float = HALF_TIME_SECONDS
) -> float:
    """Return the thiosulfate left after a time in running water that reaches the emulsion, x = x0 * 2^(-t/h).

    Parameters:
        start_g_per_m2: Thiosulfate at the start, 0 or more. [g/m²]
        minutes: Time in running water, 0 to a day. [min]
        half_time_seconds: Time to halve it, above 0, at most 3600. [s]
    Returns:
        Thiosulfate left. [g/m²]
    Raises:
        OutOfRange: A value is out of range.
    Source:
        NAVEDTRA 14209, Photography (Basic): halved each minute. US Army subcourse SS0509 gives 15 s; the slower rate is
        the default.

    >>> in_running_water_g_per_m2(start_g_per_m2=1, minutes=2)
    0.25
    """
    check_between("start_g_per_m2", start_g_per_m2, 0, None, "g/m²")
    check_between("minutes", minutes, 0, 1440, "min")
    check_above("half_time_seconds", half_time_seconds, 0, 3600, "s")
    return float(start_g_per_m2 * 2 ** (-minutes * 60 / half_time_seconds))


def running_minutes_to(
    *, start_g_per_m2: float, limit_g_per_m2: float, half_time_seconds: float = HALF_TIME_SECONDS
) -> float:
    """Return the time in running water that brings a residue down to a limit.

    Parameters:
        start_g_per_m2: Thiosulfate at the start, above 0. [g/m²]
        limit_g_per_m2: Thiosulfate that may stay, above 0. [g/m²]
        half_time_seconds: Time to halve it, above 0, at most 3600. [s]
    Returns:
        Time; 0 where the limit is met already. [min]
    Raises:
        OutOfRange: A value is out of range.
    Source:
        Inverse of `in_running_water_g_per_m2`.

    >>> round(running_minutes_to(start_g_per_m2=2.14, limit_g_per_m2=0.014), 2)
    7.26
    """
    check_above("start_g_per_m2", start_g_per_m2, 0, None, "g/m²")
    check_above("limit_g_per_m2", limit_g_per_m2, 0, None, "g/m²")
    check_above("half_time_seconds", half_time_seconds, 0, 3600, "s")
    return max(0.0, math.log2(start_g_per_m2 / limit_g_per_m2)) * half_time_seconds / 60


def least_changes(*, material: Material, summed: int) -> int:
    """Return the changes of water to give, which are never fewer than practice asks for.

    Parameters:
        material: Film, RC or fibre. [-]
        summed: Fills that the arithmetic of dilution comes to, 0 or more. [-]
    Returns:
        Number of changes. [-]
    Raises:
        OutOfRange: A negative number.
    Source:
        Three for film: the short sequence of three fills, an encyclopaedia on washing. Twelve of 5 min for fibre:
        Amateur Work. Three for RC: common practice, no source.

    >>> least_changes(material=Material.FIBRE, summed=2)
    12
    """
    check_between("summed", summed, 0, None)
    return max(summed, LEAST_CHANGES[material])


def fills_to(*, start_g_per_l: float, end_g_per_l: float, left_ml: float, fill_ml: float) -> int:
    """Return how many fills bring the water of a tank down to a concentration.

    Parameters:
        start_g_per_l: Thiosulfate in what film and tank hold before the first fill, above 0, at most 500. [g/L]
        end_g_per_l: Thiosulfate allowed in the last water, above 0. [g/L]
        left_ml: Liquid left in tank and film after each dump, above 0. [mL]
        fill_ml: Fresh water of each fill, above 0. [mL]
    Returns:
        Whole number of fills. [-]
    Raises:
        OutOfRange: A value is out of range.
    Source:
        Inverse of `after_fills_g_per_l`, rounded up.

    >>> fills_to(start_g_per_l=60, end_g_per_l=0.39, left_ml=10, fill_ml=500)
    2
    """
    check_above("start_g_per_l", start_g_per_l, 0, 500, "g/L")
    check_above("end_g_per_l", end_g_per_l, 0, 500, "g/L")
    check_above("left_ml", left_ml, 0, None, "mL")
    check_above("fill_ml", fill_ml, 0, None, "mL")
    exact = math.log(start_g_per_l / end_g_per_l) / math.log((left_ml + fill_ml) / left_ml)
    return max(0, math.ceil(exact - 1e-9))  # a whole number of fills must not become one more on the last digit
