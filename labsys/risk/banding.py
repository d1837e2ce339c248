"""Control banding of one product as it is handled in a task, and its reasoning in lines.

The figures are those of `labsys.hazards.banding`. What an assessor chooses instead stands beside the calculated
approach and never in its place.
"""

from dataclasses import dataclass

from labsys.hazards.banding import (
    Amount,
    Approach,
    HazardBand,
    Spread,
    amount_of_liquid,
    amount_of_solid,
    approach_in_words,
    control_approach,
    hazard_band,
)
from labsys.hazards.errors import UnresolvedStatement
from labsys.hazards.statements import printed_text
from labsys.ledger.models import Unit
from labsys.ledger.rules import show
from labsys.quantities import MG_PER_G, UL_PER_ML
from labsys.risk.models import AssessedSubstance

SCREEN = (
    "Control banding is a screen: HSE, HSG193 “COSHH essentials” (1999), groups and table from memory. The assessor "
    "decides, and the supplier's SDS comes first."
)
_BOUNDS = {
    (Unit.UL, Amount.SMALL): "under 1 L",
    (Unit.UL, Amount.MEDIUM): "1 L to under 1 m³",
    (Unit.UL, Amount.LARGE): "1 m³ or more",
    (Unit.MG, Amount.SMALL): "under 1 kg",
    (Unit.MG, Amount.MEDIUM): "1 kg to under 1 t",
    (Unit.MG, Amount.LARGE): "1 t or more",
}


@dataclass(frozen=True)
class Handled:
    """A product as it is handled: its codes, the sensitisers in it, how much in one go, how it gets into the air."""

    codes: tuple[str, ...]
    sensitisers: tuple[str, ...]
    amount: int
    unit: Unit
    spread: Spread


@dataclass(frozen=True)
class Banded:
    """What banding gives. `skin_and_eyes` holds for any sensitiser too, at whatever strength."""

    band: HazardBand
    amount: Amount
    approach: Approach
    skin_and_eyes: bool


def banded(handled: Handled) -> Banded:
    """Return the hazard group, the amount band and the control approach of a product as it is handled.

    Parameters:
        handled: Codes, sensitisers, amount [µL or mg] and spread. [-]
    Returns:
        Group, amount band, approach 1 to 4, and whether skin and eyes need care of their own. [-]
    Raises:
        UnknownStatement: A code is on no list.
        OutOfRange: A negative amount.
    Source:
        `labsys.hazards.banding`; that a sensitiser keeps skin protection at any strength: HSE advice, from memory.

    >>> banded(Handled(("H314",), (), 500_000, Unit.UL, Spread.MEDIUM_VAPOUR)).approach.number
    2
    """
    band = hazard_band(handled.codes)
    if handled.unit is Unit.UL:
        amount = amount_of_liquid(total_ml=handled.amount / UL_PER_ML)
    else:
        amount = amount_of_solid(grams=handled.amount / MG_PER_G)
    approach = control_approach(band=band, amount=amount, spread=handled.spread)
    return Banded(band, amount, approach, band.skin_and_eyes or bool(handled.sensitisers))


def reasoning(one: AssessedSubstance) -> tuple[str, ...]:
    """Return how the calculated approach was arrived at, a sentence a line."""
    lines = [
        f"{_group(one)} {one.codes_from}",
        f"Amount: {show(one.amount, one.unit)} in one go is {one.amount_band} ({_BOUNDS[one.unit, one.amount_band]}).",
        f"Into the air: {one.spread}. {one.spread_from}",
        f"Calculated: approach {one.approach}. {approach_in_words(one.approach)}.",
    ]
    if one.sensitisers:
        lines.append(
            f"Skin and eyes in addition: {one.sensitisers} can make skin allergic, so tongs or gloves stay at any "
            "strength."
        )
    elif one.skin_and_eyes:
        lines.append("Skin and eyes in addition, whatever the approach: it harms by contact.")
    return tuple(lines)


def verdict(one: AssessedSubstance) -> str:
    """Say which approach holds; where the assessor chose another than was calculated, both are said, with the reason.

    The calculated approach is never left out.
    """
    if one.chosen_approach is None:
        return f"Approach {one.approach}, as calculated. {approach_in_words(one.approach)}."
    who = one.chosen_by.name if one.chosen_by else "the assessor"
    return (
        f"Approach {one.chosen_approach}, chosen by {who} where approach {one.approach} was calculated. "
        f"{approach_in_words(one.chosen_approach)}. Reason: {one.chosen_because}"
    )


def in_force(one: AssessedSubstance) -> int:
    """The number of the approach that holds."""
    return one.chosen_approach or one.approach


def code_words(code: str, *, names: str = "") -> str:
    """Return a code with its words; `names` fill the blank of a statement that names a substance.

    >>> code_words("H319")
    'H319 Causes serious eye irritation.'
    """
    try:
        return f"{code} {printed_text(code)}"
    except UnresolvedStatement:
        return f"{code} {printed_text(code, fills=(names or 'a substance',))}"


def _group(one: AssessedSubstance) -> str:
    if not one.codes:
        return f"Hazard group {one.hazard_group}: not classified as hazardous."
    if one.hazard_group == "A":
        return f"Hazard group A: none of {one.codes} puts it higher."
    said = "; ".join(code_words(code, names=one.sensitisers).rstrip(".") for code in one.deciding.split())
    return f"Hazard group {one.hazard_group}, decided by {said}."
