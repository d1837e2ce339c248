"""Skin corrosion and irritation, serious eye damage and eye irritation: additive classes.

Source: CLP Annex I 3.2 and 3.3. Extreme pH and the 1 % cut-off: read in reachonline.eu, 3.2.3. Table 3.2.3: read in
ECHA Helpdesk seminar slides (O. Tunnela, 2012). Tables 3.2.4, 3.3.3, 3.3.4 and sub-categories: from memory. Sum of
fractions: ECHA Guidance on the Application of the CLP Criteria, 1.6.3.4.3 and 3.2.3.3.4, from memory.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

from ..classes import Family, HazardClass
from .model import Alternative, Finding, Ingredient, Reason, listing, reaches, total

_SKIN_CORROSIVE, _SKIN_IRRITANT = "Skin Corr.", "Skin Irrit."
_EYE_DAMAGE, _EYE_IRRITANT = "Eye Dam.", "Eye Irrit."
_SKIN_DAMAGE_LIMIT, _EYE_DAMAGE_LIMIT, _IRRITANT_LIMIT, _WEAKENED_LIMIT = 5.0, 3.0, 10.0, 1.0  # [% w/w]
_ALONE_DAMAGE_LIMIT, _ALONE_IRRITANT_LIMIT = 1.0, 3.0  # [% w/w], where additivity does not hold
ACID_PH, ALKALINE_PH = 2.0, 11.5
_SUBCATEGORIES = (("1A", ("1A",)), ("1B", ("1A", "1B")), ("1C", ("1A", "1B", "1C")), ("1", ("1A", "1B", "1C", "1")))
_NOT_ADDITIVE = frozenset({Family.ACID, Family.BASE, Family.SALT, Family.PHENOL, Family.ALDEHYDE, Family.SURFACTANT})

_SKIN_IRRITANT_CLASS = HazardClass(_SKIN_IRRITANT, "2", "H315")
_EYE_DAMAGE_CLASS = HazardClass(_EYE_DAMAGE, "1", "H318")
_EYE_IRRITANT_CLASS = HazardClass(_EYE_IRRITANT, "2", "H319")
_CORROSIVE_CLASS = HazardClass(_SKIN_CORROSIVE, "1", "H314")


@dataclass(frozen=True)
class _Sum:
    """A sum of fractions, each content over its own limit; 1 and above classifies."""

    value: float
    words: str
    names: tuple[str, ...]

    @property
    def classifies(self) -> bool:
        return reaches(self.value, 1.0)


@dataclass(frozen=True)
class PhAnswer:
    """What says that an extreme pH does not make a mixture corrosive, and what it says instead."""

    words: str
    classes: tuple[HazardClass, ...]


def skin_and_eye(ingredients: Sequence[Ingredient], *, ph: float | None, answer: PhAnswer | None = None) -> Finding:
    """Classify effects on skin and eye.

    The sum of fractions decides, unless the pH is extreme: then the pH does, and the sum is shown as an alternative;
    where something answers the pH that stands, unless the sum warns of more. Where a phenol, acid, base, salt, aldehyde
    or surfactant that is itself classified and has no limit of its own would weigh more by the non-additive tables,
    that result is shown as an alternative; of a corrosive whose kind nobody knows it is an open point.

    Parameters:
        ingredients: The declared ingredients, a sequence. [-]
        ph: The pH of the mixture, or None when not measured. [-]
        answer: What says that an extreme pH does not make it corrosive, such as the supplier's classes. [-]
    Returns:
        Classes, working and alternatives. [-]
    """
    reasons: list[Reason] = []
    skin, skin_names = _skin(ingredients, reasons)
    eye, eye_names = _eye(ingredients, reasons)
    names = (skin_names if _burns(skin) else ()) + (eye_names if _burns(eye) else ())
    if _burns(skin) and not _burns(eye):
        eye = _EYE_DAMAGE_CLASS
        reasons.append(Reason("Eye", "corrosive to skin is taken as damaging to the eye"))
    alternatives: list[Alternative] = []
    if ph is not None and is_extreme(ph) and not _burns(skin):
        extreme = f"pH {ph:g} is extreme (2 and below, 11.5 and above)"
        by_ph = (_CORROSIVE_CLASS, _EYE_DAMAGE_CLASS)
        burning = tuple(i.name for i in ingredients if i.high_percent > 0 and i.has(_SKIN_CORROSIVE, _EYE_DAMAGE))
        if answer is not None:
            reasons.append(Reason("Skin and eye", f"{extreme}; not taken as corrosive: {answer.words}"))
            skin = max(skin, *_of(answer.classes, _SKIN_IRRITANT), key=_rank)
            eye = max(eye, *_of(answer.classes, _EYE_DAMAGE, _EYE_IRRITANT), key=_rank)
            alternatives.append(
                Alternative(
                    "pH instead of what answers it",
                    _outcome(*by_ph),
                    f"{extreme}: corrosive where nothing else is known",
                    gives=by_ph,
                    instead_of=_present(skin, eye),
                    names=burning,
                )
            )
        else:
            reasons.append(Reason("Skin and eye", f"{extreme}: taken as corrosive"))
            alternatives.append(
                Alternative(
                    "Concentration limits instead of pH",
                    _outcome(skin, eye),
                    "the limits were set from data on such solutions; whoever uses them records the reason",
                    gives=_present(skin, eye),
                    instead_of=by_ph,
                )
            )
            skin, eye = by_ph
            names += skin_names + eye_names + burning
    alternatives += _each_alone(ingredients, skin, eye)
    return Finding(
        classes=_present(skin, eye),
        reasons=tuple(reasons),
        alternatives=tuple(alternatives),
        names=tuple(dict.fromkeys(names)),
        open_points=_may_act_alone(ingredients, skin),
    )


def _of(classes: Sequence[HazardClass], *names: str) -> tuple[HazardClass | None, ...]:
    return (None, *(hazard for hazard in classes if hazard.name in names))


def is_extreme(ph: float) -> bool:
    """Say whether a pH alone makes a mixture corrosive where nothing else is known.

    Parameters:
        ph: A pH. [-]
    Returns:
        True at 2 and below, 11.5 and above. [-]
    Source:
        CLP Annex I 3.2.3.1.2, read in reachonline.eu.
    """
    return ph <= ACID_PH or ph >= ALKALINE_PH


def _skin(ingredients: Sequence[Ingredient], reasons: list[Reason]) -> tuple[HazardClass | None, tuple[str, ...]]:
    counted = _counted(ingredients, _SKIN_CORROSIVE, _SKIN_IRRITANT)
    for category, included in _SUBCATEGORIES:
        corrosive = _sum(counted, partial(_skin_corrosive_limit, categories=included))
        if corrosive.classifies:
            reasons.append(Reason("Skin", f"corrosive {corrosive.words}: Skin Corr. {category}"))
            return HazardClass(_SKIN_CORROSIVE, category, "H314"), corrosive.names
    irritant = _sum(counted, _skin_irritant_limit)
    if irritant.words:
        outcome = str(_SKIN_IRRITANT_CLASS) if irritant.classifies else "below 1, no class"
        reasons.append(Reason("Skin", f"not corrosive; irritant {irritant.words}: {outcome}"))
    return (_SKIN_IRRITANT_CLASS if irritant.classifies else None), irritant.names


def _eye(ingredients: Sequence[Ingredient], reasons: list[Reason]) -> tuple[HazardClass | None, tuple[str, ...]]:
    counted = _counted(ingredients, _EYE_DAMAGE, _EYE_IRRITANT, _SKIN_CORROSIVE)
    damaging = _sum(counted, _eye_damage_limit)
    if damaging.classifies:
        reasons.append(Reason("Eye", f"damaging {damaging.words}: {_EYE_DAMAGE_CLASS}"))
        return _EYE_DAMAGE_CLASS, damaging.names
    irritant = _sum(counted, _eye_irritant_limit)
    if irritant.words:
        outcome = str(_EYE_IRRITANT_CLASS) if irritant.classifies else "below 1, no class"
        reasons.append(Reason("Eye", f"not damaging; irritant {irritant.words}: {outcome}"))
    return (_EYE_IRRITANT_CLASS if irritant.classifies else None), irritant.names


def _counted(ingredients: Sequence[Ingredient], *names: str) -> tuple[Ingredient, ...]:
    """Leave out what lies below its cut-off: 1 %, or the ingredient's own lowest limit where that is less."""
    counted = []
    for ingredient in ingredients:
        own = ingredient.lowest_limit(*names)
        if own is not None or ingredient.has(*names):
            cut_off = 1.0 if own is None else min(1.0, own)
            counted += [ingredient] if reaches(ingredient.high_percent, cut_off) else []
    return tuple(counted)


def _sum(counted: Sequence[Ingredient], limit_of: Callable[[Ingredient], float | None]) -> _Sum:
    terms = [(i, limit) for i in counted if (limit := limit_of(i)) is not None]
    value = total(i.high_percent / limit for i, limit in terms)
    words = " + ".join(f"{i.name} {i.high_percent:g}/{limit:g}" for i, limit in terms)
    return _Sum(value, f"{words} = {value:.3g}" if terms else "", tuple(i.name for i, _ in terms))


def _skin_corrosive_limit(ingredient: Ingredient, *, categories: Sequence[str]) -> float | None:
    if ingredient.lowest_limit(_SKIN_CORROSIVE) is not None:
        return ingredient.lowest_limit(_SKIN_CORROSIVE, categories=categories)
    carried = any(hazard.category in categories for hazard in ingredient.hazards(_SKIN_CORROSIVE))
    return _SKIN_DAMAGE_LIMIT if carried else None


def _skin_irritant_limit(ingredient: Ingredient) -> float | None:
    own = ingredient.lowest_limit(_SKIN_IRRITANT)
    if own is not None:
        return own
    if ingredient.has(_SKIN_CORROSIVE) or ingredient.lowest_limit(_SKIN_CORROSIVE) is not None:
        return _WEAKENED_LIMIT
    return _IRRITANT_LIMIT if ingredient.has(_SKIN_IRRITANT) else None


def _eye_damage_limit(ingredient: Ingredient) -> float | None:
    own = ingredient.lowest_limit(_EYE_DAMAGE)
    if own is None:  # a limit for the skin stands for the eye as well
        own = ingredient.lowest_limit(_SKIN_CORROSIVE)
    if own is not None:
        return own
    return _EYE_DAMAGE_LIMIT if ingredient.has(_EYE_DAMAGE, _SKIN_CORROSIVE) else None


def _eye_irritant_limit(ingredient: Ingredient) -> float | None:
    own = ingredient.lowest_limit(_EYE_IRRITANT)
    if own is not None:
        return own
    if _eye_damage_limit(ingredient) is not None:
        return _WEAKENED_LIMIT
    return _IRRITANT_LIMIT if ingredient.has(_EYE_IRRITANT) else None


def _each_alone(
    ingredients: Sequence[Ingredient], skin: HazardClass | None, eye: HazardClass | None
) -> list[Alternative]:
    """Read the non-additive tables for the kinds of substance they were made for."""
    special = [i for i in ingredients if i.families & _NOT_ADDITIVE]
    skin_alone = _alone(
        [i for i in special if i.lowest_limit(_SKIN_CORROSIVE, _SKIN_IRRITANT) is None],
        damaging=((_SKIN_CORROSIVE,), _CORROSIVE_CLASS),
        irritant=(_SKIN_IRRITANT, _SKIN_IRRITANT_CLASS),
    )
    eye_alone = _alone(
        [i for i in special if i.lowest_limit(_SKIN_CORROSIVE, _EYE_DAMAGE, _EYE_IRRITANT) is None],
        damaging=((_SKIN_CORROSIVE, _EYE_DAMAGE), _EYE_DAMAGE_CLASS),
        irritant=(_EYE_IRRITANT, _EYE_IRRITANT_CLASS),
    )
    worse = [
        (alone, who, now)
        for (alone, who), now in ((skin_alone, skin), (eye_alone, eye))
        if alone is not None and _rank(alone) > _rank(now)
    ]
    return [
        Alternative(
            "Each ingredient alone, not added up",
            str(alone),
            f"{who} is of a kind (phenol, acid, base, salt, aldehyde, surfactant) that may act below the summed limits",
            gives=(alone,),
            instead_of=_present(now),
            names=(who,) if _burns(alone) else (),
        )
        for alone, who, now in worse
    ]


def _may_act_alone(ingredients: Sequence[Ingredient], skin: HazardClass | None) -> tuple[str, ...]:
    """Say of a corrosive of which nobody knows the kind what it would be by the tables without adding up."""
    return tuple(
        f"{listing([ingredient])} is itself {hazard}. If it is an acid, base, salt, phenol, aldehyde or surfactant, a "
        f"cautious reading of CLP takes 1 % as enough for {_CORROSIVE_CLASS}: ask the supplier."
        for ingredient in ingredients
        for hazard in ingredient.hazards(_SKIN_CORROSIVE)[:1]
        if not ingredient.families
        and not _burns(skin)
        and ingredient.lowest_limit(_SKIN_CORROSIVE, _SKIN_IRRITANT) is None
        and reaches(ingredient.high_percent, _ALONE_DAMAGE_LIMIT)
    )


def _alone(
    ingredients: Sequence[Ingredient],
    *,
    damaging: tuple[tuple[str, ...], HazardClass],
    irritant: tuple[str, HazardClass],
) -> tuple[HazardClass | None, str]:
    for ingredient in ingredients:
        if ingredient.has(*damaging[0]) and reaches(ingredient.high_percent, _ALONE_DAMAGE_LIMIT):
            return damaging[1], ingredient.name
    for ingredient in ingredients:
        if ingredient.has(irritant[0]) and reaches(ingredient.high_percent, _ALONE_IRRITANT_LIMIT):
            return irritant[1], ingredient.name
    return None, ""


def _burns(hazard: HazardClass | None) -> bool:
    return hazard is not None and hazard.name in (_SKIN_CORROSIVE, _EYE_DAMAGE)


def _rank(hazard: HazardClass | None) -> int:
    return 0 if hazard is None else 2 if _burns(hazard) else 1


def _present(*hazards: HazardClass | None) -> tuple[HazardClass, ...]:
    return tuple(hazard for hazard in hazards if hazard is not None)


def _outcome(skin: HazardClass | None, eye: HazardClass | None) -> str:
    return ", ".join(map(str, _present(skin, eye))) or "not classified"
