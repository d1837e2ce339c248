"""Control strips: one aim, read off a reference strip, and how far each later strip lies from it.

A strip is read at three places: its clear base and fog; the speed point, the step that lies nearest above it; and the
step nearest a middling density. All densities are whole thousandths, as a densitometer shows them.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from labsys.chemistry.errors import CalculationError, check_between

SPEED_OVER_FOG = 100  # NAVEDTRA 14208: the speed point lies 0.10 over base and fog (0.30 for aerial film)
MIDDLE_DENSITY = 1_200  # a film maker's procedure for mammography: the step nearest 1.20
DENSEST = 6_000
SEARCH_ORDER = (
    "the densitometer",
    "the strip: its box, its age, how it was exposed",
    "what was replenished",
    "temperature, agitation and time",
    "what was mixed",
    "a second strip",
)  # NAVEDTRA 14208


class NotAStrip(CalculationError):
    """The densities are not those of a strip that grows denser step by step."""

    def __str__(self) -> str:
        return "these are not the densities of a strip: at least three steps, from clear to dark, the last above 1.20"


@dataclass(frozen=True, slots=True)
class Readings:
    """What is read off a strip: base and fog, speed point, middle step. [thousandths of density]"""

    fog: int
    speed: int
    middle: int

    def __post_init__(self) -> None:
        for name in ("fog", "speed", "middle"):
            check_between(name, getattr(self, name), 0, DENSEST, "thousandths")

    @property
    def contrast(self) -> int:
        """The middle step over the speed point."""
        return self.middle - self.speed


@dataclass(frozen=True, slots=True)
class Limits:
    """How far a strip may lie from its aim: fog upwards only, middle step and contrast both ways. [thousandths]"""

    fog_over: int
    middle_within: int
    contrast_within: int
    source: str


# Until a lab has limits of its own.
USUAL_LIMITS = Limits(30, 150, 150, "From memory: 21 CFR 900.12(e)(1), for film of mammography")


def steps_to_read(densities: Sequence[int]) -> tuple[int, int]:
    """Return which steps of a reference strip to read from then on: the speed point and the middle step, from 1.

    Parameters:
        densities: Of every step of the reference strip, the clear one first. [thousandths of density]
    Returns:
        Number of the step nearest 0.10 over base and fog, and of the step nearest 1.20. [-]
    Raises:
        NotAStrip: Fewer than three steps, one lighter than the step before it, or none as dark as 1.20.
        OutOfRange: A density that no film has.
    Source:
        NAVEDTRA 14208, on the speed point; a film maker's procedure for mammography, on the middle step.

    >>> steps_to_read([120, 150, 230, 600, 1_200, 1_900])
    (3, 5)
    """
    for density in densities:
        check_between("densities", density, 0, DENSEST, "thousandths")
    if len(densities) < 3 or list(densities) != sorted(densities) or densities[-1] < MIDDLE_DENSITY:
        raise NotAStrip
    wanted = (densities[0] + SPEED_OVER_FOG, MIDDLE_DENSITY)
    speed, middle = (min(range(len(densities)), key=lambda at: abs(densities[at] - density)) for density in wanted)
    if not 0 < speed < middle:
        raise NotAStrip
    return speed + 1, middle + 1


@dataclass(frozen=True, slots=True)
class Point:
    """One point of a strip beside its aim. `is_over_only` where only the side above is limited. [thousandths]"""

    name: str
    value: int
    aim: int
    within: int
    is_over_only: bool = False

    @property
    def off(self) -> int:
        """How far it lies from its aim, above or below."""
        return self.value - self.aim

    @property
    def is_outside(self) -> bool:
        """Whether it lies farther from its aim than it may."""
        return self.off > self.within or (not self.is_over_only and self.off < -self.within)

    @property
    def words(self) -> str:
        """The density beside its aim, as a person reads it."""
        off, most = density(abs(self.off)), density(self.within)
        return f"{self.name} {density(self.value)}, aim {density(self.aim)}, {off} off, at most {most}"


def points_of(*, read: Readings, aim: Readings, limits: Limits) -> tuple[Point, ...]:
    """Return the points of a strip beside their aims: base and fog, middle step, contrast.

    Parameters:
        read: What was read off the strip. [thousandths of density]
        aim: What the reference strip showed. [thousandths of density]
        limits: How far the two may lie apart. [thousandths of density]
    Returns:
        The three points; one that lies outside stops the work once a second strip confirms it. [-]
    Source:
        NAVEDTRA 14208, p. 2-22, on points outside the limit; the limits carry their own source.
    """
    return (
        Point("base and fog", read.fog, aim.fog, limits.fog_over, is_over_only=True),
        Point("middle step", read.middle, aim.middle, limits.middle_within),
        Point("contrast", read.contrast, aim.contrast, limits.contrast_within),
    )


def density(thousandths: int) -> str:
    """Write a density as it is read off.

    Parameters:
        thousandths: The density. [thousandths]
    Returns:
        Its words, with two decimals. [-]
    Source:
        Definition.

    >>> density(1_200)
    '1.20'
    """
    return f"{thousandths / 1000:.2f}"
