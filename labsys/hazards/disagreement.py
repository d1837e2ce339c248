"""Where the supplier's classes and those calculated from the ingredients are not the same, named one by one.

As supplied the supplier's classes stand: the supplier may hold tests that a sum cannot know. What the calculation gives
stands beside them, so that somebody can ask.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from .classes import classes_for_code
from .label import hazard_codes_for
from .mixtures import Classification
from .statements import printed_text

_IMPLIED = {"H314": {"H315", "H318", "H319"}, "H318": {"H319"}, "H410": {"H400"}}
_TESTED = "H2"  # flammable, oxidising, corrosive to metals: by test, never from the ingredients alone
FLAMMABLE = ("H224", "H225", "H226")  # yet the flash point of the mixture itself may be stated
_ONE_SIDED = {**dict.fromkeys(FLAMMABLE, "Fire"), "EUH031": "Gas with acid", "EUH032": "Very toxic gas with acid"}
_HARM_OF_CODE = {
    **_ONE_SIDED,
    **dict.fromkeys(("H300", "H301", "H302"), "Swallowing"),
    **dict.fromkeys(("H310", "H311", "H312"), "Through the skin"),
    **dict.fromkeys(("H330", "H331", "H332"), "Breathing in"),
    "H335": "Irritated airways",
    "H336": "Drowsiness",
}
_HARM_OF_CLASS = {
    **dict.fromkeys(("Skin Corr.", "Skin Irrit."), "Skin"),
    **dict.fromkeys(("Eye Dam.", "Eye Irrit."), "Eyes"),
    "Skin Sens.": "Allergy of the skin",
    "Resp. Sens.": "Allergy of the airways",
    "Muta.": "Genes",
    "Carc.": "Cancer",
    "Repr.": "Reproduction",
    "Lact.": "Nursing",
    "STOT SE": "Organs, by one contact",
    "STOT RE": "Organs, over time",
    "Asp. Tox.": "Swallowing into the lungs",
    "Aquatic Acute": "Water life, at once",
    "Aquatic Chronic": "Water life, lasting",
}


@dataclass(frozen=True)
class Disagreement:
    """One kind of harm on which the two differ; an empty text is no class."""

    harm: str
    declared: str
    calculated: str

    @property
    def is_stricter_by_calculation(self) -> bool:
        """Whether the calculation warns of more than the supplier does."""
        return bool(self.calculated) and (not self.declared or self.calculated < self.declared)

    @property
    def words(self) -> str:
        """What each of the two says.

        >>> Disagreement("Cancer", "H351", "").words
        'Cancer: the supplier says H351 (Suspected of causing cancer), the calculation gives none'
        """
        said, given = _told(self.declared) or "nothing", _told(self.calculated) or "none"
        return f"{self.harm}: the supplier says {said}, the calculation gives {given}"


def _told(code: str) -> str:
    return f"{code} ({printed_text(code).rstrip('.')})" if code else ""


def disagreements(declared: Iterable[str], calculated: Classification) -> tuple[Disagreement, ...]:
    """Name where declared statements and calculated classes differ.

    What another statement already says is no disagreement, nor is what only a test can tell. Of fire and of gases freed
    by acid only what the calculation gives is compared: a flash point or a limit is not always stated.

    Parameters:
        declared: H codes of the SDS, joined ones in one text or apart. [-]
        calculated: What the ingredients come to. [-]
    Returns:
        One row for each kind of harm, in the order of the statements. [-]
    Raises:
        UnknownStatement: A code is on no list.
    """
    by_sheet = _by_harm(declared)
    by_sum = _by_harm((*hazard_codes_for(calculated.classes), *(each.code for each in calculated.euh)))
    rows = [
        Disagreement(harm, by_sheet.get(harm, ""), by_sum.get(harm, "")) for harm in dict.fromkeys((*by_sheet, *by_sum))
    ]
    differing = [
        row
        for row in rows
        if row.declared[:4] != row.calculated[:4]
        and (row.declared or row.calculated not in _implied_by(by_sheet.values()))
        and (row.calculated or row.declared not in {*_ONE_SIDED, *_implied_by(by_sum.values())})
    ]
    return tuple(sorted(differing, key=lambda row: row.declared or row.calculated))


def _by_harm(codes: Iterable[str]) -> dict[str, str]:
    """The gravest code of each kind of harm; within one kind the lower number is the graver."""
    gravest: dict[str, str] = {}
    for code in (part for joined in codes for part in joined.split("+")):
        if code in _ONE_SIDED or (code.startswith("H") and not code.startswith(_TESTED)):
            harm = _HARM_OF_CODE.get(code) or _HARM_OF_CLASS.get(classes_for_code(code)[0].name, code)
            gravest[harm] = min(gravest.get(harm, code), code)
    return gravest


def _implied_by(codes: Iterable[str]) -> set[str]:
    return {implied for code in codes for implied in _IMPLIED.get(code, ())}
