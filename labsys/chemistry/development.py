"""Time against temperature: development by a log-linear law, fixing and washing by a doubling for every 10 °C.

A maker's own chart always comes first; these laws fill the gaps between its points.
"""

import math
from dataclasses import dataclass

from labsys.chemistry.errors import CalculationError, check_above, check_between
from labsys.chemistry.spread import spread
from labsys.chemistry.temperature import COLDEST, HOTTEST, mean_celsius

LEAST_MINUTES = 5.0  # shorter development is uneven (common practice, no source)


@dataclass(eq=False)
class TooShort(CalculationError):
    """The time worked out is too short for even development; develop cooler or in a weaker solution."""

    minutes: float
    least_minutes: float

    def __str__(self) -> str:
        return f"{self.minutes:.1f} min is under {self.least_minutes:g} min, too short for even development"


@dataclass(frozen=True, slots=True)
class TimeRule:
    """A development time at one temperature, and how it moves with temperature within a range. [min, °C]"""

    minutes: float
    at_celsius: float = 20.0
    q10: float = 2.5
    low_celsius: float = 18.0
    high_celsius: float = 24.0
    least_minutes: float = LEAST_MINUTES

    def __post_init__(self) -> None:
        check_above("minutes", self.minutes, 0, 240, "min")
        check_between("q10", self.q10, 1, 5)
        check_between("low_celsius", self.low_celsius, 10, self.at_celsius, "°C")
        check_between("high_celsius", self.high_celsius, self.at_celsius, 40, "°C")
        check_between("least_minutes", self.least_minutes, 0, 240, "min")

    @property
    def per_celsius(self) -> float:
        """Rate constant k of the law, ln(Q10) / 10. [1/°C]"""
        return math.log(self.q10) / 10


def develop_minutes(*, rule: TimeRule, celsius: float) -> float:
    """Return the development time at a temperature, t = t0 * exp(-k * (T - T0)).

    Parameters:
        rule: Time at one temperature, temperature coefficient and range. [min, °C]
        celsius: Temperature of the developer, within the range of the rule. [°C]
    Returns:
        Time. [min]
    Raises:
        OutOfRange: Outside the range of the rule: hydroquinone all but stops in the cold, so nothing is extrapolated.
        TooShort: Under the least time of the rule.
    Source:
        Equal steps of temperature multiply the rate: W. B. Ferguson and F. Howard 1905 (read in extract). A coefficient
        of about 2.5 for MQ and PQ film developers, 18 to 24 °C: common practice, no source.

    >>> round(develop_minutes(rule=TimeRule(minutes=10), celsius=24), 2)
    6.93
    """
    check_between("celsius", celsius, rule.low_celsius, rule.high_celsius, "°C")
    minutes = _minutes_by_law(rule, celsius)
    if minutes < rule.least_minutes:
        raise TooShort(minutes, rule.least_minutes)
    return minutes


def develop_minutes_while_cooling(
    *, rule: TimeRule, start_celsius: float, room_celsius: float, tau_minutes: float
) -> float:
    """Return the development time in a tank that drifts towards the temperature of the room.

    Solves t = t(Tmean(t)); taking the mean temperature in place of the integral costs under 0.2 % for drifts of a few
    degrees.

    Parameters:
        rule: Time at one temperature, temperature coefficient and range. [min, °C]
        start_celsius: Temperature at the start, within the range of the rule. [°C]
        room_celsius: Temperature of what surrounds the tank, 0 to 65. [°C]
        tau_minutes: Time constant of the tank, above 0, at most a day. [min]
    Returns:
        Time. [min]
    Raises:
        OutOfRange: A value is out of range, or the mean temperature leaves the range of the rule.
        TooShort: Under the least time of the rule.
    Source:
        `develop_minutes` at `mean_celsius`, solved by halving the interval.

    >>> rule = TimeRule(minutes=8, at_celsius=24, high_celsius=26)
    >>> round(develop_minutes_while_cooling(rule=rule, start_celsius=24, room_celsius=18, tau_minutes=60), 2)
    8.3
    """
    check_between("start_celsius", start_celsius, rule.low_celsius, rule.high_celsius, "°C")
    check_between("room_celsius", room_celsius, COLDEST, HOTTEST, "°C")
    low, high = sorted(_minutes_by_law(rule, celsius) for celsius in (start_celsius, room_celsius))
    mean = start_celsius
    while high - low > 1e-7:
        middle = (low + high) / 2
        mean = mean_celsius(
            start_celsius=start_celsius, room_celsius=room_celsius, tau_minutes=tau_minutes, minutes=middle
        )
        if _minutes_by_law(rule, mean) > middle:
            low = middle
        else:
            high = middle
    return develop_minutes(rule=rule, celsius=mean)


def least_minutes_for(*, minutes: float, own: float | None = None) -> float:
    """Return the least time that a correction may come to, from what the developer or the general rule says.

    A time that is written shorter than that, as in colour, is no fault: then no least time holds.

    Parameters:
        minutes: Time as it is written. [min]
        own: What the developer's own sheet calls uneven, None where it says nothing. [min]
    Returns:
        Least time, 0 where none holds. [min]
    Source:
        Under 5 min uneven, for black and white: common practice, no source. A normal short time stands: definition.

    >>> least_minutes_for(minutes=8), least_minutes_for(minutes=3.25), least_minutes_for(minutes=8, own=4)
    (5.0, 0.0, 4)
    """
    least = LEAST_MINUTES if own is None else own
    return least if minutes >= least else 0.0


def minutes_in_used(*, minutes: float, units_per_litre: float, free_per_litre: float, longer_share: float) -> float:
    """Return the time in a developer that film has gone through already, t = t0 * (1 + p * (u - f)) above f.

    Parameters:
        minutes: Time in the fresh developer, above 0. [min]
        units_per_litre: Rolls, or areas of 80 in², that went through a litre of it, 0 or more. [1/L]
        free_per_litre: As many of them change nothing, 0 or more. [1/L]
        longer_share: Longer by this for each one more in a litre, 0 to 1. [-]
    Returns:
        Time. [min]
    Raises:
        OutOfRange: A value is out of range.
    Source:
        Definition, with the figures of the row it is asked for: 10 % more for each film is a rule in a French
        photographic-club course.

    >>> minutes_in_used(minutes=10, units_per_litre=6, free_per_litre=4, longer_share=0.1)
    12.0
    """
    check_above("minutes", minutes, 0, None, "min")
    check_between("units_per_litre", units_per_litre, 0, None)
    check_between("free_per_litre", free_per_litre, 0, None)
    check_between("longer_share", longer_share, 0, 1)
    return minutes * (1 + longer_share * max(0.0, units_per_litre - free_per_litre))


def develop_minutes_between(
    *, rule: TimeRule, celsius: float, celsius_error: float, q10_error: float
) -> tuple[float, float]:
    """Return the shortest and longest time that may be right, for a thermometer and a coefficient that may be off.

    Parameters:
        rule: Time at one temperature, temperature coefficient and range. [min, °C]
        celsius: Temperature as it was read. [°C]
        celsius_error: Limit of error of the thermometer, 0 or more. [°C]
        q10_error: Limit of error of the coefficient, 0 or more; it stays above 1. [-]
    Returns:
        Shortest and longest time. [min]
    Raises:
        OutOfRange: A negative error.
    Source:
        `develop_minutes` at the corners of the limits of error.

    >>> rule = TimeRule(minutes=10)
    >>> [round(t, 2) for t in develop_minutes_between(rule=rule, celsius=24, celsius_error=0.5, q10_error=0)]
    [6.62, 7.26]
    """
    return spread(
        lambda q10, now: rule.minutes * max(1.0, q10) ** ((rule.at_celsius - now) / 10),
        values={"q10": rule.q10, "now": celsius},
        errors={"q10": q10_error, "now": celsius_error},
    )


def _minutes_by_law(rule: TimeRule, celsius: float) -> float:
    return rule.minutes * math.exp(-rule.per_celsius * (celsius - rule.at_celsius))


def time_error_share(*, q10: float, celsius_error: float) -> float:
    """Return how far off development is when the thermometer is off, exp(k * error) - 1.

    Parameters:
        q10: Temperature coefficient for 10 °C, 1 to 5. [-]
        celsius_error: Error of the temperature, -10 to 10. [°C]
    Returns:
        Error as a share of the time. [-]
    Raises:
        OutOfRange: A value is out of range.
    Source:
        `develop_minutes`, differentiated by hand.

    >>> round(100 * time_error_share(q10=2.5, celsius_error=0.5), 1)
    4.7
    """
    check_between("q10", q10, 1, 5)
    check_between("celsius_error", celsius_error, -10, 10, "°C")
    return math.expm1(math.log(q10) / 10 * celsius_error)


def fix_and_wash_factor(*, celsius: float) -> float:
    """Return by how much fixing and washing take longer in cold solutions, 2^((20 - T) / 10).

    Above 20 °C no time is taken off: the factor is 1 to 24 °C, where gelatin begins to soften.

    Parameters:
        celsius: Temperature, 1 to 24. [°C]
    Returns:
        Factor on the time at 20 °C, never under 1. [-]
    Raises:
        OutOfRange: Outside 1 to 24. Washing below 10 °C is poor practice even with the factor.
    Source:
        US Army TM 11-2323, par. 33: fixing time doubled for each 18 °F drop below 68 °F; washing twice at 50 °F, four
        times at 35 °F, where this model gives 3.56. US Army MD0954 disagrees ("about 40 % more efficient" at 68 to
        70 °F than at 40 °F); the slower wash is taken.

    >>> fix_and_wash_factor(celsius=10)
    2.0
    """
    check_between("celsius", celsius, 1, 24, "°C")
    return 1.0 if celsius >= 20 else float(2 ** ((20 - celsius) / 10))
