"""What a replenished tank settles to: release by the film against what fresh solution carries out.

All rates are per 80 in² unit; the volume is constant, overflow and carry-out together being the replenisher put in.
"""

import math
from collections.abc import Sequence

from labsys.chemistry.errors import check_above, check_between
from labsys.chemistry.sizes import UNIT_EXACT_MM2


def rate_ml_per_unit(*, volume_ml: float, area_mm2: float) -> float:
    """Turn a published replenishment rate for some area into one for a unit of 80 in².

    Parameters:
        volume_ml: Replenisher, 0 or more. [mL]
        area_mm2: Area it is for, above 0. [mm²]
    Returns:
        Replenisher for one unit. [mL]
    Raises:
        OutOfRange: A value is out of range.
    Source:
        Proportion.

    >>> round(rate_ml_per_unit(volume_ml=1000, area_mm2=3100 * 645.16), 2)
    25.81
    """
    check_between("volume_ml", volume_ml, 0, None, "mL")
    check_above("area_mm2", area_mm2, 0, None, "mm²")
    return volume_ml * float(UNIT_EXACT_MM2) / area_mm2


def settles_at_g_per_l(
    *,
    release_mg: float,
    rate_ml: float,
    replenisher_g_per_l: float = 0.0,
    carried_in_ml: float = 0.0,
    carried_in_g_per_l: float = 0.0,
) -> float:
    """Return the concentration a replenished tank settles at, (r*Cr + c*Cin + g) / (r + c).

    Parameters:
        release_mg: What one unit gives off, such as bromide, 0 or more. [mg]
        rate_ml: Replenisher for one unit, above 0. [mL]
        replenisher_g_per_l: Concentration in the replenisher, 0 or more. [g/L]
        carried_in_ml: Preceding bath carried in on one unit, 0 or more. [mL]
        carried_in_g_per_l: Concentration in that bath, 0 or more. [g/L]
    Returns:
        Concentration after many units. [g/L]
    Raises:
        OutOfRange: A value is out of range.
    Source:
        Mass balance of a perfectly mixed tank.

    >>> round(settles_at_g_per_l(release_mg=50, rate_ml=23.66), 2)
    2.11
    """
    check_between("release_mg", release_mg, 0, None, "mg")
    check_above("rate_ml", rate_ml, 0, None, "mL")
    check_between("replenisher_g_per_l", replenisher_g_per_l, 0, None, "g/L")
    check_between("carried_in_ml", carried_in_ml, 0, None, "mL")
    check_between("carried_in_g_per_l", carried_in_g_per_l, 0, None, "g/L")
    brought = rate_ml * replenisher_g_per_l + carried_in_ml * carried_in_g_per_l + release_mg
    return brought / (rate_ml + carried_in_ml)


def after_units_g_per_l(
    *,
    start_g_per_l: float,
    release_mg: float,
    rate_ml: float,
    tank_ml: float,
    units: float,
    replenisher_g_per_l: float = 0.0,
) -> float:
    """Return the concentration in a tank replenished steadily, C = Cend + (C0 - Cend) * exp(-r*n/V).

    After one turnover of the tank it is 63 % of the way, after three 95 %.

    Parameters:
        start_g_per_l: Concentration at the start, 0 or more. [g/L]
        release_mg: What one unit gives off, 0 or more. [mg]
        rate_ml: Replenisher for one unit, above 0. [mL]
        tank_ml: Volume of the tank, above 0. [mL]
        units: Units of 80 in² gone through, 0 or more. [-]
        replenisher_g_per_l: Concentration in the replenisher, 0 or more. [g/L]
    Returns:
        Concentration. [g/L]
    Raises:
        OutOfRange: A value is out of range.
    Source:
        Solution of dC/dn = (g + r*Cr - r*C) / V.

    >>> round(after_units_g_per_l(start_g_per_l=0, release_mg=50, rate_ml=25, tank_ml=3500, units=140), 3)
    1.264
    """
    check_between("start_g_per_l", start_g_per_l, 0, None, "g/L")
    check_above("tank_ml", tank_ml, 0, None, "mL")
    check_between("units", units, 0, None)
    end = settles_at_g_per_l(release_mg=release_mg, rate_ml=rate_ml, replenisher_g_per_l=replenisher_g_per_l)
    return end + (start_g_per_l - end) * math.exp(-rate_ml * units / tank_ml)


def after_batches_g_per_l(
    *,
    start_g_per_l: float,
    release_mg: float,
    rate_ml: float,
    tank_ml: float,
    units: int,
    replenisher_g_per_l: float = 0.0,
) -> float:
    """Return the concentration in a tank replenished by hand after each unit: release, take r out, put r in.

    Parameters:
        start_g_per_l: Concentration at the start, 0 or more. [g/L]
        release_mg: What one unit gives off, 0 or more. [mg]
        rate_ml: Replenisher for one unit, above 0, at most the tank. [mL]
        tank_ml: Volume of the tank, above 0. [mL]
        units: Units of 80 in² gone through, 0 or more. [-]
        replenisher_g_per_l: Concentration in the replenisher, 0 or more. [g/L]
    Returns:
        Concentration. [g/L]
    Raises:
        OutOfRange: A value is out of range.
    Source:
        Mass balance step by step, summed as a geometric series; it settles at Cr + (g/r) * (1 - r/V).

    >>> round(after_batches_g_per_l(start_g_per_l=0, release_mg=50, rate_ml=25, tank_ml=3500, units=140), 3)
    1.258
    """
    check_between("start_g_per_l", start_g_per_l, 0, None, "g/L")
    check_between("release_mg", release_mg, 0, None, "mg")
    check_above("tank_ml", tank_ml, 0, None, "mL")
    check_above("rate_ml", rate_ml, 0, tank_ml, "mL")
    check_between("units", units, 0, None)
    check_between("replenisher_g_per_l", replenisher_g_per_l, 0, None, "g/L")
    kept = 1 - rate_ml / tank_ml
    end = replenisher_g_per_l + release_mg / rate_ml * kept
    return float(end + (start_g_per_l - end) * kept**units)


def turnover_share(*, rate_ml: float, tank_ml: float, units: float) -> float:
    """Return how far a replenished tank has come on its way to where it settles, 1 - exp(-r*n/V).

    Parameters:
        rate_ml: Replenisher for one unit, above 0. [mL]
        tank_ml: Volume of the tank, above 0. [mL]
        units: Units of 80 in² gone through, 0 or more. [-]
    Returns:
        Share of the way. [-]
    Raises:
        OutOfRange: A value is out of range.
    Source:
        As `after_units_g_per_l`.

    >>> round(turnover_share(rate_ml=25, tank_ml=3500, units=140), 3)
    0.632
    """
    check_above("rate_ml", rate_ml, 0, None, "mL")
    check_above("tank_ml", tank_ml, 0, None, "mL")
    check_between("units", units, 0, None)
    return -math.expm1(-rate_ml * units / tank_ml)


def exchanged_share(*, volumes_ml: Sequence[float], tank_ml: float) -> float:
    """Return how much of what stands in a tank came in as replenisher, each volume taking the place of as much of it.

    Parameters:
        volumes_ml: Replenisher put in each time, 0 or more and at most the tank. [mL]
        tank_ml: Volume of the tank, above 0. [mL]
    Returns:
        Share of the tank. [-]
    Raises:
        OutOfRange: A value is out of range.
    Source:
        Mass balance step by step: of what was there 1 - v/V is left each time. Steady small volumes come to
        `turnover_share`.

    >>> round(exchanged_share(volumes_ml=[25] * 140, tank_ml=3500), 3)
    0.633
    """
    check_above("tank_ml", tank_ml, 0, None, "mL")
    left = 1.0
    for volume in volumes_ml:
        check_between("volumes_ml", volume, 0, tank_ml, "mL")
        left *= 1 - volume / tank_ml
    return 1 - left
