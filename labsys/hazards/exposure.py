"""How much of a substance may be in the air: limits, evaporation from trays, and a well-mixed room.

A screen: it says nothing of the air right over the tray, and it never shows that something is safe.
"""

import math

from .errors import check_above, check_between

MOLAR_VOLUME_L = 24.05526  # [L/mol at 20 °C and 101.325 kPa]
_PA_PER_TORR = 101_325 / 760
_FT_PER_MIN_PER_M_PER_S = 60 / 0.3048
_WATER_G_MOL = 18.015


def ppm_from_mg_m3(*, mg_m3: float, molar_mass_g_mol: float) -> float:
    """Return a level in the air by volume from one by mass, at 20 °C.

    Parameters:
        mg_m3: Level by mass, 0 or more. [mg/m³]
        molar_mass_g_mol: Molar mass, above 0. [g/mol]
    Returns:
        Parts per million by volume. [ppm]
    Raises:
        OutOfRange: A negative level or a molar mass not above 0.
    Source:
        EH40/2005, 4th edition (2020), conversion at 20 °C, from memory.
    """
    check_between("mg_m3", mg_m3, 0)
    check_above("molar_mass_g_mol", molar_mass_g_mol, 0)
    return mg_m3 * MOLAR_VOLUME_L / molar_mass_g_mol


def pressure_over_solution_pa(*, pure_pa: float, content_percent: float, molar_mass_g_mol: float) -> float:
    """Return the vapour pressure of a substance over its solution in water, taken as ideal (on the high side).

    Parameters:
        pure_pa: Vapour pressure of the pure substance, 0 or more. [Pa]
        content_percent: Content, 0 to 100. [% w/w]
        molar_mass_g_mol: Molar mass of the substance, above 0. [g/mol]
    Returns:
        Partial pressure. [Pa]
    Raises:
        OutOfRange: A value outside its range.
    Source:
        Raoult's law; for weak acetic acid about 1.7 times the figure from Henry's constant (calculated, from memory).
    """
    check_between("pure_pa", pure_pa, 0)
    check_above("molar_mass_g_mol", molar_mass_g_mol, 0)
    check_between("content_percent", content_percent, 0, 100)
    dissolved = content_percent / molar_mass_g_mol
    return pure_pa * dissolved / (dissolved + (100 - content_percent) / _WATER_G_MOL)


def evaporation_mg_h(
    *, vapour_pressure_pa: float, molar_mass_g_mol: float, area_m2: float, air_m_s: float, celsius: float
) -> float:
    """Return what evaporates indoors from an open surface such as a tray.

    Parameters:
        vapour_pressure_pa: Partial pressure over the liquid, 0 or more. [Pa]
        molar_mass_g_mol: Molar mass, above 0. [g/mol]
        area_m2: Open surface, above 0. [m²]
        air_m_s: Air speed over it, above 0 to 0.5, where the formula was fitted. [m/s]
        celsius: Temperature of the liquid, 0 to 60. [°C]
    Returns:
        Mass per time. [mg/h]
    Raises:
        OutOfRange: A value outside its range.
    Source:
        US EPA/OPPT penetration model: Hummel, Braun and Fehrenbacher, AIHA Journal 57 (1996), 519-525; formula from
        memory, order of magnitude checked against a mass-transfer estimate.
    """
    check_between("vapour_pressure_pa", vapour_pressure_pa, 0)
    check_above("molar_mass_g_mol", molar_mass_g_mol, 0)
    check_above("area_m2", area_m2, 0)
    check_above("air_m_s", air_m_s, 0, 0.5)
    check_between("celsius", celsius, 0, 60)
    area_cm2 = area_m2 * 10_000
    diameter_cm = math.sqrt(4 * area_cm2 / math.pi)
    g_s = (
        8.24e-8
        * math.pow(molar_mass_g_mol, 0.835)
        * (vapour_pressure_pa / _PA_PER_TORR)
        * math.pow(1 / 29 + 1 / molar_mass_g_mol, 0.25)
        * math.sqrt(air_m_s * _FT_PER_MIN_PER_M_PER_S)
        * area_cm2
        / (math.pow(celsius + 273.15, 0.05) * math.sqrt(diameter_cm))
    )
    return g_s * 3_600_000


def air_changes_per_hour(*, air_flow_m3_h: float, room_m3: float) -> float:
    """Return how often the air of a room is changed.

    Parameters:
        air_flow_m3_h: Fresh air, 0 or more. [m³/h]
        room_m3: Volume of the room, above 0. [m³]
    Returns:
        Air changes. [1/h]
    Raises:
        OutOfRange: A value outside its range.
    """
    check_above("room_m3", room_m3, 0)
    check_between("air_flow_m3_h", air_flow_m3_h, 0)
    return air_flow_m3_h / room_m3


def room_level_mg_m3(
    *, emission_mg_h: float, room_m3: float, changes_per_hour: float, mixing: float = 0.5, hours: float | None = None
) -> float:
    """Return the level of a substance in a well-mixed room, in the long run or after a time from clean air.

    Parameters:
        emission_mg_h: What gets into the air; add the trays up. [mg/h]
        room_m3: Volume of the room, above 0. [m³]
        changes_per_hour: Fresh air, above 0. [1/h]
        mixing: How well the air mixes, 0.1 (worst) to 1. [-]
        hours: Time since clean air; None for the long run. [h]
    Returns:
        The mean level in the room. [mg/m³]
    Raises:
        OutOfRange: A value outside its range.
    Source:
        Mass balance of a mixed box; mixing 0.5 typical and 0.1 worst case after US EPA, from memory.
    """
    check_between("emission_mg_h", emission_mg_h, 0)
    check_above("room_m3", room_m3, 0)
    check_above("changes_per_hour", changes_per_hour, 0)
    check_between("mixing", mixing, 0.1, 1)
    steady = emission_mg_h / (mixing * room_m3 * changes_per_hour)
    if hours is None:
        return steady
    check_between("hours", hours, 0)
    return steady * (1 - math.exp(-mixing * changes_per_hour * hours))


def minutes_to_clear_air(*, changes_per_hour: float, removed_share: float = 0.99, mixing: float = 1.0) -> float:
    """Return how long fresh air takes to carry off a share of what is in the air, once nothing more gets into it.

    Parameters:
        changes_per_hour: Fresh air, above 0. [1/h]
        removed_share: Share carried off, 0 or more, below 1. [-]
        mixing: How well the air mixes, 0.1 (very poor) to 1 (perfectly). [-]
    Returns:
        Time. [min]
    Raises:
        OutOfRange: A value outside its range.
    Source:
        CDC 1994, MMWR 43 no. RR-13 (28 Oct 1994), Table S3-1, p. 72, with its factor of up to 10 for poor mixing.

    >>> round(minutes_to_clear_air(changes_per_hour=6))
    46
    """
    check_above("changes_per_hour", changes_per_hour, 0)
    check_between("removed_share", removed_share, 0, math.nextafter(1, 0))
    check_between("mixing", mixing, 0.1, 1)
    return -60 * math.log(1 - removed_share) / (mixing * changes_per_hour)
