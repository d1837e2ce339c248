"""Acid left in a stop bath: pH of weak acids and how much alkali they take up before the bath is spent.

Ideal solutions at 25 °C, concentrations for activities: good to about 0.1 pH, an estimate and not a measurement.
"""

import math
from dataclasses import dataclass

from labsys.chemistry.errors import OutOfRange, check_above, check_between

_WATER_PK = 14.0


@dataclass(frozen=True, slots=True)
class WeakAcid:
    """A weak acid: its molar mass and the pKa of each hydrogen it gives off. [g/mol, -]"""

    name: str
    grams_per_mole: float
    pkas: tuple[float, ...]


ACETIC = WeakAcid("acetic acid", 60.052, (4.756,))  # pKa from memory, as the next
CITRIC = WeakAcid("citric acid, anhydrous", 192.124, (3.13, 4.76, 6.40))


def moles_per_litre(*, acid: WeakAcid, grams_per_litre: float) -> float:
    """Return the amount of acid in a litre.

    Parameters:
        acid: The acid. [-]
        grams_per_litre: Mass in a litre, above 0, at most 1000. [g/L]
    Returns:
        Amount of substance. [mol/L]
    Raises:
        OutOfRange: The mass is out of range.
    Source:
        Mass divided by molar mass.

    >>> round(moles_per_litre(acid=ACETIC, grams_per_litre=15), 3)
    0.25
    """
    check_above("grams_per_litre", grams_per_litre, 0, 1000, "g/L")
    return grams_per_litre / acid.grams_per_mole


def hydrogens_given_off(*, acid: WeakAcid, ph: float) -> float:
    """Return how many hydrogens each molecule of an acid has given off at a pH.

    Parameters:
        acid: The acid. [-]
        ph: pH, 0 to 14. [pH]
    Returns:
        Mean number, from 0 to the number of pKa values. [-]
    Raises:
        OutOfRange: The pH is out of range.
    Source:
        Equilibrium of a weak acid, successive constants.

    >>> round(hydrogens_given_off(acid=ACETIC, ph=5.2), 3)
    0.735
    """
    check_between("ph", ph, 0, 14, "pH")
    weights, total_pka = [1.0], 0.0
    for steps, pka in enumerate(acid.pkas, start=1):
        total_pka += pka
        weights.append(10 ** (steps * ph - total_pka))
    return sum(steps * weight for steps, weight in enumerate(weights)) / sum(weights)


def base_taken_up(*, acid: WeakAcid, grams_per_litre: float, ph: float) -> float:
    """Return the strong base that brings a solution of the acid to a pH.

    Parameters:
        acid: The acid. [-]
        grams_per_litre: Mass in a litre, above 0, at most 1000. [g/L]
        ph: pH to reach, from that of the acid alone to 14. [pH]
    Returns:
        Base, one hydroxide each. [mol/L]
    Raises:
        OutOfRange: A value is out of range, or the acid alone is less acid than that pH.
    Source:
        Balance of charges.

    >>> round(base_taken_up(acid=CITRIC, grams_per_litre=15, ph=5.8), 3)
    0.165
    """
    base = _charge_to_balance(acid, grams_per_litre, ph)
    if base < -1e-9:  # the pH of the acid alone, found by halving, must not be refused on its last digit
        alone = ph_of(acid=acid, grams_per_litre=grams_per_litre)
        raise OutOfRange("ph", ph, alone, 14, "pH")
    return max(0.0, base)


def ph_of(*, acid: WeakAcid, grams_per_litre: float, base_moles_per_litre: float = 0.0) -> float:
    """Return the pH of an acid solution that has taken up some strong base.

    Parameters:
        acid: The acid. [-]
        grams_per_litre: Mass in a litre, above 0, at most 1000. [g/L]
        base_moles_per_litre: Base taken up, 0 to 1. [mol/L]
    Returns:
        pH. [pH]
    Raises:
        OutOfRange: A value is out of range.
    Source:
        Balance of charges, solved by halving the interval from 0 to 14.

    >>> round(ph_of(acid=ACETIC, grams_per_litre=15), 2)
    2.68
    """
    check_between("base_moles_per_litre", base_moles_per_litre, 0, 1, "mol/L")
    low, high = 0.0, 14.0
    while high - low > 1e-9:
        middle = (low + high) / 2
        if _charge_to_balance(acid, grams_per_litre, middle) < base_moles_per_litre:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def _charge_to_balance(acid: WeakAcid, grams_per_litre: float, ph: float) -> float:
    """Base needed at a pH; grows with the pH, negative where the acid alone is not that acid."""
    moles = moles_per_litre(acid=acid, grams_per_litre=grams_per_litre)
    hydrogen = math.pow(10, -ph)
    hydroxide = math.pow(10, ph - _WATER_PK)
    return moles * hydrogens_given_off(acid=acid, ph=ph) + hydroxide - hydrogen


def ph_moves_by(*, ph: float, celsius_apart: float) -> float | None:
    """Return how far a pH reading moves by itself between two temperatures, where that is published.

    Parameters:
        ph: What was read, 0 to 14. [pH]
        celsius_apart: How far the two temperatures lie apart, 0 to 100. [°C]
    Returns:
        The difference without its sign; None outside pH 10.5 to 13. [pH]
    Raises:
        OutOfRange: A value is out of range.
    Source:
        NAVEDTRA 14208: 0.10 for 10 °F at pH 10.5, 0.20 at pH 13; between them in proportion (common practice, no
        source).

    >>> round(ph_moves_by(ph=10.5, celsius_apart=10 / 1.8), 3)
    0.1
    """
    check_between("ph", ph, 0, 14, "pH")
    check_between("celsius_apart", celsius_apart, 0, 100, "°C")
    if not 10.5 <= ph <= 13:
        return None
    per_ten_fahrenheit = 0.10 + 0.10 * (ph - 10.5) / 2.5
    return per_ten_fahrenheit * celsius_apart * 1.8 / 10
