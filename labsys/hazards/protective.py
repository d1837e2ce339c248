"""What to wear and what to mind, in plain words, for the people at the bath.

Source: common practice of shared darkrooms, no single source; the skin rule follows HSE advice that any sensitiser
keeps skin protection (from memory). Nothing here replaces the supplier's sheet.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from .first_aid import EYES, SKIN

DEFERENCE = "The supplier's safety data sheet comes first: where it asks for more, do more."

_SKIN_CODES = frozenset({"H310", "H311", "H312", "H314", "H315", "H317", "EUH066"})
_EYE_CODES = frozenset({"H314", "H318", "H319", "EUH070"})
_AIR_CODES = frozenset({"H330", "H331", "H332", "H334", "H335", "H336", "H350i", "EUH071"})
_GAS_CODES = frozenset({"EUH029", "EUH031", "EUH032"})
_LONG_TERM_CODES = ("H340", "H341", "H350", "H351", "H360", "H361", "H370", "H371", "H372", "H373")


class Equipment(StrEnum):
    """Kinds of protection, in the order a person puts them on."""

    VENTILATION = "ventilation"
    APRON = "apron"
    EYES = "eyes"
    HANDS = "hands"


@dataclass(frozen=True)
class Protection:
    """One thing to use and why."""

    kind: Equipment
    words: str
    reason: str


@dataclass(frozen=True)
class Advice:
    """What to use, short cautions, and the sentence that defers to the supplier."""

    protection: tuple[Protection, ...]
    cautions: tuple[str, ...]
    deference: str = DEFERENCE


def advice_for(
    *, h_codes: Iterable[str], euh_codes: Iterable[str] = (), sensitisers: Iterable[str] = (), is_powder: bool = False
) -> Advice:
    """Return protective equipment and cautions for a bottle, bath or powder.

    Parameters:
        h_codes: Hazard statement codes; joined ones are taken apart. [-]
        euh_codes: Supplemental codes, screening included. [-]
        sensitisers: Names of the sensitisers present at any strength. [-]
        is_powder: True for weighing and pouring powders. [-]
    Returns:
        Advice that always ends by deferring to the supplier. [-]

    >>> [item.kind.value for item in advice_for(h_codes=[], sensitisers=["metol"]).protection]
    ['hands']
    """
    codes = {part for joined in (*h_codes, *euh_codes) for part in joined.split("+")}
    named = tuple(sensitisers)
    protection: list[Protection] = []
    cautions: list[str] = []
    long_term = any(code.startswith(_LONG_TERM_CODES) for code in codes)
    if codes & (_AIR_CODES | _GAS_CODES) or is_powder:
        protection.append(_ventilation(codes, is_powder=is_powder))
        cautions.append(
            "If your chest tightens, or your eyes or throat sting, go out to fresh air first and tell someone."
        )
    if "H314" in codes:
        protection.append(Protection(Equipment.APRON, "Waterproof apron", "it burns skin, also through wet clothing"))
    if codes & _EYE_CODES or is_powder:
        eye_reason = (
            "it can blind" if codes & {"H314", "H318"} else "it irritates eyes" if codes & _EYE_CODES else "dust"
        )
        protection.append(Protection(Equipment.EYES, "Goggles that close all round", eye_reason))
        cautions.append(EYES)
    if codes & _SKIN_CODES or named or long_term:
        protection.append(_hands(codes, named))
    if "H317" in codes or named:
        cautions.append(
            "An allergy of the skin comes without warning, stays for life and can begin with a weak bath: "
            "keep hands out, rinse splashes off at once, and report a rash."
        )
    if "H314" in codes:
        cautions.append(f"{SKIN} Pour acid or alkali into water, never the reverse.")
    if codes & _GAS_CODES:
        cautions.append("Keep acid away from it, in the tray, in the sink and in the waste: it frees a poisonous gas.")
    return Advice(tuple(protection), tuple(cautions))


def _ventilation(codes: set[str], *, is_powder: bool) -> Protection:
    if is_powder:
        return Protection(
            Equipment.VENTILATION, "Weigh under extraction, no draught across the powder", "dust is inhaled"
        )
    if codes & _AIR_CODES:
        return Protection(
            Equipment.VENTILATION, "Extraction running, covers on idle trays", "its vapour or mist is harmful"
        )
    return Protection(Equipment.VENTILATION, "Extraction running", "with acid it frees a poisonous gas")


def _hands(codes: set[str], sensitisers: tuple[str, ...]) -> Protection:
    if "H314" in codes:
        return Protection(Equipment.HANDS, "Chemical-resistant gloves, checked for holes", "it burns skin")
    if sensitisers or "H317" in codes:
        who = ", ".join(sensitisers) or "an ingredient"
        return Protection(Equipment.HANDS, "Tongs, or gloves changed when splashed", f"{who} can make skin allergic")
    if codes & _SKIN_CODES:
        return Protection(Equipment.HANDS, "Tongs or gloves", "it irritates or passes through skin")
    return Protection(Equipment.HANDS, "Tongs or gloves", "what it does shows late, so keep it off the skin")
