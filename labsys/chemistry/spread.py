"""How far a result may be off when what goes into it may be: worked at every corner of the limits of error."""

from collections.abc import Callable, Mapping
from itertools import product

from labsys.chemistry.errors import check_between


def spread(
    calculation: Callable[..., float], *, values: Mapping[str, float], errors: Mapping[str, float]
) -> tuple[float, float]:
    """Return the least and the greatest result when each value may be off by its error.

    Parameters:
        calculation: Rises or falls steadily with each value that has an error. [-]
        values: What goes into it, by name. [as they are]
        errors: Limits of error of some of the values, 0 or more. [as they are]
    Returns:
        Least and greatest result. [as the calculation]
    Raises:
        OutOfRange: A negative error, or a corner where the calculation has no answer.
    Source:
        Interval arithmetic: of a steady function the extremes lie at the corners.

    >>> spread(lambda width, height: width * height, values={"width": 2, "height": 3}, errors={"width": 0.5})
    (4.5, 7.5)
    """
    for name, error in errors.items():
        check_between(f"error of {name}", error, 0, None)
    corners = product(*((values[name] - error, values[name] + error) for name, error in errors.items()))
    results = [calculation(**{**values, **dict(zip(errors, corner, strict=True))}) for corner in corners]
    return min(results), max(results)
