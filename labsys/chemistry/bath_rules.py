"""What a bath is allowed, and what is known of it: the facts that `life` turns into a verdict.

Every rule carries its own source, so that a page can say where a limit comes from.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum
from fractions import Fraction

from labsys.chemistry.errors import CalculationError, check_above, check_between
from labsys.chemistry.sizes import NOTHING, Load, Material

CLEARING_SOURCE = "NAVEDTRA 14209, Photography (Basic): discard when clearing takes twice the time in a fresh bath"
PH_SOURCE = "P. Glafkides, Physique et chimie photographique: a stop bath must stay below pH 5.8"
INDICATOR_SOURCE = "Common practice, no source: bromocresol purple is yellow below pH 5.2 and purple above 6.8"
VERDICT_SOURCE = "Judged by a person"
ONE_SHOT_SOURCE = "Common practice, no source: a one-shot solution is discarded after use"
STRIP_SOURCE = "NAVEDTRA 14208: a point outside its limit stops the work; a second strip is part of the search"
STAIN_SOURCE = "From memory: more than a barely visible tint under the drop means incomplete fixing"
HIGHEST_STOP_PH = 5.8


class Holding(StrEnum):
    """Where a working solution stands; air reaches it fastest in an open tray."""

    FULL_BOTTLE = "full_bottle"
    PART_FULL_BOTTLE = "part_full_bottle"
    TANK = "tank"
    OPEN_TANK = "open_tank"
    TRAY = "tray"


HOLDING_NAMES = {
    Holding.FULL_BOTTLE: "a full bottle",
    Holding.PART_FULL_BOTTLE: "a part-full bottle",
    Holding.TANK: "a tank with a floating lid",
    Holding.OPEN_TANK: "a tank without a lid",
    Holding.TRAY: "an open tray",
}


@dataclass(frozen=True, slots=True)
class AreaCapacity:
    """Area of one material that a litre takes before it is exhausted. [mm²/L]"""

    material: Material
    mm2_per_litre: int
    source: str

    def __post_init__(self) -> None:
        check_above("mm2_per_litre", self.mm2_per_litre, 0, None, "mm²/L")


@dataclass(frozen=True, slots=True)
class PieceCapacity:
    """Pieces of whatever size that a litre takes before it is exhausted. [1/L]"""

    pieces_per_litre: Fraction | int
    source: str

    def __post_init__(self) -> None:
        check_above("pieces_per_litre", self.pieces_per_litre, 0, None, "per litre")


@dataclass(frozen=True, slots=True)
class AgeLimit:
    """Hours a working solution keeps in one kind of holding. [h]"""

    holding: Holding
    hours: int
    source: str

    def __post_init__(self) -> None:
        check_above("hours", self.hours, 0, None, "h")


@dataclass(frozen=True, slots=True)
class ClearingTest:
    """Clearing time of a piece of the film in use, against its time in a fresh bath. For film only. [s]"""

    fresh_seconds: float
    now_seconds: float
    since: Load = NOTHING
    source: str = CLEARING_SOURCE

    def __post_init__(self) -> None:
        check_above("fresh_seconds", self.fresh_seconds, 0, 3600, "s")
        check_above("now_seconds", self.now_seconds, 0, 36_000, "s")


@dataclass(frozen=True, slots=True)
class PhTest:
    """pH against the highest the bath may reach. [pH]"""

    ph: float
    highest: float = HIGHEST_STOP_PH
    since: Load = NOTHING
    source: str = PH_SOURCE

    def __post_init__(self) -> None:
        check_between("ph", self.ph, 0, 14, "pH")
        check_between("highest", self.highest, 0, 14, "pH")


class Colour(StrEnum):
    """How an indicator stop bath looks beside a fresh one."""

    UNCHANGED = "unchanged"
    TURNING = "turning"
    CHANGED = "changed"


@dataclass(frozen=True, slots=True)
class IndicatorTest:
    """The colour of an indicator stop bath."""

    colour: Colour
    since: Load = NOTHING
    source: str = INDICATOR_SOURCE


class Judged(StrEnum):
    """What a person makes of a bath."""

    GOOD = "good"
    NEAR_ITS_END = "near_its_end"
    EXHAUSTED = "exhausted"


@dataclass(frozen=True, slots=True)
class PersonsVerdict:
    """A person's own judgement, from smell, colour, precipitate or a test not listed here."""

    judged: Judged
    since: Load = NOTHING
    source: str = VERDICT_SOURCE


@dataclass(frozen=True, slots=True)
class GravityTest:
    """Specific gravity against what the working solution may show; outside, it was mixed wrong. [-]"""

    gravity: float
    lowest: float
    highest: float
    source: str
    since: Load = NOTHING

    def __post_init__(self) -> None:
        check_between("gravity", self.gravity, 0.5, 3)
        check_between("lowest", self.lowest, 0.5, self.highest)


@dataclass(frozen=True, slots=True)
class SilverTest:
    """Silver in a fixer, by a strip of test paper, against the most it may hold. [g/L]"""

    grams_per_litre: float
    most: float
    source: str
    since: Load = NOTHING

    def __post_init__(self) -> None:
        check_between("grams_per_litre", self.grams_per_litre, 0, 100, "g/L")
        check_above("most", self.most, 0, 100, "g/L")


@dataclass(frozen=True, slots=True)
class StripTest:
    """A control strip: what of it lies outside its limits, and whether the strip before it said the same."""

    outside: tuple[str, ...]
    is_confirmed: bool = False
    since: Load = NOTHING
    source: str = STRIP_SOURCE


class Stain(StrEnum):
    """What a drop leaves on the blotted margin of a finished piece."""

    NONE = "none"
    FAINT = "faint tint"
    PLAIN = "plain stain"


@dataclass(frozen=True, slots=True)
class StainTest:
    """Silver left in a piece that was fixed in the bath, by the stain of a drop."""

    stain: Stain
    since: Load = NOTHING
    source: str = STAIN_SOURCE


Check = ClearingTest | PhTest | IndicatorTest | PersonsVerdict | GravityTest | SilverTest | StripTest | StainTest


class NotForPaper(CalculationError):
    """A clearing test was entered for a bath that takes no film; paper cannot be seen to clear."""

    def __str__(self) -> str:
        return "paper cannot be seen to clear, so a clearing time says nothing about a bath used for paper only"


@dataclass(eq=False)
class DoubledRule(CalculationError):
    """Two capacities for one material, or two keeping times for one holding: which one counts?"""

    about: Material | Holding

    def __str__(self) -> str:
        return f"two rules are set for {self.about}; keep one"


@dataclass(frozen=True, slots=True, kw_only=True)
class BathFacts:
    """All that is known of a bath.

    `total_ul` is every microlitre of working solution ever put in: the first fill and every replenishment, less
    nothing. `used` is what has gone through since the bath was mixed. `held_hours` says how long it stood where; left
    empty, only the work is asked about, as in a sum at the bench. `lacks_second_bath` is said of one of two baths that
    took the first place with no other behind it; `is_one_shot` of one that is used for one piece of work and dumped.
    """

    materials: frozenset[Material]
    total_ul: int
    used: Load = NOTHING
    areas: tuple[AreaCapacity, ...] = ()
    pieces: PieceCapacity | None = None
    ages: tuple[AgeLimit, ...] = ()
    held_hours: Mapping[Holding, float] = field(default_factory=dict)
    checks: tuple[Check, ...] = ()
    lacks_second_bath: bool = False
    is_one_shot: bool = False

    def __post_init__(self) -> None:
        check_above("total_ul", self.total_ul, 0, None, "µL")
        for hours in self.held_hours.values():
            check_between("held_hours", hours, 0, None, "h")
        about = [rule.material for rule in self.areas] + [rule.holding for rule in self.ages]
        for subject in about:
            if about.count(subject) > 1:
                raise DoubledRule(subject)
        if Material.FILM not in self.materials and any(isinstance(check, ClearingTest) for check in self.checks):
            raise NotForPaper

    @property
    def litres(self) -> Fraction:
        """Working solution ever put in. [L]"""
        return Fraction(self.total_ul, 1_000_000)

    def capacity_mm2(self, material: Material) -> Fraction | None:
        """Return the area of a material that the whole bath takes, or None where no capacity is set.

        Parameters:
            material: Film, RC or fibre. [-]
        Returns:
            Area, exact. [mm²]
        Source:
            Capacity per litre times litres.
        """
        for rule in self.areas:
            if rule.material is material:
                return rule.mm2_per_litre * self.litres
        return None

    @property
    def without_keeping_time(self) -> tuple[Holding, ...]:
        """Where it stood for which no keeping time is set."""
        limited = {rule.holding for rule in self.ages}
        return tuple(holding for holding in self.held_hours if holding not in limited)

    @property
    def capacity_pieces(self) -> Fraction | None:
        """Pieces the whole bath takes, or None where none is set. [-]"""
        return self.pieces.pieces_per_litre * self.litres if self.pieces else None

    def with_load(self, load: Load) -> "BathFacts":
        """Return the facts as they would stand after one more load; checks then date from before it.

        Parameters:
            load: What would go through. [mm², -]
        Returns:
            The facts after it. [-]
        Source:
            Definition.
        """
        checks = tuple(replace(check, since=check.since + load) for check in self.checks)
        return replace(self, used=self.used + load, checks=checks)
