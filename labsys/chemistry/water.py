"""Properties of pure water at atmospheric pressure, for mixing waters of different temperatures."""

import math

from labsys.chemistry.errors import check_above, check_between

# IAPWS SR6-08(2011): pairs of coefficient and exponent, in powers of 10 K / (593 K - T) and of 10 K / (T - 232 K).
_GAS_CONSTANT = 461.51805  # [J/(kg K)]
_C3 = -8.983025854
_HEAT_A = ((-1.661470539e5, 4), (2.708781640e6, 5), (-1.557191544e8, 7))
_HEAT_B = ((-8.237426256e-1, 2), (1.908956353, 3), (-2.017597384, 4), (8.546361348e-1, 5))
_VOLUME_A0 = 1.93763157e-2
_VOLUME_A = ((6.74458446e3, 4), (-2.22521604e5, 5), (1.00231247e8, 7), (-1.63552118e9, 8), (8.32299658e9, 9))
_VOLUME_B = (
    (5.78545292e-3, 1),
    (-1.53195665e-2, 2),
    (3.11337859e-2, 3),
    (-4.23546241e-2, 4),
    (3.38713507e-2, 5),
    (-1.19946761e-2, 6),
)


def specific_volume_of_water(*, celsius: float) -> float:
    """Return the volume of a kilogram of water at 0.1 MPa, over the range of a hot tap.

    Parameters:
        celsius: Water temperature, a scalar from 0 to 100. [°C]
    Returns:
        Specific volume, a scalar. [L/kg]
    Raises:
        OutOfRange: Outside 0 to 100; the formula itself reaches from -20 to 110.
    Source:
        IAPWS SR6-08(2011), Revised Supplementary Release on Properties of Liquid Water at 0.1 MPa; coefficients read
        in a published implementation of it.

    >>> round(specific_volume_of_water(celsius=60), 5)
    1.01709
    """
    alpha, beta, _ = _reduced(celsius)
    powers = sum(a * alpha**n for a, n in _VOLUME_A) + sum(b * beta**m for b, m in _VOLUME_B)
    return _GAS_CONSTANT * 10 / 0.1e6 * (_VOLUME_A0 + powers) * 1000


def heat_capacity_of_water(*, celsius: float) -> float:
    """Return the specific heat capacity of water at 0.1 MPa and constant pressure.

    Parameters:
        celsius: Water temperature, a scalar from 0 to 100. [°C]
    Returns:
        Specific heat capacity, a scalar. [J/(kg K)]
    Raises:
        OutOfRange: Outside 0 to 100; the formula itself reaches from -20 to 110.
    Source:
        IAPWS SR6-08(2011), as `specific_volume_of_water`.

    >>> round(heat_capacity_of_water(celsius=20))
    4184
    """
    alpha, beta, tau = _reduced(celsius)
    by_alpha = sum(n * (n + 1) * a * alpha ** (n + 2) for a, n in _HEAT_A)
    by_beta = sum(m * (m + 1) * b * beta ** (m + 2) for b, m in _HEAT_B)
    return -_GAS_CONSTANT * (_C3 + tau * (by_alpha + by_beta))


def water_equivalent_ml(*, grams: float, joules_per_gram_kelvin: float, celsius: float) -> float:
    """Return the water that takes up as much heat as a vessel, V = m * c / (density * cp).

    Parameters:
        grams: Mass of the vessel, above 0, at most 100 000. [g]
        joules_per_gram_kelvin: Specific heat capacity of what it is made of, above 0, at most 5. [J/(g K)]
        celsius: Temperature, 0 to 100. [°C]
    Returns:
        Volume of water. [mL]
    Raises:
        OutOfRange: A value is out of range.
    Source:
        Heat balance; properties of water as `heat_capacity_of_water`.

    >>> round(water_equivalent_ml(grams=500, joules_per_gram_kelvin=0.5, celsius=20), 1)
    59.9
    """
    check_above("grams", grams, 0, 100_000, "g")
    check_above("joules_per_gram_kelvin", joules_per_gram_kelvin, 0, 5, "J/(g K)")
    water_grams = grams * joules_per_gram_kelvin / (heat_capacity_of_water(celsius=celsius) / 1000)
    return water_grams * specific_volume_of_water(celsius=celsius)


def enthalpy_of_water(*, celsius: float) -> float:
    """Return the heat that brings a kilogram of water from 0 °C to a temperature, at 0.1 MPa.

    Parameters:
        celsius: Water temperature, a scalar from 0 to 100. [°C]
    Returns:
        Specific enthalpy above that at 0 °C, a scalar. [J/kg]
    Raises:
        OutOfRange: Outside 0 to 100; the formula itself reaches from -20 to 110.
    Source:
        h = g - T dg/dT of IAPWS SR6-08(2011), as `specific_volume_of_water`.

    >>> round(enthalpy_of_water(celsius=20) / 1000, 1)
    83.9
    """
    return _enthalpy(celsius) - _enthalpy(0.0)


def _enthalpy(celsius: float) -> float:
    """Specific enthalpy up to a constant that the difference of two removes."""
    alpha, beta, tau = _reduced(celsius)
    energy = sum(a * alpha**n for a, n in _HEAT_A) + sum(b * beta**m for b, m in _HEAT_B)
    slope = sum(n * a * alpha ** (n + 1) for a, n in _HEAT_A) - sum(m * b * beta ** (m + 1) for b, m in _HEAT_B)
    entropy = -(_C3 * (1 + math.log(tau)) + slope)
    return _GAS_CONSTANT * 10 * (_C3 * tau * math.log(tau) + energy + tau * entropy)


def _reduced(celsius: float) -> tuple[float, float, float]:
    check_between("celsius", celsius, 0, 100, "°C")
    kelvin = celsius + 273.15
    return 10 / (593 - kelvin), 10 / (kelvin - 232), kelvin / 10
