"""Classifying a mixture from its declared ingredients, and what dilution makes of them."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

from ..classes import severity_place
from ..errors import check_above, check_between
from ..nations import Rules
from .acute import acute_toxicity
from .corrosion import PhAnswer, skin_and_eye
from .health import aspiration, is_sensitiser, long_term, sensitisation, single_organs
from .model import Classification, Finding, Ingredient, Reason
from .straddling import on_the_limit
from .supplements import by_limit, corrodes_airways, gas_screening, left_to_judgement, sheet_on_request
from .surroundings import aquatic, physical

_WORSE_COUNTS = "Where there are worse data, in the SDS or elsewhere, they count."
NOTHING = "All"  # the topic of the reason where no rule had any
_WATER_G_PER_ML = 0.9982  # [g/mL at 20 °C]


def classify(
    ingredients: Sequence[Ingredient],
    *,
    ph: float | None = None,
    flash_point_celsius: float | None = None,
    boiling_point_celsius: float | None = None,
    viscosity_mm2_s: float | None = None,
    rules: Rules = Rules.GB,
    ph_answer: PhAnswer | None = None,
) -> Classification:
    """Classify a mixture by the calculation rules of CLP. An estimate; the supplier's sheet comes first.

    Every ingredient counts at the upper end of its content. A specific limit goes before the generic one; an ingredient
    below its cut-off is left out. What only a test can decide is listed as an open point, never guessed.

    Parameters:
        ingredients: The declared ingredients, a sequence; water and other harmless ones may be left out. [-]
        ph: Measured pH, or None. [-]
        flash_point_celsius: Measured or calculated flash point, or None. [°C]
        boiling_point_celsius: Initial boiling point, or None. [°C]
        viscosity_mm2_s: Kinematic viscosity at 40 °C, or None. [mm²/s]
        ph_answer: What says that an extreme pH does not make it corrosive, or None. [-]
        rules: Whose rules: the EU adds up boron compounds and names sensitisers sooner. [-]
    Returns:
        Classes with the working, alternatives, supplemental statements, names and open points. [-]
    Raises:
        OutOfRange: A pH outside -2 to 16.
    Source:
        Regulation (EC) No 1272/2008, Annexes I and II; each rule's module says which tables were read in print.
    """
    if ph is not None:
        check_between("ph", ph, -2, 16)
    worked = partial(
        _findings,
        ph=ph,
        flash_point_celsius=flash_point_celsius,
        boiling_point_celsius=boiling_point_celsius,
        viscosity_mm2_s=viscosity_mm2_s,
        ph_answer=ph_answer,
        rules=rules,
    )
    near = on_the_limit(ingredients, outcome_of=lambda parts: _outcome(worked(parts)))
    found = _together([Finding(open_points=near), *worked(ingredients)], ingredients)
    return replace(found, reasons=(*found.reasons, *_by_list(ingredients)))


def _by_list(ingredients: Sequence[Ingredient]) -> Iterator[Reason]:
    """What of the ingredients' classes is the reference list's floor, and which are minimum classifications."""
    for ingredient in ingredients:
        if ingredient.raised:
            yield Reason("Reference list", f"{ingredient.name}: {ingredient.raised}")
        if ingredient.minimum:
            marked = ", ".join(f"{hazard} *" for hazard in ingredient.minimum)
            yield Reason("Minimum classification", f"{ingredient.name}: {marked}. {_WORSE_COUNTS}")


def _findings(
    ingredients: Sequence[Ingredient],
    *,
    ph: float | None,
    flash_point_celsius: float | None,
    boiling_point_celsius: float | None,
    viscosity_mm2_s: float | None,
    ph_answer: PhAnswer | None,
    rules: Rules,
) -> list[Finding]:
    findings = [
        physical(ingredients, flash_point_celsius=flash_point_celsius, boiling_point_celsius=boiling_point_celsius),
        acute_toxicity(ingredients),
        skin_and_eye(ingredients, ph=ph, answer=ph_answer),
        sensitisation(ingredients, rules=rules),
        long_term(ingredients, rules=rules),
        single_organs(ingredients),
        aspiration(ingredients, viscosity_mm2_s=viscosity_mm2_s),
        aquatic(ingredients),
        by_limit(ingredients),
    ]
    classes = [hazard for finding in findings for hazard in finding.classes]
    findings.append(corrodes_airways(ingredients, classes, official=_euh_codes(findings)))
    findings.append(left_to_judgement(ingredients, given=_euh_codes(findings)))
    return findings if classes else [*findings, sheet_on_request(ingredients)]


def _euh_codes(findings: Sequence[Finding]) -> list[str]:
    return [supplement.code for finding in findings for supplement in finding.euh]


def _outcome(findings: Sequence[Finding]) -> list[str]:
    """Classes and statements; that a sheet can be had is no hazard."""
    classes = [str(hazard) for finding in findings for hazard in finding.classes]
    return classes + [code for code in _euh_codes(findings) if code != "EUH210"]


def _together(findings: Sequence[Finding], ingredients: Sequence[Ingredient]) -> Classification:
    classes = sorted((hazard for finding in findings for hazard in finding.classes), key=severity_place)
    euh = tuple(supplement for finding in findings for supplement in finding.euh)
    reasons = tuple(reason for finding in findings for reason in finding.reasons)
    first_named = [name for finding in findings for name in finding.names]
    also_named = [name for finding in findings for name in finding.also_named]
    return Classification(
        classes=tuple(classes),
        reasons=reasons or (Reason(NOTHING, "no declared ingredient reaches any cut-off"),),
        alternatives=tuple(alternative for finding in findings for alternative in finding.alternatives),
        euh=euh,
        screening=gas_screening(ingredients, official=[supplement.code for supplement in euh]),
        names=tuple(dict.fromkeys(first_named + also_named)),
        sensitisers=tuple(dict.fromkeys(i.name for i in ingredients if is_sensitiser(i))),
        open_points=tuple(point for finding in findings for point in finding.open_points),
        notices=tuple(notice for finding in findings for notice in finding.notices),
    )


def dilute(ingredients: Sequence[Ingredient], *, strength_fraction: float) -> tuple[Ingredient, ...]:
    """Return the ingredients of a working solution.

    Parameters:
        ingredients: Those of the undiluted solution, a sequence. [-]
        strength_fraction: Mass of undiluted solution in one part of the working solution, above 0 to 1. [-]
    Returns:
        The same ingredients, each at its share. [-]
    Raises:
        OutOfRange: The fraction is not above 0 and at most 1.
    """
    check_above("strength_fraction", strength_fraction, 0, 1)
    return tuple(
        replace(
            i,
            high_percent=round(i.high_percent * strength_fraction, 9),
            low_percent=None if i.low_percent is None else round(i.low_percent * strength_fraction, 9),
        )
        for i in ingredients
    )


def strength_by_mass(*, volume_fraction: float, density_g_per_ml: float) -> float:
    """Return the mass fraction of a concentrate that was measured by volume and made up with water.

    Concentrates are heavier than water, so 1+9 by volume is more than a tenth by mass.

    Parameters:
        volume_fraction: Volume of concentrate over volume of working solution, above 0 to 1. [-]
        density_g_per_ml: Density of the concentrate, above 0. [g/mL]
    Returns:
        The strength to hand to `dilute`; volumes are taken to add up. [-]
    Raises:
        OutOfRange: The fraction or density is outside its range.
    Source:
        Calculated from the masses; water 0.9982 g/mL at 20 °C.

    >>> round(strength_by_mass(volume_fraction=0.1, density_g_per_ml=1.2), 4)
    0.1178
    """
    check_above("volume_fraction", volume_fraction, 0, 1)
    check_above("density_g_per_ml", density_g_per_ml, 0, 20)
    concentrate = volume_fraction * density_g_per_ml
    return concentrate / (concentrate + (1 - volume_fraction) * _WATER_G_PER_ML)


@dataclass(frozen=True)
class Part:
    """One solution that goes into a mixture, and its share of the mass."""

    ingredients: tuple[Ingredient, ...]
    mass_fraction: float


def blend(parts: Sequence[Part]) -> tuple[Ingredient, ...]:
    """Return the ingredients of several solutions mixed together; what is missing to one is water.

    The same substance in two parts (same CAS number, or same name where there is none) is added up and keeps every
    class, limit and family that either part gives it, and the larger M-factor.

    Parameters:
        parts: The solutions with their mass fractions, a sequence. [-]
    Returns:
        The ingredients, in order of first appearance. [-]
    Raises:
        OutOfRange: A fraction is not above 0, or they exceed 1 together.
    """
    check_between("sum of mass fractions", round(sum(part.mass_fraction for part in parts), 9), 0, 1)
    blended: dict[str, Ingredient] = {}
    for part in parts:
        for ingredient in dilute(part.ingredients, strength_fraction=part.mass_fraction):
            key = ingredient.cas or ingredient.name
            blended[key] = _joined(blended[key], ingredient) if key in blended else ingredient
    return tuple(blended.values())


def _joined(first: Ingredient, second: Ingredient) -> Ingredient:
    return replace(
        first,
        high_percent=round(min(first.high_percent + second.high_percent, 100.0), 9),
        low_percent=_least_together(first, second),
        classes=tuple(dict.fromkeys(first.classes + second.classes)),
        euh=tuple(dict.fromkeys(first.euh + second.euh)),
        limits=tuple(dict.fromkeys(first.limits + second.limits)),
        families=first.families | second.families,
        m_acute=_larger(first.m_acute, second.m_acute),
        m_chronic=_larger(first.m_chronic, second.m_chronic),
        ates=tuple(dict.fromkeys(first.ates + second.ates)),
        unknown_toxicity=first.unknown_toxicity | second.unknown_toxicity,
        has_workplace_limit=first.has_workplace_limit or second.has_workplace_limit,
    )


def _least_together(first: Ingredient, second: Ingredient) -> float | None:
    """The lower ends together; None where neither is a range."""
    lows = [each.high_percent if each.low_percent is None else each.low_percent for each in (first, second)]
    return None if first.low_percent is None and second.low_percent is None else round(min(sum(lows), 100.0), 9)


def _larger(*factors: float | None) -> float | None:
    return max((factor for factor in factors if factor is not None), default=None)
