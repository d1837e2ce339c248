"""How much poisonous gas a wrong mixture can set free, and what that means in a closed room.

Source: calculated from molar masses, everything reacting; danger levels are the NIOSH IDLH values, from memory (for
hydrogen sulfide editions give 50 or 100 ppm: the lower is used).
"""

from dataclasses import dataclass
from enum import StrEnum

from .errors import UnknownSubstance, check_above, check_between
from .exposure import ppm_from_mg_m3
from .substances import substance


class Gas(StrEnum):
    """Gases that darkroom solutions set free."""

    SULFUR_DIOXIDE = "sulfur dioxide"
    HYDROGEN_SULFIDE = "hydrogen sulfide"
    CHLORINE = "chlorine"
    AMMONIA = "ammonia"


_MOLAR_MASS_G_MOL = {Gas.SULFUR_DIOXIDE: 64.06, Gas.HYDROGEN_SULFIDE: 34.08, Gas.CHLORINE: 70.91, Gas.AMMONIA: 17.03}
_DANGER_PPM = {Gas.SULFUR_DIOXIDE: 100.0, Gas.HYDROGEN_SULFIDE: 50.0, Gas.CHLORINE: 10.0, Gas.AMMONIA: 300.0}
_WITH_ACID = {  # CAS number: gas and moles of it from one mole
    "7757-83-7": (Gas.SULFUR_DIOXIDE, 1),
    "7681-57-4": (Gas.SULFUR_DIOXIDE, 2),
    "16731-55-8": (Gas.SULFUR_DIOXIDE, 2),
    "7631-90-5": (Gas.SULFUR_DIOXIDE, 1),
    "10102-17-7": (Gas.SULFUR_DIOXIDE, 1),
    "7783-18-8": (Gas.SULFUR_DIOXIDE, 1),
    "1313-82-2": (Gas.HYDROGEN_SULFIDE, 1),
}
_WITH_ALKALI = {"7783-18-8": (Gas.AMMONIA, 2), "12125-02-9": (Gas.AMMONIA, 1)}


@dataclass(frozen=True)
class Release:
    """An amount of gas set free. [g]"""

    gas: Gas
    grams: float


@dataclass(frozen=True)
class RoomLevel:
    """A release spread through a closed room, beside the level that is dangerous at once."""

    mg_m3: float
    ppm: float
    danger_ppm: float


def with_acid(*, cas: str, grams: float) -> Release:
    """Return the gas that enough acid sets free.

    Parameters:
        cas: The substance that meets acid. [-]
        grams: Its amount, 0 or more. [g]
    Returns:
        The gas and the most there can be of it. [g]
    Raises:
        UnknownSubstance: No release is on file for it.
        OutOfRange: A negative amount.

    >>> round(with_acid(cas="7681-57-4", grams=100).grams, 1)
    67.4
    """
    return _release(_WITH_ACID, cas, grams)


def with_alkali(*, cas: str, grams: float) -> Release:
    """Return the ammonia that enough strong alkali sets free from an ammonium salt.

    Parameters:
        cas: The salt that meets alkali. [-]
        grams: Its amount, 0 or more. [g]
    Returns:
        The gas and the most there can be of it. [g]
    Raises:
        UnknownSubstance: No release is on file for it.
        OutOfRange: A negative amount.
    """
    return _release(_WITH_ALKALI, cas, grams)


def chlorine_from_bleach(*, total_ml: float, available_chlorine_g_l: float) -> Release:
    """Return the chlorine that acid sets free from household bleach.

    Parameters:
        total_ml: Volume of bleach, 0 or more. [mL]
        available_chlorine_g_l: Available chlorine, which is the gas itself, 0 or more. [g/L]
    Returns:
        The most chlorine there can be. [g]
    Raises:
        OutOfRange: A negative value.
    """
    check_between("total_ml", total_ml, 0)
    check_between("available_chlorine_g_l", available_chlorine_g_l, 0)
    return Release(Gas.CHLORINE, total_ml / 1000 * available_chlorine_g_l)


def in_closed_room(release: Release, *, room_m3: float) -> RoomLevel:
    """Return the level of a release in a room without fresh air.

    Parameters:
        release: The gas set free. [g]
        room_m3: Volume of the room, above 0. [m³]
    Returns:
        The level by mass and by volume at 20 °C, and the dangerous level. [mg/m³, ppm, ppm]
    Raises:
        OutOfRange: A room without volume.
    """
    check_above("room_m3", room_m3, 0)
    mg_m3 = release.grams * 1000 / room_m3
    ppm = ppm_from_mg_m3(mg_m3=mg_m3, molar_mass_g_mol=_MOLAR_MASS_G_MOL[release.gas])
    return RoomLevel(mg_m3, ppm, _DANGER_PPM[release.gas])


def _release(table: dict[str, tuple[Gas, int]], cas: str, grams: float) -> Release:
    check_between("grams", grams, 0)
    entry = substance(cas)
    if entry.cas not in table or entry.molar_mass_g_mol is None:
        raise UnknownSubstance(entry.cas)
    gas, moles = table[entry.cas]
    return Release(gas, grams / entry.molar_mass_g_mol * moles * _MOLAR_MASS_G_MOL[gas])
