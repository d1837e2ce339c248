"""What to wear and what to mind, in plain words, for the people at the bath and at the bottle.

Source: common practice of shared darkrooms, no single source: gloves on to pour, tongs at trays, gloves at tanks and
for prints that tongs do not carry. Any sensitiser keeps skin protection: HSE advice, from memory. From memory too:
nitrile for developers and for dilute acid and alkali, thin ones against splashes only; butyl or neoprene for glacial
acetic acid. Thickness, and 30 minutes (the least breakthrough of a glove of type A or B, EN ISO 374-1:2016, from
memory): common practice, no source. Nothing here replaces section 8 of the supplier's SDS.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from .first_aid import EYES, SKIN

FIRE = "No flame, spark, hot plate or bare heater near it: its vapour can catch fire."
AIRWAYS = (  # EUH071: CLP Annex II 1.2.6 and the note to Table 3.1.3, from memory
    "Do not breathe its spray or vapour: what burns skin may be corrosive to the respiratory tract too. That is a "
    "judgement, which nobody has made here."
)
DEFERENCE = "The supplier's safety data sheet comes first: where it asks for more, do more."

_SKIN_CODES = frozenset({"H310", "H311", "H312", "H314", "H315", "H317", "EUH066"})
_EYE_CODES = frozenset({"H314", "H318", "H319", "EUH070"})
_AIR_CODES = frozenset({"H330", "H331", "H332", "H334", "H335", "H336", "H350i", "EUH071"})
_GAS_CODES = frozenset({"EUH029", "EUH031", "EUH032"})
_FIRE_CODES = frozenset({"H224", "H225", "H226"})
_NOT_STATED = "what it does is not stated"
_HOUSE_REASON = "no bath belongs on bare skin"
_LONG_TERM_CODES = ("H340", "H341", "H350", "H351", "H360", "H361", "H370", "H371", "H372", "H373")


CHANGED = "new after a splash or 30 minutes"
THIN_GLOVES = f"Nitrile gloves of 0.1 mm or more, {CHANGED}"
STRONG_GLOVES = f"Long nitrile or neoprene gloves of 0.3 mm or more, {CHANGED}"
ACID_GLOVES = f"Long butyl or neoprene gloves of 0.5 mm or more, not thin nitrile, {CHANGED}"
GLOVES_OFF = "Gloves come off before the dry side."


class Task(StrEnum):
    """What is done with it: that decides between tongs and gloves. A bath may stand in a tank or a tray."""

    BATH = "bath"
    POURING = "pouring"
    TANK = "tank"
    TRAY = "tray"
    LARGE_PRINT = "large print"
    TONING = "toning"


_HANDS_OF = {
    Task.BATH: f"At a tray tongs, at a tank gloves: {THIN_GLOVES[:1].lower()}{THIN_GLOVES[1:]}",
    Task.POURING: THIN_GLOVES,
    Task.TANK: THIN_GLOVES,
    Task.TRAY: "Tongs of its own for each tray; hands stay out",
    Task.LARGE_PRINT: f"{THIN_GLOVES}: tongs do not carry a print of this size",
    Task.TONING: THIN_GLOVES,
}


class Equipment(StrEnum):
    """Kinds of protection, in the order a person puts them on."""

    VENTILATION = "ventilation"
    APRON = "apron"
    EYES = "eyes"
    HANDS = "hands"


@dataclass(frozen=True)
class Protection:
    """One thing to use and why. A house rule is asked for by no hazard, and gives way to an approved assessment."""

    kind: Equipment
    words: str
    reason: str
    is_house_rule: bool = False


@dataclass(frozen=True)
class Advice:
    """What to use, short cautions, and the sentence that defers to the supplier."""

    protection: tuple[Protection, ...]
    cautions: tuple[str, ...]
    deference: str = DEFERENCE


def advice_for(
    *,
    h_codes: Iterable[str],
    euh_codes: Iterable[str] = (),
    sensitisers: Iterable[str] = (),
    is_powder: bool = False,
    task: Task = Task.BATH,
    burns_through_nitrile: bool = False,
    is_stated: bool = True,
) -> Advice:
    """Return protective equipment and cautions for a bottle, bath or powder.

    Parameters:
        h_codes: Hazard statement codes; joined ones are taken apart. [-]
        euh_codes: Supplemental codes, screening included. [-]
        sensitisers: Names of the sensitisers present at any strength. [-]
        is_powder: True for weighing and pouring powders. [-]
        task: What is done with it. [-]
        burns_through_nitrile: True for strong organic acid, and for what burns and is not known. [-]
        is_stated: False where nobody stated what it does: it is then handled as if it could blind. [-]
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
    asks_for_air = bool(codes & (_AIR_CODES | _GAS_CODES | _FIRE_CODES)) or is_powder
    if not asks_for_air and task is Task.TONING:
        toning = Protection(Equipment.VENTILATION, "Extraction running", "toners give off gas", is_house_rule=True)
        protection.append(toning)
    if asks_for_air:
        protection.append(_ventilation(codes, is_powder=is_powder))
        cautions.append(
            "If your chest tightens, or your eyes or throat sting, go out to fresh air first and tell someone."
        )
    if codes & _FIRE_CODES:
        cautions.append(FIRE)
    if "H314" in codes and "EUH071" not in codes:
        cautions.append(AIRWAYS)
    if "H314" in codes:
        protection.append(Protection(Equipment.APRON, "Waterproof apron", "it burns skin, also through wet clothing"))
    if codes & _EYE_CODES or is_powder or (task is Task.POURING and not is_stated):
        eye_reason = (
            "it can blind"
            if codes & {"H314", "H318"}
            else "it irritates eyes"
            if codes & _EYE_CODES
            else "dust"
            if is_powder
            else _NOT_STATED
        )
        protection.append(Protection(Equipment.EYES, "Goggles that close all round", eye_reason))
        cautions.append(EYES)
    if codes & _SKIN_CODES or named or long_term or task is not Task.BATH:
        reason = _skin_reason(codes, named, long_term=long_term)
        words = _hands(codes, task=task, burns_through_nitrile=burns_through_nitrile)
        why = reason or ("it splashes" if is_stated else _NOT_STATED) if task is Task.POURING else reason
        protection.append(Protection(Equipment.HANDS, words, why or _HOUSE_REASON, is_house_rule=not reason))
        if "gloves" in words.lower():
            cautions.append(GLOVES_OFF)
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
    reasons = [
        reason
        for reason, is_due in (
            ("its vapour or mist is harmful", codes & _AIR_CODES),
            ("its vapour can catch fire", codes & _FIRE_CODES),
            ("with acid it frees a poisonous gas", codes & _GAS_CODES and not codes & _AIR_CODES),
        )
        if is_due
    ]
    words = [
        "Extraction running",
        *(["covers on idle trays"] if codes & _AIR_CODES else []),
        *(["no flame or spark near it"] if codes & _FIRE_CODES else []),
    ]
    return Protection(Equipment.VENTILATION, ", ".join(words), "; ".join(reasons))


def _hands(codes: set[str], *, task: Task, burns_through_nitrile: bool) -> str:
    if burns_through_nitrile:
        return ACID_GLOVES
    return STRONG_GLOVES if "H314" in codes else _HANDS_OF[task]


def _skin_reason(codes: set[str], sensitisers: tuple[str, ...], *, long_term: bool) -> str:
    """Why the hazards ask for skin protection; empty where they ask for none."""
    if "H314" in codes:
        return "it burns skin"
    if sensitisers or "H317" in codes:
        return f"{', '.join(sensitisers) or 'an ingredient'} can make skin allergic"
    if codes & _SKIN_CODES:
        return "it irritates or passes through skin"
    return "what it does shows late, so keep it off the skin" if long_term else ""
