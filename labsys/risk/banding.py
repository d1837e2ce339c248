"""Control banding of one product as it is handled in a task, and its reasoning in lines.

The figures are those of `labsys.hazards.banding`. What an assessor chooses instead stands beside the calculated
approach and never in its place.
"""

from collections.abc import Sequence
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
class Banded:
    """What banding gives. `skin_and_eyes` holds for any sensitiser too, at whatever strength."""

    band: HazardBand
    amount: Amount
    approach: Approach
    skin_and_eyes: bool


def banded(*, codes: Sequence[str], sensitisers: Sequence[str] = (), amount: int, unit: Unit, spread: Spread) -> Banded:
    """Return the hazard group, the amount band and the control approach of a product as it is handled.

    Parameters:
        codes: Hazard statements of the product as handled. [-]
        sensitisers: Those present at any strength, by name. [-]
        amount: Handled in one go, from 0. [µL or mg, as `unit` says]
        unit: Microlitres of a liquid or milligrams of a solid. [-]
        spread: How it gets into the air. [-]
    Returns:
        Group, amount band, approach 1 to 4, and whether skin and eyes need care of their own. [-]
    Raises:
        UnknownStatement: A code is on no list.
        OutOfRange: A negative amount.
    Source:
        `labsys.hazards.banding`; that a sensitiser keeps skin protection at any strength: HSE advice, from memory.

    >>> banded(codes=["H314"], amount=500_000, unit=Unit.UL, spread=Spread.MEDIUM_VAPOUR).approach.number
    2
    """
    band = hazard_band(codes)
    if unit is Unit.UL:
        amount_band = amount_of_liquid(total_ml=amount / UL_PER_ML)
    else:
        amount_band = amount_of_solid(grams=amount / MG_PER_G)
    approach = control_approach(band=band, amount=amount_band, spread=spread)
    return Banded(band, amount_band, approach, band.skin_and_eyes or bool(sensitisers))


def reasoning(row: AssessedSubstance) -> tuple[str, ...]:
    """Return how the calculated approach was arrived at, a sentence a line."""
    lines = [
        f"{_group(row)} {row.codes_from}",
        f"Amount: {show(row.amount, row.unit)} in one go is {row.amount_band} ({_BOUNDS[row.unit, row.amount_band]}).",
        f"Into the air: {row.spread}. {row.spread_from}",
        f"Calculated: approach {row.approach}. {approach_in_words(row.approach)}.",
    ]
    if row.sensitisers:
        lines.append(
            f"Skin and eyes in addition: {row.sensitisers} can make skin allergic, so tongs or gloves stay at any "
            "strength."
        )
    elif row.skin_and_eyes:
        lines.append("Skin and eyes in addition, whatever the approach: it harms by contact.")
    return tuple(lines)


def verdict(row: AssessedSubstance) -> str:
    """Say which approach holds; where the assessor chose another than was calculated, both are said, with the reason.

    The calculated approach is never left out.
    """
    if row.chosen_approach is None:
        return f"Approach {row.approach}, as calculated. {approach_in_words(row.approach)}."
    chooser = row.chosen_by.name if row.chosen_by else "the assessor"
    return (
        f"Approach {row.chosen_approach}, chosen by {chooser} where approach {row.approach} was calculated. "
        f"{approach_in_words(row.chosen_approach)}. Reason: {row.chosen_because}"
    )


def code_words(code: str, *, names: str = "") -> str:
    """Return a code with its words; `names` fill the blank of a statement that names a substance.

    >>> code_words("H319")
    'H319 Causes serious eye irritation.'
    """
    try:
        return f"{code} {printed_text(code)}"
    except UnresolvedStatement:
        return f"{code} {printed_text(code, fills=(names or 'a substance',))}"


def _group(row: AssessedSubstance) -> str:
    if not row.codes:
        return f"Hazard group {row.hazard_group}: not classified as hazardous."
    if row.hazard_group == "A":
        return f"Hazard group A: none of {row.codes} puts it higher."
    deciding = "; ".join(code_words(code, names=row.sensitisers).rstrip(".") for code in row.deciding.split())
    return f"Hazard group {row.hazard_group}, decided by {deciding}."
