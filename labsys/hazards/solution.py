"""What a solution can do to a person: the one answer that every page, paper and act asks for.

The supplier's SDS wins for what is in the bottle. For a dilution the calculation serves, as an estimate that says so;
where it cannot be made, the dilution is handled as the product it comes from.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import lru_cache
from typing import TypedDict

from .classes import classes_for_code
from .concentrate import Concentrate, is_strong_organic_acid, single_codes
from .density import strength_ends
from .disagreement import FLAMMABLE, Disagreement, disagreements
from .errors import HazardsError
from .label import LabelElements, from_h_codes, gas_cautions, label_elements
from .mixtures import Alternative, Choice, Classification, Ingredient, classify, dilute, settle, strictest
from .mixtures.acute import unknown_notices, unknown_part
from .mixtures.classify import NOTHING
from .mixtures.corrosion import PhAnswer, is_extreme
from .mixtures.model import Reason
from .mixtures.supplements import gas_screening
from .not_known import is_of_health, may_be_extreme, open_points_of, unexplained_points
from .protective import Advice, Task, advice_for
from .spans import Span
from .working_ph import working_ph

_ANSWERS_A_PH = frozenset({"H314", "H315", "H318", "H319"})  # whoever says one of these has looked at skin and eyes
_DECIDED_BY_PH = "Its pH is extreme, and nothing that its supplier says of skin and eyes answers that: taken as H314."
_BY_INGREDIENTS = "Nobody has entered what the SDS classifies it as: taken as what its ingredients come to."
_NOTHING_STATED = "Nobody has entered what the SDS says of it: not known, so handled as if it could blind."

_FLAMMABLE_TO_CELSIUS = 60.0  # CLP Annex I Table 2.6.1, from memory
_KEPT = 4_096  # solutions; a busy lab has some hundreds


class Basis(StrEnum):
    """How the hazards of a solution are known."""

    SDS = "the supplier's SDS, as entered"
    CALCULATED = "estimate, calculated from the ingredients of the SDS"
    AS_SUPPLIED = "those of the undiluted product: the dilution could not be worked out"
    NOT_STATED = "not known: nobody has entered what the SDS says"


@dataclass(frozen=True)
class SolutionHazards:
    """What a product, or a dilution of it, can do to a person, and what keeps people safe.

    `working` holds protection for working in it, `pouring` for pouring and mixing the product it comes from.
    `classification` with its reasons is None where the SDS speaks; `alternatives` are the second readings there are.
    `ingredients` stand at their content in the solution; `notices` are what a label declares of unknown ones. As
    supplied the SDS speaks, `beside` is what its ingredients come to, and `disagreements` are where the two differ.
    `handled_as` are the codes that protection is chosen by though they are only not ruled out.
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
    notices: tuple[str, ...] = ()
    assumptions: tuple[str, ...] = ()
    why_as_supplied: str = ""
    handled_as: tuple[str, ...] = ()
    classification: Classification | None = None
    alternatives: tuple[Alternative, ...] = ()
    beside: Classification | None = None
    disagreements: tuple[Disagreement, ...] = ()

    def working_as(self, task: Task) -> Advice:
        """Protection and cautions for one way of working in it, as in a tank or a tray."""
        if self.classification is None:
            return self.working
        return advice_for(
            h_codes=self.protective_codes,
            euh_codes=self.euh_codes,
            sensitisers=self.sensitisers,
            task=task,
            burns_through_nitrile=is_strong_organic_acid(self.ingredients),
        )

    @property
    def protective_codes(self) -> tuple[str, ...]:
        """The H-codes that protection is chosen by: what it is classified as, and what nobody has ruled out."""
        return (*self.h_codes, *self.handled_as)

    @property
    def is_classified(self) -> bool:
        """Whether it has a hazard class."""
        return bool(self.label.hazard_statements)

    @property
    def is_mild_by_calculation(self) -> bool:
        """Whether the calculation gives it no hazard class; without ingredients it gives no result at all."""
        return self.classification is not None and bool(self.ingredients) and not self.is_classified

    @property
    def is_not_known(self) -> bool:
        """Whether nobody has entered what it can do."""
        return self.basis is Basis.NOT_STATED

    @property
    def statements(self) -> tuple[tuple[str, str], ...]:
        """Hazard statements and supplemental ones, code and text."""
        return (*self.label.hazard_statements, *self.label.euh_statements)

    @property
    def open_points(self) -> tuple[str, ...]:
        """What could not be worked out."""
        return self.classification.open_points if self.classification else ()

    @property
    def not_known(self) -> tuple[str, ...]:
        """What page, label and sheet tell of what nobody stated: open points first, then what was assumed."""
        return (*self.open_points, *self.assumptions)

    @property
    def declared_unknown(self) -> tuple[str, ...]:
        """The same for papers without room for supplemental statements of their own: those of unknown toxicity too."""
        return (*self.notices, *self.not_known)

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
    if not concentrate.ingredients and (concentrate.h_codes or not concentrate.is_declared):
        return _as_supplied(concentrate, why="no ingredients are entered")
    if concentrate.h_codes and water_parts_milli == 0 and not concentrate.is_powder:
        return _as_supplied(concentrate)  # the very liquid that the supplier classified
    try:
        return _calculated(concentrate, water_parts_milli=water_parts_milli)
    except HazardsError as error:
        return _as_supplied(concentrate, why=str(error).rstrip("."))


def strengths(concentrate: Concentrate, *, water_parts_milli: int) -> Span:
    """Return the mass of the product in a working solution over the mass of the whole, by either end of its density.

    Parameters:
        concentrate: The product. [-]
        water_parts_milli: N of 1 + N by volume, in thousandths. [-]
    Returns:
        The least and the most, at most 1. [-]
    """
    ends = [strength for _, strength in _strength_ends(concentrate, water_parts_milli)]
    return Span(min(ends), max(ends))


def _strength_ends(concentrate: Concentrate, water_parts_milli: int) -> tuple[tuple[str, float], ...]:
    return strength_ends(
        water_parts_milli=water_parts_milli, density=concentrate.density, powder_g_per_l=concentrate.powder_g_per_l
    )


def _as_supplied(concentrate: Concentrate, *, why: str = "") -> SolutionHazards:
    declared = _supplied_codes(concentrate)
    euh = tuple(code for code in declared if code.startswith("EUH"))
    pouring = _pouring(concentrate)
    worked_out = None if why else _beside(concentrate)
    beside = worked_out if concentrate.is_declared else None
    notices = unknown_notices(_everything(concentrate))
    gases = () if why else gas_cautions(gas_screening(concentrate.ingredients, official=declared))
    label = from_h_codes(
        declared,
        names=tuple(part.name for part in concentrate.ingredients),
        sensitisers=concentrate.sensitisers,
        is_powder=concentrate.is_powder,
        rules=concentrate.rules,
    )
    return SolutionHazards(
        label=replace(label, supplemental=(*notices, *gases)),
        basis=_basis_as_supplied(concentrate, why=why),
        pouring=pouring,
        working=pouring,
        skin_sensitisers=concentrate.skin_sensitisers,
        respiratory_sensitisers=concentrate.respiratory_sensitisers,
        h_codes=_without_euh(declared),
        euh_codes=euh,
        ingredients=concentrate.ingredients,
        notices=notices,
        assumptions=_beyond_the_sds(concentrate),
        why_as_supplied=why,
        classification=None if concentrate.is_declared else worked_out,
        beside=beside,
        disagreements=disagreements(_without_euh(concentrate.h_codes), beside) if beside else (),
    )


def _without_euh(codes: Iterable[str]) -> tuple[str, ...]:
    return tuple(code for code in codes if not code.startswith("EUH"))


def _basis_as_supplied(concentrate: Concentrate, *, why: str) -> Basis:
    if concentrate.is_declared:
        return Basis.AS_SUPPLIED if why else Basis.SDS
    return Basis.CALCULATED if _supplied_codes(concentrate) else Basis.NOT_STATED


def _supplied_codes(concentrate: Concentrate) -> tuple[str, ...]:
    """The supplier's codes; while nobody has said what they are, those that its ingredients come to."""
    worked_out = None if concentrate.is_declared else _beside(concentrate)
    if worked_out is None:
        return (*concentrate.h_codes, *_by_its_ph(concentrate))
    return (*worked_out.h_codes, *(each.code for each in (*worked_out.euh, *worked_out.screening)))


def _beyond_the_sds(concentrate: Concentrate) -> tuple[str, ...]:
    """What is said of a product as supplied that its SDS does not say."""
    if not concentrate.is_declared:
        return (_BY_INGREDIENTS if concentrate.ingredients and not concentrate.unreadable else _NOTHING_STATED,)
    return (_DECIDED_BY_PH,) if _by_its_ph(concentrate) else ()


def _by_its_ph(concentrate: Concentrate) -> tuple[str, ...]:
    """H314 for a liquid whose own pH is extreme, unless what the supplier says of skin and eyes answers it."""
    span = dict(concentrate.ph).get(0)
    if concentrate.is_powder or span is None or not any(is_extreme(end) for end in span.ends):
        return ()
    return () if _ANSWERS_A_PH & set(single_codes(concentrate.h_codes)) else ("H314",)


def _answer_to(ph: float | None, concentrate: Concentrate) -> PhAnswer | None:
    """What the supplier says that answers the pH of a dilution: a class milder than corrosive at a pH no milder."""
    supplied = dict(concentrate.ph).get(0)
    said = sorted(_ANSWERS_A_PH & set(single_codes(concentrate.h_codes)))
    if ph is None or supplied is None or not said or "H314" in said:
        return None
    if not any(is_extreme(end) and (end - 7) * (ph - 7) > 0 and abs(end - 7) >= abs(ph - 7) for end in supplied.ends):
        return None
    words = f"the supplier states pH {supplied} for the product and classifies it {' '.join(said)}, not H314"
    return PhAnswer(words, tuple(classes_for_code(code)[0] for code in said))


def _beside(concentrate: Concentrate) -> Classification | None:
    """What the ingredients of a product come to, undiluted; None where none are entered or they cannot be read."""
    if concentrate.unreadable or not concentrate.ingredients:
        return None
    parts, span = _everything(concentrate), dict(concentrate.ph).get(0)
    ends = span.ends if span and not concentrate.is_powder else (None,)
    known = _known_of_mixture(concentrate, is_diluted=False)
    return strictest({f"pH {end}": classify(parts, ph=end, rules=concentrate.rules, **known) for end in ends})


def _calculated(concentrate: Concentrate, *, water_parts_milli: int) -> SolutionHazards:
    """Work every end of what is stated; the strictest result of each class stands."""
    ph = working_ph(dict(concentrate.ph), water_parts_milli=water_parts_milli)
    choices = _choices(concentrate, water_parts_milli=water_parts_milli)
    known = _known_of_mixture(concentrate, is_diluted=water_parts_milli > 0)
    worked: dict[str, Classification] = {}
    alternatives: list[Alternative] = []
    mixtures = [
        (end, dilute(_everything(concentrate), strength_fraction=strength))
        for end, strength in _strength_ends(concentrate, water_parts_milli)
    ]
    _, strongest = mixtures[0]
    for end, parts in mixtures:
        for ph_end in ph.span.ends if ph and ph.span else (None,):
            answer = _answer_to(ph_end, concentrate)
            found = classify(parts, ph=ph_end, ph_answer=answer, rules=concentrate.rules, **known)
            at = ", ".join(filter(None, (end, "" if ph_end is None else f"pH {ph_end:g}")))
            if parts is strongest:
                alternatives += [each for each in found.alternatives if each not in alternatives]
                worked[at] = settle(found, parts, choices=choices)
            else:  # what is chosen for the heavier end holds for the lighter
                worked[at] = settle(found, parts, choices=_by_rule(choices, found.alternatives))
    settled = strictest(worked)
    if not strongest:  # nothing is entered to reach a cut-off, or not to
        settled = replace(settled, reasons=tuple(each for each in settled.reasons if each.topic != NOTHING))
    if ph is not None:
        settled = replace(settled, reasons=(*settled.reasons, Reason("pH", ph.told)))
    flash_point = concentrate.flash_point_celsius if water_parts_milli > 0 else None
    open_points = open_points_of(settled, strongest, ph=ph, flash_point_celsius=flash_point)
    unexplained = _unexplained(concentrate)
    settled = replace(settled, open_points=(*unexplained_points(unexplained), *open_points))
    euh = tuple(each.code for each in (*settled.euh, *settled.screening))
    not_ruled_out = [row.declared for row in unexplained if is_of_health(row)]
    burns = ["H314"] if may_be_extreme(settled, strongest, ph=ph) else []
    handled_as = tuple(code for code in dict.fromkeys([*burns, *not_ruled_out]) if code not in settled.h_codes)
    return SolutionHazards(
        label=label_elements(settled, is_worked_out=bool(strongest), rules=concentrate.rules),
        basis=Basis.CALCULATED,
        pouring=_pouring(concentrate),
        working=advice_for(
            h_codes=(*settled.h_codes, *handled_as),
            euh_codes=euh,
            sensitisers=concentrate.sensitisers,
            burns_through_nitrile=is_strong_organic_acid(strongest),
        ),
        skin_sensitisers=concentrate.skin_sensitisers,
        respiratory_sensitisers=concentrate.respiratory_sensitisers,
        h_codes=settled.h_codes,
        euh_codes=euh,
        ingredients=strongest,
        notices=settled.notices,
        assumptions=_assumptions(concentrate, water_parts_milli=water_parts_milli),
        handled_as=handled_as,
        classification=settled,
        alternatives=tuple(alternatives),
    )


def _unexplained(concentrate: Concentrate) -> list[Disagreement]:
    """What the supplier declares of the product and nothing entered of its ingredients explains."""
    beside = _beside(concentrate)
    rows = disagreements(_without_euh(concentrate.h_codes), beside) if beside else ()
    return [row for row in rows if not row.calculated]


def _by_rule(
    choices: Mapping[tuple[str, str], Choice], alternatives: Iterable[Alternative]
) -> dict[tuple[str, str], Choice]:
    """What was chosen by a rule, for the outcome the same rule has at another end."""
    chosen = {rule: choice for (rule, _), choice in choices.items()}
    return {each.key: chosen[each.rule] for each in alternatives if each.rule in chosen}


def _everything(concentrate: Concentrate) -> tuple[Ingredient, ...]:
    """The ingredients, and the share of which the SDS says only that nobody knows how poisonous it is."""
    share = concentrate.unknown_toxicity_percent
    return (*concentrate.ingredients, unknown_part(share)) if share else concentrate.ingredients


class _Measured(TypedDict):
    flash_point_celsius: float | None
    viscosity_mm2_s: float | None


def _known_of_mixture(concentrate: Concentrate, *, is_diluted: bool) -> _Measured:
    """What was measured of the product and holds for the mixture: water only raises a flash point, and thins."""
    flash = concentrate.flash_point_celsius
    return {
        "flash_point_celsius": None if is_diluted and flash is not None and flash <= _FLAMMABLE_TO_CELSIUS else flash,
        "viscosity_mm2_s": None if is_diluted else concentrate.viscosity_mm2_s,
    }


def _pouring(concentrate: Concentrate) -> Advice:
    codes = _supplied_codes(concentrate)
    return advice_for(
        h_codes=(*_without_euh(codes), *_flammable_by_its_flash_point(concentrate)),
        euh_codes=tuple(code for code in codes if code.startswith("EUH")),
        sensitisers=concentrate.sensitisers,
        is_powder=concentrate.is_powder,
        task=Task.POURING,
        burns_through_nitrile=concentrate.burns_through_nitrile,
        is_stated=concentrate.is_stated,
    )


def _flammable_by_its_flash_point(concentrate: Concentrate) -> tuple[str, ...]:
    """The flammable class of a flash point that its supplier states without the class."""
    beside, declared = _beside(concentrate), single_codes(concentrate.h_codes)
    if beside is None or any(code in FLAMMABLE for code in declared):
        return ()
    return tuple(code for code in beside.h_codes if code in FLAMMABLE)


def _choices(concentrate: Concentrate, *, water_parts_milli: int) -> Mapping[tuple[str, str], Choice]:
    """The readings chosen for this dilution; the newest choice counts."""
    return {key: choice for milli, key, choice in concentrate.choices if milli == water_parts_milli}


def _assumptions(concentrate: Concentrate, *, water_parts_milli: int) -> tuple[str, ...]:
    if concentrate.is_powder:
        return ("A litre of the working solution is taken to weigh a kilogram.",)
    if water_parts_milli > 0 and concentrate.density.assumed:
        return (concentrate.density.assumed,)
    return ()
