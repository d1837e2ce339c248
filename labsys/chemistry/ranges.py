"""Estimates as a range: low, typical, high, so that no single figure pretends to be a measurement."""

from dataclasses import dataclass

from labsys.chemistry.errors import check_above, check_between


@dataclass(frozen=True, slots=True)
class Range:
    """A low, a typical and a high value of one quantity, none below zero, in that order."""

    low: float
    typical: float
    high: float

    def __post_init__(self) -> None:
        check_between("low", self.low, 0, None)
        check_between("typical", self.typical, self.low, None)
        check_between("high", self.high, self.typical, None)

    def __add__(self, other: "Range") -> "Range":
        return Range(self.low + other.low, self.typical + other.typical, self.high + other.high)

    def times(self, factor: float) -> "Range":
        """Return the range scaled by a certain factor.

        Parameters:
            factor: 0 or more. [-]
        Returns:
            The scaled range. [as this range]
        Raises:
            OutOfRange: The factor is negative or not finite.
        Source:
            Interval arithmetic; the factor is taken as exact.
        """
        check_between("factor", factor, 0, None)
        return Range(self.low * factor, self.typical * factor, self.high * factor)

    def times_range(self, other: "Range") -> "Range":
        """Return the product with another uncertain quantity: low with low, high with high.

        Parameters:
            other: The other quantity. [-]
        Returns:
            The widest product. [product of both]
        Source:
            Interval arithmetic on values that are not negative.
        """
        return Range(self.low * other.low, self.typical * other.typical, self.high * other.high)

    def divided_by(self, divisor: float) -> "Range":
        """Return the range divided by a certain divisor.

        Parameters:
            divisor: Above 0. [-]
        Returns:
            The divided range. [as this range, per divisor]
        Raises:
            OutOfRange: The divisor is zero, negative or not finite.
        Source:
            Interval arithmetic; the divisor is taken as exact.
        """
        check_above("divisor", divisor, 0, None)
        return self.times(1 / divisor)
