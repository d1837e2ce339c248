"""The density of a liquid as supplied, and what it makes of a dilution measured by volume.

A concentrate heavier than water is stronger by mass than by volume, one lighter than water weaker: for 1 + N the
heavier end of a range is the worse.
"""

from dataclasses import dataclass

from .mixtures import strength_by_mass
from .spans import Span


@dataclass(frozen=True)
class Density:
    """The density of a liquid as supplied [g/mL]; where nobody states it, `assumed` says what is taken, and why."""

    span: Span
    assumed: str = ""


def assumed_density(span: Span, *, of: str) -> Density:
    """Return the bounds that stand in where no density is stated, and the sentence that says so.

    Parameters:
        span: The least and the most it can be. [g/mL]
        of: What the bounds hold for, such as "a fixer". [-]
    Returns:
        The density, named as an assumption. [-]
    """
    return Density(span, f"No density is stated: {span} g/mL is assumed, as {of} can have (from memory).")


# Ether-like solvents are lightest, concentrated sulfuric acid heaviest of what a darkroom pours; from memory.
UNKNOWN_DENSITY = assumed_density(Span(0.70, 1.84), of="any liquid of a darkroom")


def strength_ends(
    *, water_parts_milli: int, density: Density, powder_g_per_l: float | None = None
) -> tuple[tuple[str, float], ...]:
    """Return the mass of a product over the mass of a working solution, at each end of its density, the heavier first.

    Parameters:
        water_parts_milli: N of 1 + N by volume, in thousandths. [-]
        density: Of a liquid as supplied. [g/mL]
        powder_g_per_l: Mass that makes a litre of undiluted solution, or None for a liquid; a litre of the solution is
            then taken to weigh a kilogram, the least it can. [g/L]
    Returns:
        What each end is called, and its fraction, at most 1; one where both ends come to the same. [-]

    >>> [round(strength, 4) for _, strength in strength_ends(
    ...     water_parts_milli=9_000, density=Density(Span(0.9, 1.2)))]
    [0.1178, 0.0911]
    """
    volume_fraction = 1_000 / (1_000 + water_parts_milli)
    if powder_g_per_l is not None:
        return (("", min(volume_fraction * powder_g_per_l / 1_000, 1.0)),)
    if water_parts_milli == 0:
        return (("", 1.0),)
    return tuple(
        (f"{end:.4g} g/mL", min(strength_by_mass(volume_fraction=volume_fraction, density_g_per_ml=end), 1.0))
        for end in reversed(density.span.ends)
    )
