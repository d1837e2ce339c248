"""What a solution can do to a person: the one answer that every page, paper and act asks for.

The supplier's SDS wins for what is in the bottle. For a dilution the calculation serves, as an estimate that says so;
where it cannot be made, the dilution is handled as the product it comes from.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache

from .errors import HazardsError
from .label import LabelElements, from_h_codes, label_elements
from .mixtures import Alternative, Choice, Classification, Ingredient, classify, dilute, settle, strength_by_mass
from .mixtures.health import sensitises_airways, sensitises_skin
from .nations import Rules
from .protective import Advice, advice_for

# Statements that tell of a sensitiser by themselves, EUH208 for one below its own limit: CLP Annexes II and III.
SKIN_SENSITISER_CODES = frozenset({"H317", "EUH203", "EUH205", "EUH208"})
RESPIRATORY_SENSITISER_CODES = frozenset({"H334", "EUH204"})
SENSITISER_CODES = SKIN_SENSITISER_CODES | RESPIRATORY_SENSITISER_CODES

_G_PER_KG = 1_000
_KEPT = 4_096  # solutions; a busy lab has some hundreds


class Basis(StrEnum):
    """How the hazards of a solution are known."""

    SDS = "the supplier's SDS, as entered"
    CALCULATED = "estimate, calculated from the ingredients of the SDS"
    AS_SUPPLIED = "those of the undiluted product: the dilution could not be worked out"


@dataclass(frozen=True)
class Concentrate:
    """A product as its SDS describes it; what is not stated is None. The high end of each ingredient's range counts.

    `choices` are the readings people chose where two careful people may differ, by dilution. `unreadable` says which
    ingredient's class or limit cannot be calculated with.
    """

    name: str
    h_codes: tuple[str, ...]
    ingredients: tuple[Ingredient, ...]
    density_g_per_ml: float | None = None
    powder_g_per_l: float | None = None
    choices: tuple[tuple[int, tuple[str, str], Choice], ...] = ()
    unreadable: str = ""
    rules: Rules = Rules.GB

    @property
    def is_powder(self) -> bool:
        """Whether it is weighed out rather than poured."""
        return self.powder_g_per_l is not None

    @property
    def skin_sensitisers(self) -> tuple[str, ...]:
        """What in it can make skin allergic, at whatever content; the product itself where only its codes say so."""
        return self._sensitisers(
            SKIN_SENSITISER_CODES, (part.name for part in self.ingredients if sensitises_skin(part))
        )

    @property
    def respiratory_sensitisers(self) -> tuple[str, ...]:
        """What in it can make airways allergic, at whatever content; the product itself where only its codes say so."""
        named = (part.name for part in self.ingredients if sensitises_airways(part))
        return self._sensitisers(RESPIRATORY_SENSITISER_CODES, named)

    @property
    def sensitisers(self) -> tuple[str, ...]:
        """Both kinds."""
        return tuple(dict.fromkeys((*self.skin_sensitisers, *self.respiratory_sensitisers)))

    def _sensitisers(self, codes: frozenset[str], named: Iterable[str]) -> tuple[str, ...]:
        return tuple(dict.fromkeys(named)) or ((self.name,) if codes & set(_single(self.h_codes)) else ())


@dataclass(frozen=True)
class SolutionHazards:
    """What a product, or a dilution of it, can do to a person, and what keeps people safe.

    `working` holds protection for working in it, `pouring` for pouring and mixing the product it comes from.
    `classification` with its reasons is None where the SDS speaks; `alternatives` are the second readings there are.
    `ingredients` stand at their content in the solution.
    """

    label: LabelElements
    basis: Basis
    pouring: Advice
    working: Advice
    skin_sensitisers: tuple[str, ...]
    respiratory_sensitisers: tuple[str, ...]
    h_codes: tuple[str, ...]
    euh_codes: tuple[str, ...]
    ingredients: tuple[Ingredient, ...]
    assumptions: tuple[str, ...] = ()
    why_as_supplied: str = ""
    classification: Classification | None = None
    alternatives: tuple[Alternative, ...] = ()

    @property
    def is_classified(self) -> bool:
        """Whether it has a hazard class."""
        return bool(self.label.hazard_statements)

    @property
    def statements(self) -> tuple[tuple[str, str], ...]:
        """Hazard statements and supplemental ones, code and text."""
        return (*self.label.hazard_statements, *self.label.euh_statements)

    @property
    def open_points(self) -> tuple[str, ...]:
        """What could not be worked out."""
        return self.classification.open_points if self.classification else ()

    @property
    def sensitisers(self) -> tuple[str, ...]:
        """Sensitisers of skin and airways present at any strength."""
        return tuple(dict.fromkeys((*self.skin_sensitisers, *self.respiratory_sensitisers)))


@lru_cache(maxsize=_KEPT)
def solution_hazards(concentrate: Concentrate, *, water_parts_milli: int | None) -> SolutionHazards:
    """Return what a product or a dilution of it can do to a person.

    Parameters:
        concentrate: The product as its SDS describes it. [-]
        water_parts_milli: N of 1 + N by volume, in thousandths; None for the product as supplied. [-]
    Returns:
        Hazards, protection, and how they are known. [-]
    Raises:
        HazardsError: A code of the SDS cannot be read.
    """
    if water_parts_milli is None:
        return _as_supplied(concentrate)
    if concentrate.unreadable:
        return _as_supplied(concentrate, why=concentrate.unreadable)
    if concentrate.h_codes and not concentrate.ingredients:
        return _as_supplied(concentrate, why="no ingredients are entered")
    try:
        return _calculated(concentrate, water_parts_milli=water_parts_milli)
    except HazardsError as error:
        return _as_supplied(concentrate, why=str(error).rstrip("."))


def strength_fraction(concentrate: Concentrate, *, water_parts_milli: int) -> float:
    """Return the mass of the product in a working solution over the mass of the whole.

    Parameters:
        concentrate: The product; without a density a litre of it is taken to weigh a kilogram. [-]
        water_parts_milli: N of 1 + N by volume, in thousandths. [-]
    Returns:
        The fraction, at most 1. [-]
    """
    volume_fraction = 1_000 / (1_000 + water_parts_milli)
    if concentrate.powder_g_per_l is not None:
        return min(volume_fraction * concentrate.powder_g_per_l / _G_PER_KG, 1.0)
    density = 1.0 if concentrate.density_g_per_ml is None else concentrate.density_g_per_ml
    return min(strength_by_mass(volume_fraction=volume_fraction, density_g_per_ml=density), 1.0)


def _as_supplied(concentrate: Concentrate, *, why: str = "") -> SolutionHazards:
    euh = tuple(code for code in concentrate.h_codes if code.startswith("EUH"))
    codes = tuple(code for code in concentrate.h_codes if not code.startswith("EUH"))
    pouring = _pouring(concentrate)
    return SolutionHazards(
        label=from_h_codes(
            concentrate.h_codes,
            names=tuple(part.name for part in concentrate.ingredients),
            sensitisers=concentrate.sensitisers,
            rules=concentrate.rules,
        ),
        basis=Basis.AS_SUPPLIED if why else Basis.SDS,
        pouring=pouring,
        working=pouring,
        skin_sensitisers=concentrate.skin_sensitisers,
        respiratory_sensitisers=concentrate.respiratory_sensitisers,
        h_codes=codes,
        euh_codes=euh,
        ingredients=concentrate.ingredients,
        why_as_supplied=why,
    )


def _calculated(concentrate: Concentrate, *, water_parts_milli: int) -> SolutionHazards:
    strength = strength_fraction(concentrate, water_parts_milli=water_parts_milli)
    parts = dilute(concentrate.ingredients, strength_fraction=strength)
    found = classify(parts, rules=concentrate.rules)
    settled = settle(found, parts, choices=_choices(concentrate, water_parts_milli=water_parts_milli))
    euh = tuple(each.code for each in (*settled.euh, *settled.screening))
    return SolutionHazards(
        label=label_elements(settled, rules=concentrate.rules),
        basis=Basis.CALCULATED,
        pouring=_pouring(concentrate),
        working=advice_for(h_codes=settled.h_codes, euh_codes=euh, sensitisers=concentrate.sensitisers),
        skin_sensitisers=concentrate.skin_sensitisers,
        respiratory_sensitisers=concentrate.respiratory_sensitisers,
        h_codes=settled.h_codes,
        euh_codes=euh,
        ingredients=parts,
        assumptions=_assumptions(concentrate),
        classification=settled,
        alternatives=found.alternatives,
    )


def _pouring(concentrate: Concentrate) -> Advice:
    codes = concentrate.h_codes
    return advice_for(
        h_codes=tuple(code for code in codes if not code.startswith("EUH")),
        euh_codes=tuple(code for code in codes if code.startswith("EUH")),
        sensitisers=concentrate.sensitisers,
        is_powder=concentrate.is_powder,
    )


def _choices(concentrate: Concentrate, *, water_parts_milli: int) -> Mapping[tuple[str, str], Choice]:
    """The readings chosen for this dilution; the newest choice counts."""
    return {key: choice for milli, key, choice in concentrate.choices if milli == water_parts_milli}


def _assumptions(concentrate: Concentrate) -> tuple[str, ...]:
    if concentrate.is_powder:
        return ("A litre of the working solution is taken to weigh a kilogram.",)
    if concentrate.density_g_per_ml is None:
        return ("No density is entered: a litre of the product is taken to weigh a kilogram.",)
    return ()


def _single(codes: Iterable[str]) -> Iterable[str]:
    return (code for joined in codes for code in joined.split("+"))
