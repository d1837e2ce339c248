"""Degrees Fahrenheit typed where degrees Celsius are meant: told apart from a temperature that is merely wrong."""

from labsys.chemistry.errors import OutOfRange, check_between

ABSOLUTE_ZERO_FAHRENHEIT = -459.67


class LooksLikeFahrenheit(OutOfRange):
    """A value outside the range in degrees Celsius that lies within it when read as degrees Fahrenheit."""

    def __init__(self, name: str, value: float, low: float, high: float) -> None:
        super().__init__(name, value, low, high, "°C")

    @property
    def celsius(self) -> float:
        """The value read as degrees Fahrenheit. [°C]"""
        return celsius_of(fahrenheit=float(self.value))

    def __str__(self) -> str:
        return f"{super().__str__()}; that looks like °F: {float(self.value):g} °F is {self.celsius:.3g} °C"


def celsius_of(*, fahrenheit: float) -> float:
    """Turn degrees Fahrenheit into degrees Celsius, (F - 32) / 1.8.

    Parameters:
        fahrenheit: Temperature, not below absolute zero, at -459.67. [°F]
    Returns:
        Temperature. [°C]
    Raises:
        OutOfRange: Below absolute zero, or not finite.
    Source:
        Definition of the scales, from memory.

    >>> celsius_of(fahrenheit=68)
    20.0
    """
    check_between("fahrenheit", fahrenheit, ABSOLUTE_ZERO_FAHRENHEIT, None, "°F")
    return (fahrenheit - 32) / 1.8


def check_celsius(*, name: str, value: float, low: float, high: float) -> None:
    """Raise unless low <= value <= high; say so where the value only makes sense in degrees Fahrenheit.

    Parameters:
        name: What the temperature is called, for the error. [-]
        value: Temperature, a scalar. [°C]
        low: Least temperature allowed. [°C]
        high: Greatest temperature allowed. [°C]
    Returns:
        Nothing. [-]
    Raises:
        LooksLikeFahrenheit: Outside the range, and inside it when read as degrees Fahrenheit.
        OutOfRange: Outside the range either way, infinite, or not a number.
    Source:
        House rule: out of range raises, never clamps, and never converts unasked.
    """
    try:
        check_between(name, value, low, high, "°C")
    except OutOfRange:
        if low <= (value - 32) / 1.8 <= high:
            raise LooksLikeFahrenheit(name, value, low, high) from None
        raise
