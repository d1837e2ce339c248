"""Which of two readings stands, where two careful people may differ: the one that was chosen, else the usual one.

The usual reading of a rule is what `classify` gives; a reading that merely warns of more stands beside it. Where the
two hang on a fact that nobody has stated, not on how the rule is read, the stricter stands.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from ..classes import HazardClass, severity_place
from .model import Alternative, Classification, Ingredient, Reason, Supplement
from .supplements import sheet_on_request

_SHEET_ON_REQUEST = "EUH210"
_UNTIL = "until somebody chooses and says why"


@dataclass(frozen=True)
class Choice:
    """Whether the alternative was chosen over the reading as calculated; `words` say who chose it and why."""

    takes_alternative: bool
    words: str


def taken(alternative: Alternative, choice: Choice | None) -> bool:
    """Say whether an alternative stands instead of what was calculated.

    Parameters:
        alternative: What another accepted rule gives. [-]
        choice: What somebody chose, or None. [-]
    Returns:
        True as chosen; without a choice, when it is the stricter one and hangs on what is not stated. [-]
    """
    if choice is None:
        return bool(alternative.hangs_on) and alternative.is_stricter
    return choice.takes_alternative


def why_it_stands(alternative: Alternative, choice: Choice | None) -> str:
    """Say why the reading that stands does.

    Parameters:
        alternative: What another accepted rule gives. [-]
        choice: What somebody chose, or None. [-]
    Returns:
        Who chose it and why, or which of the two stands while nobody has. [-]
    """
    if choice is not None:
        return choice.words
    if alternative.hangs_on:
        return f"the stricter of the two, as {alternative.hangs_on} is not stated, {_UNTIL}"
    return f"the usual reading of the rule, {_UNTIL}"


def settle(
    calculated: Classification, ingredients: Sequence[Ingredient], *, choices: Mapping[tuple[str, str], Choice]
) -> Classification:
    """Return the classification with the reading of each alternative that stands, and why it does.

    Parameters:
        calculated: What `classify` gave. [-]
        ingredients: What it was given, a sequence. [-]
        choices: What people chose, by `Alternative.key`. [-]
    Returns:
        The same classification where no alternative is taken, except for the reasons. [-]

    >>> from labsys.hazards.mixtures import classify
    >>> from labsys.hazards.substances import substance
    >>> strong = [substance("123-31-9").as_ingredient(high_percent=2)]
    >>> calculated = classify(strong)
    >>> alone = {calculated.alternatives[0].key: Choice(True, "chosen by Odile: no test is known")}
    >>> "H318" in calculated.h_codes, "H318" in settle(calculated, strong, choices=alone).h_codes
    (False, True)
    """
    classes = list(calculated.classes)
    names, euh, reasons = list(calculated.names), list(calculated.euh), list(calculated.reasons)
    for alternative in calculated.alternatives:
        choice = choices.get(alternative.key)
        is_taken = taken(alternative, choice)
        outcome = alternative.outcome if is_taken else alternative.calculated
        why = why_it_stands(alternative, choice)
        why = why if choice else f"{why}; the other, {_other(alternative, is_taken=is_taken)}: {alternative.why}"
        reasons.append(Reason(alternative.rule, f"{outcome}: {why}"))
        if is_taken:
            classes = [hazard for hazard in classes if hazard not in alternative.instead_of]
            classes += [hazard for hazard in alternative.gives if hazard not in classes]
            names += [name for name in alternative.names if name not in names]
            euh = _joined(euh, alternative.euh)
    return replace(
        calculated,
        classes=tuple(sorted(classes, key=severity_place)),
        names=tuple(names),
        euh=_with_sheet(euh, classes, ingredients),
        reasons=tuple(reasons),
    )


def _other(alternative: Alternative, *, is_taken: bool) -> str:
    return alternative.calculated if is_taken else alternative.outcome


def _joined(euh: list[Supplement], more: Sequence[Supplement]) -> list[Supplement]:
    """One statement names all its substances."""
    joined = list(euh)
    for new in more:
        same = next((supplement for supplement in joined if supplement.code == new.code), None)
        if same is None:
            joined.append(new)
        else:
            every = tuple(dict.fromkeys((*same.names, *new.names)))
            joined[joined.index(same)] = replace(same, names=every, reason=f"{same.reason}; {new.reason}")
    return joined


def _with_sheet(
    euh: list[Supplement], classes: Sequence[HazardClass], ingredients: Sequence[Ingredient]
) -> tuple[Supplement, ...]:
    """EUH210 belongs to mixtures that are not classified, and to no others."""
    others = tuple(supplement for supplement in euh if supplement.code != _SHEET_ON_REQUEST)
    return others if classes else (*others, *sheet_on_request(ingredients).euh)
