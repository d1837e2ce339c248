"""Decisions about products and bottles: what they may be, and what to measure out."""

from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from labsys.chemistry.dilution import Dilution, split_ul
from labsys.hazards.errors import UnknownStatement
from labsys.hazards.statements import statement
from labsys.ledger.models import Unit
from labsys.quantities import UL_PER_L
from labsys.records.errors import Refused


class ProductRefused(Refused):
    """The product cannot be kept or used so; the message says why and what to do."""


class BottleRefused(Refused):
    """The bottle cannot be used so; the message says why and what to do."""


@dataclass(frozen=True)
class Amounts:
    """What to measure out for a volume of working solution: from the bottle in its own unit, and water.

    For a powder, `water_ul` is the whole volume: it is made up to the mark.
    """

    from_bottle: int
    unit: Unit
    water_ul: int
    working_ul: int


def dilution_of_milli(water_parts_milli: int) -> Dilution:
    """Return the dilution kept as thousandths of a part of water."""
    return Dilution(Fraction(water_parts_milli, 1_000))


def milli_of_dilution(dilution: Dilution) -> int:
    """Return the thousandths of a part of water under which a dilution is kept.

    Raises ProductRefused when it is finer than a thousandth, which no cylinder could measure.
    """
    milli = dilution.water_parts * 1_000
    if milli.denominator != 1:
        raise ProductRefused(f"{dilution} is finer than a thousandth of a part. Round it.", field="dilution")
    return int(milli)


def amounts(*, dilution: Dilution, working_ul: int, powder_mg_per_l: int | None) -> Amounts:
    """Work out what to measure out for a volume of working solution.

    Parameters:
        dilution: 1 + N parts of water. [-]
        working_ul: Volume of working solution. [µL]
        powder_mg_per_l: Mass that makes a litre of undiluted solution, or None for a liquid. [mg/L]
    Returns:
        Amount from the bottle, and water. [µL or mg, µL]
    Raises:
        OutOfRange: The volume is out of range.
    Source:
        `labsys.chemistry.dilution`; a powder's mass goes with the volume of undiluted solution it stands for.
    """
    undiluted_ul, water_ul = split_ul(dilution=dilution, working_ul=working_ul)
    if powder_mg_per_l is None:
        return Amounts(undiluted_ul, Unit.UL, water_ul, working_ul)
    return Amounts(round(Fraction(undiluted_ul * powder_mg_per_l, UL_PER_L)), Unit.MG, working_ul, working_ul)


def plain_h_codes(h_codes: str) -> str:
    """Return the H- and EUH-codes of an SDS in one spelling. Raises ProductRefused at one that is not on the list."""
    codes = h_codes.upper().replace(",", " ").replace(";", " ").split()
    for code in codes:
        try:
            known = statement(code).code
        except UnknownStatement:
            known = ""
        if not known.startswith(("H", "EUH")):
            raise ProductRefused(
                f"{code} is not a hazard statement. Copy the codes from section 2 of the SDS.", field="h_codes"
            )
    return " ".join(dict.fromkeys(codes))


def check_bottle(*, amount: int, expires_on: date | None, received_on: date) -> None:
    """Raise BottleRefused unless a bottle received today makes sense."""
    if amount <= 0:
        raise BottleRefused("Enter how much is in the bottle.", field="amount")
    if expires_on is not None and expires_on < received_on:
        raise BottleRefused(
            "It was past its date when it arrived. Send it back, or check the date.", field="expires_on"
        )
