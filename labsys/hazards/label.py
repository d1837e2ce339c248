"""Label elements of a set of hazard classes: pictograms after precedence, signal word, statements.

Source: CLP Article 26 (precedence of pictograms, read in lexparency.de and reachonline.eu), Article 20(3) (signal
word), Article 28(3) (six precautionary statements) and Annex I label tables, from memory except acute toxicity.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from .classes import HazardClass, classes_for_code, label_row, severity_place
from .errors import UnknownStatement
from .mixtures.model import Classification, Supplement
from .nations import Rules
from .precautions import choose_precautions
from .statements import printed_text, statement

NOT_CLASSIFIED = "Not classified as hazardous by calculation."
_ACUTE = "Acute Tox."
_SKIN_OR_EYE_IRRITANT = ("Skin Irrit.", "Eye Irrit.")


@dataclass(frozen=True)
class LabelElements:
    """What a label shows. Statements are pairs of code and text, the text with every blank filled.

    `supplemental` holds sentences without a code: that the calculation gives no hazard, unknown ingredients, gas set
    free by acid. `assumptions` says what was taken for granted where a bare code leaves a choice.
    """

    pictograms: tuple[str, ...]
    signal_word: str
    hazard_statements: tuple[tuple[str, str], ...]
    precautionary_statements: tuple[tuple[str, str], ...]
    euh_statements: tuple[tuple[str, str], ...]
    supplemental: tuple[str, ...]
    names: tuple[str, ...]
    assumptions: tuple[str, ...]


def label_elements(
    classification: Classification, *, is_worked_out: bool = True, rules: Rules = Rules.GB
) -> LabelElements:
    """Return the label elements of a calculated classification.

    Parameters:
        classification: The result of `classify`. [-]
        is_worked_out: False where no ingredients are entered: no class is then no result. [-]
        rules: Whose wording of the statements. [-]
    Returns:
        Everything the label shows. [-]
    """
    none_given = () if classification.is_classified or not is_worked_out else (NOT_CLASSIFIED,)
    return _elements(
        classification.classes,
        euh=tuple(_supplement_text(supplement) for supplement in classification.euh),
        supplemental=none_given + classification.notices + gas_cautions(classification.screening),
        names=classification.names,
        rules=rules,
    )


def gas_cautions(screening: Iterable[Supplement]) -> tuple[str, ...]:
    """Return what to say of each poisonous gas that acid frees, where no statement of the mixture says it."""
    return tuple(f"Keep away from acids: {caution.reason}." for caution in screening)


def from_h_codes(
    codes: Iterable[str],
    *,
    names: Sequence[str] = (),
    sensitisers: Sequence[str] = (),
    p_codes: Sequence[str] = (),
    is_powder: bool = False,
    rules: Rules = Rules.GB,
) -> LabelElements:
    """Return the label elements for codes copied from a supplier's sheet, which wins for what is in the bottle.

    Where a code stands for several categories the most severe is taken, and `assumptions` says so.

    Parameters:
        codes: H and EUH codes; joined ones ("H302+H332") are taken apart. [-]
        names: Substances the sheet names on its label. [-]
        sensitisers: Substances that EUH208 names; those in `names` when empty. [-]
        p_codes: The sheet's own P codes; when empty a few are chosen here. [-]
        is_powder: Whether they are those of a solid: a code for liquids and solids alike is then a solid's. [-]
        rules: Whose wording of the statements. [-]
    Returns:
        Everything the label shows. [-]
    Raises:
        UnknownStatement: A code is on no list.
        UnresolvedStatement: EUH208 without a name, or a P code whose blank only the sheet can fill.

    >>> from_h_codes(["H314", "H302"]).pictograms
    ('GHS05', 'GHS07')
    """
    classes: list[HazardClass] = []
    euh: list[tuple[str, str]] = []
    assumptions: list[str] = []
    for code in dict.fromkeys(part.strip() for joined in codes for part in joined.split("+")):
        if code.startswith("EUH"):
            named = tuple(sensitisers) or tuple(names)
            fills = (", ".join(named),) if code == "EUH208" and named else ()
            euh.append((code, printed_text(code, fills=fills)))
        elif code.startswith("H"):
            possible = _of_form(classes_for_code(code), is_powder=is_powder)
            worst = possible[0]
            classes.append(worst)
            if len({(label_row(hazard).pictograms, label_row(hazard).signal_word) for hazard in possible}) > 1:
                assumptions.append(f"{code} is taken as {worst.name} {worst.category}, the most severe it can be.")
        else:
            raise UnknownStatement(code)
    return _elements(
        tuple(classes),
        euh=tuple(euh),
        supplemental=(),
        names=tuple(names),
        p_codes=p_codes,
        assumptions=tuple(assumptions),
        rules=rules,
    )


def _of_form(possible: tuple[HazardClass, ...], *, is_powder: bool) -> tuple[HazardClass, ...]:
    """The classes that a solid, or a liquid, can have; all of them where the code is of the other form alone."""
    other = "Liq." if is_powder else "Sol."
    return tuple(hazard for hazard in possible if not hazard.name.endswith(other)) or possible


def pictograms_for(classes: Iterable[HazardClass]) -> tuple[str, ...]:
    """Return the pictograms of a set of classes after precedence.

    Parameters:
        classes: Hazard classes of one substance or mixture. [-]
    Returns:
        Pictogram codes in order, GHS01 to GHS09. [-]
    Raises:
        UnknownClass: A class is not in the label table.
    Source:
        CLP Article 26. Optional pictograms (GHS02 and GHS03 beside GHS01, GHS04 beside GHS02 or GHS06) are left out.
        GHS05 for metals alone leaves GHS07 standing, as in the UN text (from memory).
    """
    shown = {hazard: set(label_row(hazard).pictograms) for hazard in _most_severe_of_each_class(classes)}
    present = set().union(*shown.values())
    corrodes_people = any(hazard.name in ("Skin Corr.", "Eye Dam.") for hazard in shown)
    sensitises_airways = any(hazard.name == "Resp. Sens." for hazard in shown)
    for hazard, codes in shown.items():
        if "GHS01" in present and "GHS01" not in codes:
            codes -= {"GHS02", "GHS03"}
        if "GHS06" in present:
            codes -= {"GHS07"}
        if corrodes_people and hazard.name in _SKIN_OR_EYE_IRRITANT:
            codes -= {"GHS07"}
        if sensitises_airways and hazard.name in (*_SKIN_OR_EYE_IRRITANT, "Skin Sens."):
            codes -= {"GHS07"}
        if present & {"GHS02", "GHS06"}:
            codes -= {"GHS04"}
    return tuple(sorted(set().union(*shown.values())))


def signal_word_for(classes: Iterable[HazardClass]) -> str:
    """Return the one signal word of a set of classes.

    Parameters:
        classes: Hazard classes of one substance or mixture. [-]
    Returns:
        "Danger", "Warning" or an empty text. [-]
    Raises:
        UnknownClass: A class is not in the label table.
    """
    words = {label_row(hazard).signal_word for hazard in classes}
    return next((word for word in ("Danger", "Warning") if word in words), "")


def hazard_codes_for(classes: Iterable[HazardClass]) -> tuple[str, ...]:
    """Return the hazard statement codes a label prints, without those another one already says.

    Acute toxicity by several routes in one category is joined into one statement.

    Parameters:
        classes: Hazard classes of one substance or mixture. [-]
    Returns:
        Codes in numerical order. [-]
    """
    listed = sorted(set(classes), key=severity_place)
    codes = {hazard.code for hazard in listed if hazard.name != _ACUTE and hazard.code}
    if "H314" in codes:
        codes -= {"H318", "H315", "H319"}
    if "H318" in codes:
        codes -= {"H319"}
    if "H410" in codes:
        codes -= {"H400"}
    for digit in ("0", "1", "2"):  # last digit of the acute statements: fatal, toxic, harmful
        alike = sorted({hazard.code for hazard in listed if hazard.name == _ACUTE and hazard.code.endswith(digit)})
        codes |= {"+".join(alike)} if alike else set()
    return tuple(sorted(codes))


def _elements(
    classes: Sequence[HazardClass],
    *,
    euh: tuple[tuple[str, str], ...],
    supplemental: tuple[str, ...],
    names: tuple[str, ...],
    p_codes: Sequence[str] = (),
    assumptions: tuple[str, ...] = (),
    rules: Rules,
) -> LabelElements:
    printed = hazard_codes_for(classes)
    single = [code for joined in printed for code in joined.split("+")]
    few, missing = choose_precautions(single)
    not_on_file = tuple(f"No precautionary statements are on file for {code}: take the supplier's." for code in missing)
    return LabelElements(
        pictograms=pictograms_for(classes),
        signal_word=signal_word_for(classes),
        hazard_statements=tuple((code, printed_text(code)) for code in printed),
        precautionary_statements=tuple((code, printed_text(code, rules=rules)) for code in (p_codes or few)),
        euh_statements=euh,
        supplemental=supplemental,
        names=names,
        assumptions=assumptions if p_codes else assumptions + not_on_file,
    )


def _most_severe_of_each_class(classes: Iterable[HazardClass]) -> list[HazardClass]:
    """Within one class (routes of acute toxicity included) only the worst category shows its pictogram."""
    best: dict[str, HazardClass] = {}
    for hazard in sorted(set(classes), key=lambda hazard: (hazard.category, severity_place(hazard))):
        best.setdefault(hazard.name, hazard)
    return list(best.values())


def _supplement_text(supplement: Supplement) -> tuple[str, str]:
    fills = (", ".join(supplement.names),) if "<name" in statement(supplement.code).text else ()
    return supplement.code, printed_text(supplement.code, fills=fills)
