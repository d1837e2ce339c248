"""What goes into the classification of a mixture and what comes out of it."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from ..cas import check_cas
from ..classes import Family, HazardClass, read_class, severity_place
from ..errors import UnknownClass, check_above, check_between

_ROUNDING = 1e-9  # sums of decimal percentages in binary; far below one part per million
_LIMIT = re.compile(r"(?P<what>.+): (?:C>=(?P<only>[\d.]+)|(?P<low>[\d.]+)<=C<(?P<high>[\d.]+))")


class Route(StrEnum):
    """How a poison gets in. Inhaled ones are rated apart as gas, vapour, and dust or mist."""

    ORAL = "oral"
    DERMAL = "dermal"
    GAS = "gas"
    VAPOUR = "vapour"
    DUST_MIST = "dust or mist"


@dataclass(frozen=True)
class Ate:
    """An acute toxicity estimate in the unit of its route: mg/kg, mg/L (vapour, dust and mist) or ppmV (gas)."""

    route: Route
    value: float


@dataclass(frozen=True)
class SpecificLimit:
    """A content from which a named substance brings a class of its own accord, or a supplemental statement."""

    hazard: HazardClass
    from_percent: float

    def __str__(self) -> str:
        what = self.hazard.code if self.hazard.name == "EUH" else str(self.hazard)
        return f"{what}: C>={self.from_percent:g}"


@dataclass(frozen=True, kw_only=True)
class Ingredient:
    """One declared ingredient at the upper end of its content, with its supplier's classification.

    `low_percent` is the lower end where the content is a range; None where it is one figure.
    `is_by_list` says that nobody entered its classes, and those of the reference list stand in; `raised` says which of
    the list's stand because what was entered is milder, and `minimum` are those that the list prints with an asterisk.
    `unknown_toxicity` names the routes for which nothing is known; an ingredient without entry there and without an
    acute class is taken as not acutely toxic. `m_acute` and `m_chronic` are None when nobody has given a factor.
    """

    name: str
    high_percent: float
    low_percent: float | None = None
    cas: str | None = None
    classes: tuple[HazardClass, ...] = ()
    euh: tuple[str, ...] = ()
    limits: tuple[SpecificLimit, ...] = ()
    families: frozenset[Family] = frozenset()
    m_acute: float | None = None
    m_chronic: float | None = None
    ates: tuple[Ate, ...] = ()
    unknown_toxicity: frozenset[Route] = frozenset()
    is_by_list: bool = False
    raised: str = ""
    minimum: tuple[HazardClass, ...] = ()
    has_workplace_limit: bool = False

    def __post_init__(self) -> None:
        check_between("high_percent", self.high_percent, 0, 100)
        if self.low_percent is not None:
            check_between("low_percent", self.low_percent, 0, self.high_percent)
        if self.cas is not None:
            check_cas(self.cas)
        for hazard in self.classes:
            read_class(str(hazard))  # refuses what does not belong together
        for factor in (self.m_acute, self.m_chronic):
            if factor is not None:
                check_between("M-factor", factor, 1)
        for ate in self.ates:
            check_above(f"ATE {ate.route}", ate.value, 0)

    def has(self, *names: str) -> bool:
        """Say whether the ingredient itself carries one of these classes."""
        return any(hazard.name in names for hazard in self.classes)

    def hazards(self, name: str) -> tuple[HazardClass, ...]:
        """Return the ingredient's own classes of one name."""
        return tuple(hazard for hazard in self.classes if hazard.name == name)

    def lowest_limit(self, *names: str, categories: Iterable[str] | None = None, code: str = "") -> float | None:
        """Return the lowest specific limit for these classes, or None. [% w/w]"""
        limits = [
            limit.from_percent
            for limit in self.limits
            if limit.hazard.name in names
            and (categories is None or limit.hazard.category in categories)
            and (not code or limit.hazard.code == code)
        ]
        return min(limits, default=None)


@dataclass(frozen=True)
class Reason:
    """One line of the working: which hazard was looked at and what decided it."""

    topic: str
    text: str


@dataclass(frozen=True)
class Supplement:
    """A supplemental statement with the substances it names, and why it is due."""

    code: str
    names: tuple[str, ...]
    reason: str


@dataclass(frozen=True)
class Alternative:
    """What another accepted rule would give; the assessor picks one and puts the choice on record.

    Taken, it brings `gives` and `euh` instead of `instead_of`, and `names` go on the label. `hangs_on` names a fact
    that nobody has stated, where the two differ by that alone and not by how the rule is read.
    """

    rule: str
    outcome: str
    why: str
    gives: tuple[HazardClass, ...] = ()
    instead_of: tuple[HazardClass, ...] = ()
    names: tuple[str, ...] = ()
    euh: tuple[Supplement, ...] = ()
    hangs_on: str = ""

    @property
    def key(self) -> tuple[str, str]:
        """What a choice names: the rule, and what it would give."""
        return self.rule, self.outcome

    @property
    def calculated(self) -> str:
        """What stands where the alternative is not taken."""
        return ", ".join(map(str, self.instead_of)) or "no class, no statement"

    @property
    def is_stricter(self) -> bool:
        """Whether taking it would warn of more."""
        if not self.gives or not self.instead_of:
            return bool(self.gives or self.euh)
        return min(map(severity_place, self.gives)) < min(map(severity_place, self.instead_of))


@dataclass(frozen=True)
class Finding:
    """What one rule made of the mixture."""

    classes: tuple[HazardClass, ...] = ()
    reasons: tuple[Reason, ...] = ()
    alternatives: tuple[Alternative, ...] = ()
    names: tuple[str, ...] = ()
    open_points: tuple[str, ...] = ()
    notices: tuple[str, ...] = ()
    also_named: tuple[str, ...] = ()
    euh: tuple[Supplement, ...] = ()


@dataclass(frozen=True)
class Classification:
    """The calculated classification of a mixture. An estimate; the supplier's safety data sheet comes first.

    `reasons` is the working line by line. `alternatives` are results of other accepted rules. `screening` holds
    cautions that are not an official classification. `open_points` says what could not be worked out, and `notices`
    what the label has to declare. `sensitisers` are named at any strength, classified or not.
    """

    classes: tuple[HazardClass, ...]
    reasons: tuple[Reason, ...]
    alternatives: tuple[Alternative, ...]
    euh: tuple[Supplement, ...]
    screening: tuple[Supplement, ...]
    names: tuple[str, ...]
    sensitisers: tuple[str, ...]
    open_points: tuple[str, ...]
    notices: tuple[str, ...]

    @property
    def is_classified(self) -> bool:
        """True when the calculation gives at least one hazard class."""
        return bool(self.classes)

    @property
    def h_codes(self) -> tuple[str, ...]:
        """The hazard statements, each once, in the order of the classes."""
        return tuple(dict.fromkeys(hazard.code for hazard in self.classes))


def read_limit(text: str) -> SpecificLimit:
    """Read a specific concentration limit as the reference table writes it.

    Only the lower end is kept: a content above the band falls into the next, more severe one.

    Parameters:
        text: Such as `"Skin Irrit. 2 H315: 10<=C<25"` or `"EUH031: C>=5"`. [-]
    Returns:
        The class and the content from which it applies. [% w/w]
    Raises:
        UnknownClass: The text is not a class and a limit.

    >>> read_limit("Skin Irrit. 2 H315: 10<=C<25").from_percent
    10.0
    """
    match = _LIMIT.fullmatch(text.strip())
    if match is None:
        raise UnknownClass(text)
    what = match["what"]
    hazard = HazardClass("EUH", "", what) if what.startswith("EUH") else read_class(what)
    return SpecificLimit(hazard, float(match["only"] or match["low"]))


def reaches(content: float, limit: float) -> bool:
    """Say whether a content is at or above a limit; a hair below counts, as sums of decimals are not exact.

    Parameters:
        content: A content or a sum of contents. [% w/w]
        limit: The limit to reach. [% w/w]
    Returns:
        True from the limit on. [-]
    """
    return content >= limit - _ROUNDING


def total(contents: Iterable[float]) -> float:
    """Return a sum rounded to where decimal percentages are exact again.

    Parameters:
        contents: The terms. [% w/w]
    Returns:
        Their sum. [% w/w]
    """
    return round(sum(contents), 9)


def listing(ingredients: Iterable[Ingredient]) -> str:
    """Return "name content %" for each ingredient, for the lines of the working.

    Parameters:
        ingredients: Declared ingredients. [-]
    Returns:
        The words. [-]
    """
    return ", ".join(f"{ingredient.name} {ingredient.high_percent:.3g} %" for ingredient in ingredients)
