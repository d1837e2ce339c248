"""Several classifications of one mixture, worked at the ends of what is stated, made one: the strictest of each class.

Source: our own rule, on the side of safety; CLP has a range taken at its upper end (read in enviprofi.cz 4.8.6.2).
"""

from collections.abc import Mapping
from dataclasses import replace

from ..classes import HazardClass, severity_place
from .model import Classification, Reason

_SAME_HARM = {"Skin Irrit.": "Skin Corr.", "Eye Irrit.": "Eye Dam."}  # the lesser of one harm, by the graver
_TOPIC = "Both ends worked"
_ONLY_WITHOUT_CLASS = "EUH210"
_ONLY_BELOW_CLASS = "EUH208"
_INHALED = ("H330", "H331", "H332")
_DERMAL = ("H310", "H311", "H312")


def strictest(worked: Mapping[str, Classification]) -> Classification:
    """Return the strictest result for each kind of harm, and say where the ends differ.

    Parameters:
        worked: Classifications of the same mixture by the end each was worked at, at least one; the first stands but
            for what another has more of. [-]
    Returns:
        One classification. [-]
    """
    first, *others = worked.values()
    if not others:
        return first
    if all(set(other.classes) == set(first.classes) for other in others):
        return replace(first, reasons=(*first.reasons, Reason(_TOPIC, f"{' and '.join(worked)} give the same classes")))
    worst: dict[tuple[str, str], HazardClass] = {}
    for hazard in (each for classification in worked.values() for each in classification.classes):
        key = _harm(hazard)
        if key not in worst or severity_place(hazard) < severity_place(worst[key]):
            worst[key] = hazard
    classes = tuple(sorted(worst.values(), key=severity_place))
    codes = {supplement.code for supplement in first.euh} | {_ONLY_BELOW_CLASS}
    more = [supplement for other in others for supplement in other.euh if supplement.code not in codes]
    return replace(
        first,
        classes=classes,
        names=tuple(dict.fromkeys(name for each in worked.values() for name in each.names)),
        euh=tuple(supplement for supplement in (*first.euh, *more) if supplement.code != _ONLY_WITHOUT_CLASS),
        reasons=(*first.reasons, *(_differs(hazard, worked) for hazard in classes if _is_one_sided(hazard, worked))),
        open_points=tuple(dict.fromkeys(point for each in worked.values() for point in each.open_points)),
    )


def _harm(hazard: HazardClass) -> tuple[str, str]:
    """What of several classes only the worst is told: routes of poisoning and organs struck at once stand apart."""
    if hazard.name == "Acute Tox.":
        return hazard.name, "inhaled" if hazard.code in _INHALED else "skin" if hazard.code in _DERMAL else "swallowed"
    if (hazard.name, hazard.category) == ("STOT SE", "3"):
        return hazard.name, hazard.code
    return _SAME_HARM.get(hazard.name, hazard.name), ""


def _is_one_sided(hazard: HazardClass, worked: Mapping[str, Classification]) -> bool:
    return any(hazard not in classification.classes for classification in worked.values())


def _differs(hazard: HazardClass, worked: Mapping[str, Classification]) -> Reason:
    by = " and ".join(end for end, classification in worked.items() if hazard in classification.classes)
    return Reason(_TOPIC, f"{hazard} only at {by}: the stricter result stands")
