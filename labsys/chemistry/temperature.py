"""Mixing to a temperature, and how a tank cools: water by heat balance, with the concentrate as it stands in the room.

The simple balance takes concentrate and water as equal in density and heat capacity. It reads 0.02 to 0.15 °C high in
usual mixes (0.25 °C for half and half of 5 and 60 °C) because hot water is lighter; cold vessels take more than that.
Always finish with a thermometer.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from labsys.chemistry.dilution import LARGEST_ML, Parts
from labsys.chemistry.errors import CalculationError, OutOfRange, check_above, check_between
from labsys.chemistry.water import enthalpy_of_water, specific_volume_of_water

COLDEST, HOTTEST = 0.0, 65.0  # what comes out of a tap; above 60 °C it scalds
LONGEST_MINUTES = 24 * 60


@dataclass(eq=False)
class NotReachable(CalculationError):
    """No mixture of what there is reaches the temperature; `low_celsius` to `high_celsius` can be reached."""

    wanted_celsius: float
    low_celsius: float
    high_celsius: float

    def __str__(self) -> str:
        return (
            f"{self.wanted_celsius:g} °C cannot be reached by mixing; from {self.low_celsius:.1f} to "
            f"{self.high_celsius:.1f} °C can"
        )


@dataclass(frozen=True, slots=True)
class Portion:
    """A volume of liquid at a temperature, each with the limit of error of its measurement. [mL, °C]"""

    volume_ml: float
    celsius: float
    volume_error_ml: float = 0.0
    celsius_error: float = 0.0

    def __post_init__(self) -> None:
        check_above("volume_ml", self.volume_ml, 0, LARGEST_ML, "mL")
        check_between("celsius", self.celsius, 0, 100, "°C")
        check_between("volume_error_ml", self.volume_error_ml, 0, None, "mL")
        check_between("celsius_error", self.celsius_error, 0, None, "°C")


@dataclass(frozen=True, slots=True)
class WarmMix:
    """What to pour together, and the temperature the water has to have before the concentrate goes in. [mL, °C]"""

    concentrate_ml: float
    hot_ml: float
    cold_ml: float
    water_celsius: float
    working_celsius: float


@dataclass(frozen=True, slots=True)
class CelsiusError:
    """How far a temperature may be off. [°C]"""

    worst: float
    likely: float


def mixed_celsius(*, portions: Sequence[Portion]) -> float:
    """Return the temperature of liquids poured together, sum(V*T) / sum(V).

    Parameters:
        portions: At least one volume at its temperature. [mL, °C]
    Returns:
        Temperature of the mixture. [°C]
    Raises:
        OutOfRange: No portion is given.
    Source:
        Heat balance with equal density and heat capacity; no heat to the vessel.

    >>> mixed_celsius(portions=[Portion(300, 15), Portion(200, 40)])
    25.0
    """
    check_between("portions", len(portions), 1, None)
    total = sum(portion.volume_ml for portion in portions)
    return sum(portion.volume_ml * portion.celsius for portion in portions) / total


def mixed_celsius_exact(*, portions: Sequence[Portion]) -> float:
    """Return the temperature of waters poured together, by mass and enthalpy.

    Parameters:
        portions: At least one volume of water at its temperature. [mL, °C]
    Returns:
        Temperature of the mixture, to a thousandth of a degree. [°C]
    Raises:
        OutOfRange: No portion is given.
    Source:
        Enthalpy balance with the properties of IAPWS SR6-08(2011).

    >>> round(mixed_celsius_exact(portions=[Portion(800, 10), Portion(200, 60)]), 2)
    19.85
    """
    check_between("portions", len(portions), 1, None)
    masses = [portion.volume_ml / specific_volume_of_water(celsius=portion.celsius) for portion in portions]
    heats = [m * enthalpy_of_water(celsius=p.celsius) for m, p in zip(masses, portions, strict=True)]
    wanted = sum(heats) / sum(masses)
    low, high = min(p.celsius for p in portions), max(p.celsius for p in portions)
    while high - low > 1e-4:
        middle = (low + high) / 2
        if enthalpy_of_water(celsius=middle) < wanted:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def mixed_celsius_error(*, portions: Sequence[Portion]) -> CelsiusError:
    """Return how far the temperature of a mixture may be off, from the limits of its measurements.

    Each temperature counts with its share of the volume, each volume with (Ti - T) / V. At worst all add up; the
    likely error is their root-sum-square, which takes the thermometer readings as independent of each other.

    Parameters:
        portions: At least one volume at its temperature, with limits of error. [mL, °C]
    Returns:
        Worst and likely error. [°C]
    Raises:
        OutOfRange: No portion is given.
    Source:
        First-order error propagation of sum(V*T) / sum(V).

    >>> waters = [Portion(400, 60, 5, 0.5), Portion(1600, 15, 20, 0.5)]
    >>> round(mixed_celsius_error(portions=waters).worst, 2)
    0.68
    """
    mixture = mixed_celsius(portions=portions)
    total = sum(portion.volume_ml for portion in portions)
    terms = [portion.volume_ml / total * portion.celsius_error for portion in portions]
    terms += [abs(portion.celsius - mixture) / total * portion.volume_error_ml for portion in portions]
    return CelsiusError(worst=sum(terms), likely=math.hypot(*terms))


def mix_to_temperature(
    *,
    parts: Parts,
    wanted_celsius: float,
    concentrate_celsius: float,
    cold_celsius: float,
    hot_celsius: float,
    vessel: Portion | None = None,
) -> WarmMix:
    """Work out hot and cold water so that the working solution comes out at a temperature.

    Water must stand at Tw = (V*T - Vc*Tr) / Vw; then hot = Vw * (Tw - Tcold) / (Thot - Tcold). A vessel counts as the
    water that takes up as much heat: Tw = (V*T - Vc*Tr + Vv*(T - Tv)) / Vw.

    Parameters:
        parts: Concentrate and water of the mix; water only where the concentrate is nothing. [mL]
        wanted_celsius: Temperature of the working solution, 5 to 60. [°C]
        concentrate_celsius: Temperature of the concentrate, as the room, 0 to 65. [°C]
        cold_celsius: Temperature of the cold tap, from 0 up to the hot one. [°C]
        hot_celsius: Temperature of the hot tap, at most 65. [°C]
        vessel: The vessel it is poured into, as water at its temperature; none where its heat is not counted. [mL, °C]
    Returns:
        Volumes, the temperature of the water, and that of the solution. [mL, °C]
    Raises:
        OutOfRange: A value is out of range, or the hot tap is not warmer than the cold.
        NotReachable: The taps cannot bring it there; carries the temperatures that can be reached.
    Source:
        Heat balance with equal density and heat capacity.
    """
    check_between("wanted_celsius", wanted_celsius, 5, 60, "°C")
    check_between("concentrate_celsius", concentrate_celsius, COLDEST, HOTTEST, "°C")
    check_between("cold_celsius", cold_celsius, COLDEST, HOTTEST, "°C")
    check_above("hot_celsius", hot_celsius, cold_celsius, HOTTEST, "°C")
    concentrate, water, working = float(parts.concentrate_ml), float(parts.water_ml), float(parts.working_ml)
    warmth = concentrate * concentrate_celsius
    taken_up = vessel.volume_ml if vessel else 0.0
    warmth += taken_up * vessel.celsius if vessel else 0.0
    low, high = ((warmth + water * tap) / (working + taken_up) for tap in (cold_celsius, hot_celsius))
    slack = 1e-9 * HOTTEST  # a tap already at the wanted temperature must not fail on the last binary digit
    if not low - slack <= wanted_celsius <= high + slack:
        raise NotReachable(wanted_celsius, low, high)
    if water == 0:
        return WarmMix(concentrate, 0.0, 0.0, wanted_celsius, wanted_celsius)
    needed = ((working + taken_up) * wanted_celsius - warmth) / water
    share = min(1.0, max(0.0, (needed - cold_celsius) / (hot_celsius - cold_celsius)))
    hot = water * share
    return WarmMix(concentrate, hot, water - hot, needed, wanted_celsius)


def water_to_temperature(
    *, water_ml: float, wanted_celsius: float, cold_celsius: float, hot_celsius: float, vessel: Portion | None = None
) -> WarmMix:
    """Work out hot and cold water that come to a temperature, with no concentrate in it.

    Parameters:
        water_ml: Volume of water, above 0, at most 1 000 000. [mL]
        wanted_celsius: Temperature wanted, 5 to 60. [°C]
        cold_celsius: Temperature of the cold tap, from 0 up to the hot one. [°C]
        hot_celsius: Temperature of the hot tap, at most 65. [°C]
        vessel: As of `mix_to_temperature`. [mL, °C]
    Returns:
        Volumes and temperature; the concentrate is nothing. [mL, °C]
    Raises:
        OutOfRange: A value is out of range, or the hot tap is not warmer than the cold.
        NotReachable: The taps cannot bring it there.
    Source:
        As `mix_to_temperature`.

    >>> round(water_to_temperature(water_ml=1000, wanted_celsius=20, cold_celsius=12, hot_celsius=50).hot_ml, 1)
    210.5
    """
    check_above("water_ml", water_ml, 0, LARGEST_ML, "mL")
    water = Fraction(water_ml)
    return mix_to_temperature(
        parts=Parts(concentrate_ml=Fraction(0), water_ml=water, working_ml=water),
        wanted_celsius=wanted_celsius,
        concentrate_celsius=wanted_celsius,
        cold_celsius=cold_celsius,
        hot_celsius=hot_celsius,
        vessel=vessel,
    )


def cooled_celsius(*, start_celsius: float, room_celsius: float, tau_minutes: float, minutes: float) -> float:
    """Return the temperature of a tank after some minutes in a room or jacket, T = Ta + (T0 - Ta) exp(-t/tau).

    Parameters:
        start_celsius: Temperature at the start, 0 to 65. [°C]
        room_celsius: Temperature of what surrounds it, 0 to 65. [°C]
        tau_minutes: Time constant of the tank, above 0, at most a day. [min]
        minutes: Time passed, 0 to a day. [min]
    Returns:
        Temperature. [°C]
    Raises:
        OutOfRange: A value is out of range.
    Source:
        Newton's law of cooling. Usual time constants of a 500 mL tank: plastic in still air 45 to 90 min, steel 25 to
        45, in a stirred jacket 5 to 15 (common practice, no source): measure it with plain water.

    >>> round(cooled_celsius(start_celsius=24, room_celsius=18, tau_minutes=60, minutes=8), 2)
    23.25
    """
    _check_cooling(start_celsius, room_celsius, tau_minutes, minutes)
    return room_celsius + (start_celsius - room_celsius) * math.exp(-minutes / tau_minutes)


def mean_celsius(*, start_celsius: float, room_celsius: float, tau_minutes: float, minutes: float) -> float:
    """Return the mean temperature of a cooling tank over some minutes.

    Parameters:
        start_celsius: Temperature at the start, 0 to 65. [°C]
        room_celsius: Temperature of what surrounds it, 0 to 65. [°C]
        tau_minutes: Time constant of the tank, above 0, at most a day. [min]
        minutes: Time passed, above 0, at most a day. [min]
    Returns:
        Mean temperature. [°C]
    Raises:
        OutOfRange: A value is out of range.
    Source:
        Mean of Newton's law of cooling, Ta + (T0 - Ta) * tau/t * (1 - exp(-t/tau)).

    >>> round(mean_celsius(start_celsius=24, room_celsius=18, tau_minutes=60, minutes=8), 2)
    23.62
    """
    _check_cooling(start_celsius, room_celsius, tau_minutes, minutes)
    check_above("minutes", minutes, 0, LONGEST_MINUTES, "min")
    share = -math.expm1(-minutes / tau_minutes) * tau_minutes / minutes
    return room_celsius + (start_celsius - room_celsius) * share


def time_constant_minutes(*, start_celsius: float, end_celsius: float, room_celsius: float, minutes: float) -> float:
    """Return the time constant of a tank from one reading, tau = -t / ln((T - Ta) / (T0 - Ta)).

    Parameters:
        start_celsius: Temperature at the start, 0 to 65. [°C]
        end_celsius: Temperature at the end, strictly between start and room. [°C]
        room_celsius: Temperature of what surrounds it, 0 to 65. [°C]
        minutes: Time between the readings, above 0, at most a day. [min]
    Returns:
        Time constant. [min]
    Raises:
        OutOfRange: A value is out of range, or the tank did not move towards the room.
    Source:
        Newton's law of cooling, solved for tau.

    >>> round(time_constant_minutes(start_celsius=24, end_celsius=23.2, room_celsius=18, minutes=8), 1)
    55.9
    """
    _check_cooling(start_celsius, room_celsius, 1, minutes)
    check_above("minutes", minutes, 0, LONGEST_MINUTES, "min")
    if not min(start_celsius, room_celsius) < end_celsius < max(start_celsius, room_celsius):
        low, high = sorted((start_celsius, room_celsius))
        raise OutOfRange("end_celsius", end_celsius, low, high, "°C", low_included=False)
    return -minutes / math.log((end_celsius - room_celsius) / (start_celsius - room_celsius))


def _check_cooling(start_celsius: float, room_celsius: float, tau_minutes: float, minutes: float) -> None:
    check_between("start_celsius", start_celsius, COLDEST, HOTTEST, "°C")
    check_between("room_celsius", room_celsius, COLDEST, HOTTEST, "°C")
    check_above("tau_minutes", tau_minutes, 0, LONGEST_MINUTES, "min")
    check_between("minutes", minutes, 0, LONGEST_MINUTES, "min")
