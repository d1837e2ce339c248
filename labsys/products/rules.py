"""Decisions about products: what they may be, how their sheets are read, and what to measure out."""

import re
from dataclasses import dataclass
from fractions import Fraction

from labsys.chemistry.dilution import Dilution, parse_dilution, split_ul
from labsys.hazards.classes import classes_for_code, read_class
from labsys.hazards.errors import UnknownClass, UnknownStatement
from labsys.hazards.mixtures import read_limit
from labsys.hazards.statements import all_statements
from labsys.ledger.models import Unit
from labsys.quantities import UL_PER_L
from labsys.records.errors import Refused

_CODE = re.compile(r"\b(?:EUH[0-9]{3}[A-Z]?|H[0-9]{3}[A-Za-z]{0,2})\b")
_ASIDE = re.compile(r"\([^()]*\)|\*")  # "(Oral)", and the mark of a minimum classification
_BETWEEN = " \t\r\n,;:()-–"
NOT_CLASSIFIED = "not classified"  # what the SDS may say; where nothing is said, what it can do is not stated
_LIMIT = re.compile(r"(?P<what>[^:]+):(?P<limit>[^:;\n]*)[;\n]?")


class ProductRefused(Refused):
    """The product cannot be kept or used so; the message says why and what to do."""


class RestrictedProduct(ProductRefused):
    """The product holds something the lab does not keep unless somebody answers for it."""

    def __init__(self, message: str):
        super().__init__(message, field="restricted_reason")


class SheetRefused(Refused):
    """The data sheet cannot be kept; the message says why and what to do."""


class EntriesMoved(ProductRefused):
    """Somebody changed the product between reading its entries and acting on them."""


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

    Raises ProductRefused when it is finer than a thousandth, which no cylinder could measure, or has two concentrates.
    """
    if dilution.is_in_parts:
        each = ", ".join(
            f"{part} as {Dilution(dilution.total_parts / share - 1)}"
            for part, share in zip("ABC", dilution.concentrates, strict=False)
        )
        raise ProductRefused(
            f"{dilution} is mixed from {len(dilution.concentrates)} concentrates: enter each as a product of its own, "
            f"{each}. The bench works out the whole.",
            field="dilution",
        )
    milli = dilution.water_parts * 1_000
    if milli.denominator != 1:
        raise ProductRefused(f"{dilution} is finer than a thousandth of a part. Round it.", field="dilution")
    return int(milli)


def read_dilution(text: str) -> int:
    """Read a dilution into thousandths of a part of water. Raises CalculationError or ProductRefused."""
    return milli_of_dilution(parse_dilution(text))


def show_dilution(water_parts_milli: int) -> str:
    dilution: Dilution = dilution_of_milli(water_parts_milli)
    return str(dilution)


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
    """Return the H- and EUH-codes of an SDS in one spelling, or that it has none: not classified.

    Raises ProductRefused at a code that is not on the list.
    """
    if h_codes.strip(" .").lower() == NOT_CLASSIFIED:
        return NOT_CLASSIFIED
    joined = re.sub(r"\s*\+\s*", "+", h_codes)
    return " ".join(dict.fromkeys(_as_listed(code) for code in re.split(r"[\s,;]+", joined) if code))


def codes_of(h_codes: str) -> tuple[str, ...]:
    """The codes of what `plain_h_codes` returned: none where the SDS says so, and where nobody has said."""
    return () if h_codes == NOT_CLASSIFIED else tuple(h_codes.split())


def _as_listed(code: str) -> str:
    """The spelling on the list; capitals count where two codes differ by nothing else (H360FD and H360Fd)."""
    alike = [
        statement.code
        for statement in all_statements()
        if statement.code.upper() == code.upper() and statement.code.startswith(("H", "EUH"))
    ]
    if code in alike:
        return code
    if len(alike) == 1:
        return alike[0]
    if alike:
        raise ProductRefused(f"{code} can be {_or(alike)}: mind the capitals.", field="h_codes")
    raise ProductRefused(
        f"{code} is not a hazard statement. Copy the codes from section 2 of the SDS.", field="h_codes"
    )


def plain_classes(text: str) -> str:
    """Return the hazard classes of an ingredient in one spelling, however the SDS sets class and code apart.

    "Not classified" is an answer too. Raises ProductRefused at what cannot be read, saying what can stand there.

    >>> plain_classes("Acute Tox. 4 (Oral), H302; Eye Dam. 1 (H318), EUH066")
    'Acute Tox. 4 H302; Eye Dam. 1 H318; EUH066'
    """
    if text.strip(" .").casefold() == NOT_CLASSIFIED:
        return NOT_CLASSIFIED
    classes: list[str] = []
    end = 0
    for match in _CODE.finditer(text):
        classes.append(_class_of(_words(text[end : match.start()]), match[0]))
        end = match.end()
    if left_over := _words(text[end:]):
        raise _no_code_behind(left_over)
    return "; ".join(dict.fromkeys(classes))


def plain_limits(text: str) -> str:
    """Return specific concentration limits in one spelling. Raises ProductRefused at what cannot be read.

    >>> plain_limits("Skin Corr. 1B; H314: 25 % ≤ C < 90 %; EUH031: C ≥ 5 %")
    'Skin Corr. 1B H314: 25<=C<90; EUH031: C>=5'
    """
    limits: list[str] = []
    end = 0
    for match in _LIMIT.finditer(text):
        bounds = re.sub(r"[%\s]", "", match["limit"].replace("≥", ">=").replace("≤", "<=")).replace(",", ".")
        limit = f"{plain_classes(match['what'])}: {bounds}"
        try:
            read_limit(limit)
        except UnknownClass:
            raise _unreadable_limit(match[0]) from None
        limits.append(limit)
        end = match.end()
    if left_over := text[end:].strip(_BETWEEN):
        raise _unreadable_limit(left_over)
    return "; ".join(limits)


def _no_code_behind(words: str) -> ProductRefused:
    return ProductRefused(f"“{words}” has no H-code behind it. Write it as Skin Corr. 1B H314.")


def _unreadable_limit(text: str) -> ProductRefused:
    return ProductRefused(
        f"“{text.strip(_BETWEEN)}” is not a specific limit. Write it as Skin Irrit. 2 H315: 10 <= C < 25."
    )


def _class_of(words: str, code: str) -> str:
    if code.startswith("EUH"):
        if words:
            raise _no_code_behind(words)
        return _as_listed(code)
    try:
        return str(read_class(f"{words} {code}"))
    except UnknownClass:
        pass
    try:
        possible = [f"{hazard.name} {hazard.category}".strip() for hazard in classes_for_code(code)]
    except UnknownStatement:
        raise ProductRefused(f"{code} is not a hazard statement. Copy it from section 3 of the SDS.") from None
    raise ProductRefused(
        f"{f'{words} {code}'.strip()} does not fit together. Before {code} stands {_or(possible)}."
    ) from None


def _words(text: str) -> str:
    return " ".join(_ASIDE.sub(" ", text).strip(_BETWEEN).split())


def _or(words: list[str]) -> str:
    return " or ".join(part for part in (", ".join(words[:-1]), words[-1]) if part)


def check_version(*, seen: int | None, stands: int) -> None:
    """Raise EntriesMoved when the entries somebody read, where that is known, are no longer those that stand."""
    if seen is not None and seen != stands:
        raise EntriesMoved(
            "Somebody changed these entries after you opened the page, so nothing was saved. Read them as they are now."
        )
