"""Water life, flammability and oxidisers: what a mixture does to its surroundings.

Source: CLP Annex I 4.1 (Tables 4.1.1 and 4.1.2 from memory, cut-offs read in reachlex.eu) and 2.6.1 (from memory).
"""

from collections.abc import Sequence

from ..classes import HazardClass
from .model import Finding, Ingredient, Reason, listing, reaches, total

_ACUTE, _CHRONIC = "Aquatic Acute", "Aquatic Chronic"
_SUM_LIMIT, _CUT_OFF, _MOST_TOXIC_CUT_OFF = 25.0, 1.0, 0.1  # [% w/w], the last over the M-factor
_LARGEST_M = 1_000  # of Table 4.1.3, from memory
_PHYSICAL = (
    "Expl.", "Flam. Gas", "Aerosol", "Ox. Gas", "Press. Gas", "Flam. Sol.", "Self-react.", "Org. Perox.", "Pyr. Liq.",
    "Pyr. Sol.", "Self-heat.", "Water-react.", "Ox. Liq.", "Ox. Sol.", "Met. Corr.", "Desen. Expl.", "Ozone",
)  # fmt: skip


def aquatic(ingredients: Sequence[Ingredient]) -> Finding:
    """Classify the danger to water life by summation.

    An M-factor nobody has given is taken as 1; the working says so, and it is an open point where more would tell.

    Parameters:
        ingredients: The declared ingredients, a sequence. [-]
    Returns:
        Classes, working and open points. [-]
    """
    acutely, lastingly = _most_toxic(ingredients, _ACUTE), _most_toxic(ingredients, _CHRONIC)
    reasons = [*_weights(acutely, _ACUTE), *_weights(lastingly, _CHRONIC)]
    classes: list[HazardClass] = []
    if reaches(total(i.high_percent * factor for i, factor in acutely), _SUM_LIMIT):
        classes.append(HazardClass(_ACUTE, "1", "H400"))
    first = total(i.high_percent * factor for i, factor in lastingly)
    unweighted = total(i.high_percent for i, _ in lastingly)
    second, third, fourth = (_summed(ingredients, category) for category in ("2", "3", "4"))
    tests = (
        ("1", "H410", first),
        ("2", "H411", 10 * first + second),
        ("3", "H412", 100 * first + 10 * second + third),
        ("4", "H413", unweighted + second + third + fourth),
    )
    for category, code, content in tests:
        if reaches(content, _SUM_LIMIT):
            reasons.append(
                Reason("Water life", f"chronic sum {content:g} reaches 25: Aquatic Chronic {category} {code}")
            )
            classes.append(HazardClass(_CHRONIC, category, code))
            break
    else:
        if any(content for _, _, content in tests):
            reasons.append(Reason("Water life", f"chronic sum {tests[2][2]:g} (weighted for category 3) is below 25"))
    return Finding(classes=tuple(classes), reasons=tuple(reasons), open_points=_unknown_factors(ingredients, classes))


def _unknown_factors(ingredients: Sequence[Ingredient], classes: Sequence[HazardClass]) -> tuple[str, ...]:
    """Name whose M-factor nobody has given, unless the mixture has the worst class already."""
    named = dict.fromkeys(
        ingredient.name
        for name in (_ACUTE, _CHRONIC)
        if not any(hazard.name == name and hazard.category == "1" for hazard in classes)
        for ingredient in ingredients
        if _m_factor(ingredient, name) is None
        and any(hazard.category == "1" for hazard in ingredient.hazards(name))
        and reaches(ingredient.high_percent, _MOST_TOXIC_CUT_OFF / _LARGEST_M)
    )
    if not named:
        return ()
    return (f"Water life: no M-factor is known for {', '.join(named)}. Counted once, it may count ten times or more.",)


def _most_toxic(ingredients: Sequence[Ingredient], name: str) -> list[tuple[Ingredient, float]]:
    """Return the category 1 ingredients from 0.1/M %, each with its factor."""
    counted = []
    for ingredient in ingredients:
        given = _m_factor(ingredient, name)
        factor = 1.0 if given is None else given
        carried = any(hazard.category == "1" for hazard in ingredient.hazards(name))
        if carried and reaches(ingredient.high_percent, _MOST_TOXIC_CUT_OFF / factor):
            counted.append((ingredient, factor))
    return counted


def _m_factor(ingredient: Ingredient, name: str) -> float | None:
    return ingredient.m_acute if name == _ACUTE else ingredient.m_chronic


def _weights(counted: Sequence[tuple[Ingredient, float]], name: str) -> list[Reason]:
    lines = []
    for ingredient, factor in counted:
        note = " (M assumed 1)" if _m_factor(ingredient, name) is None else ""
        lines.append(Reason(name, f"{listing([ingredient])} × {factor:g}{note}"))
    return lines


def _summed(ingredients: Sequence[Ingredient], category: str) -> float:
    return total(
        i.high_percent
        for i in ingredients
        if reaches(i.high_percent, _CUT_OFF) and category in {hazard.category for hazard in i.hazards(_CHRONIC)}
    )


def flammable_liquid(*, flash_point_celsius: float, boiling_point_celsius: float | None) -> HazardClass | None:
    """Return the flammable liquid class of a flash point.

    Parameters:
        flash_point_celsius: Measured or calculated, never scaled from a content. [°C]
        boiling_point_celsius: Initial boiling point; None is taken as above 35 °C. [°C]
    Returns:
        Category 1 to 3, or None above 60 °C. [-]
    Source:
        CLP Annex I Table 2.6.1 (from memory).

    >>> str(flammable_liquid(flash_point_celsius=12, boiling_point_celsius=82))
    'Flam. Liq. 2 H225'
    """
    if flash_point_celsius < 23:
        boils_low = boiling_point_celsius is not None and boiling_point_celsius <= 35
        return HazardClass("Flam. Liq.", "1", "H224") if boils_low else HazardClass("Flam. Liq.", "2", "H225")
    return HazardClass("Flam. Liq.", "3", "H226") if flash_point_celsius <= 60 else None


def physical(
    ingredients: Sequence[Ingredient], *, flash_point_celsius: float | None, boiling_point_celsius: float | None
) -> Finding:
    """Classify what follows from a flash point or a specific limit, and name what only a test can decide.

    Parameters:
        ingredients: The declared ingredients, a sequence. [-]
        flash_point_celsius: Of the mixture, or None when not known. [°C]
        boiling_point_celsius: Of the mixture, or None when not known. [°C]
    Returns:
        Classes, working and open points. [-]
    """
    classes: list[HazardClass] = []
    reasons: list[Reason] = []
    open_points: list[str] = []
    if flash_point_celsius is not None:
        liquid = flammable_liquid(flash_point_celsius=flash_point_celsius, boiling_point_celsius=boiling_point_celsius)
        reasons.append(Reason("Flammability", f"flash point {flash_point_celsius:g} °C: {liquid or 'no class'}"))
        classes += [liquid] if liquid else []
    else:
        for ingredient in ingredients:
            if ingredient.high_percent > 0 and ingredient.has("Flam. Liq."):
                content = listing([ingredient])
                open_points.append(f"Flammability needs the flash point of the mixture: it contains {content}.")
    for name in _PHYSICAL:
        reached = []
        for ingredient in ingredients:
            limits = [limit for limit in ingredient.limits if limit.hazard.name == name]
            reached += [limit.hazard for limit in limits if reaches(ingredient.high_percent, limit.from_percent)]
            if not limits and ingredient.high_percent > 0 and ingredient.has(name):
                content = listing([ingredient])
                open_points.append(f"{name} is decided by test or by the supplier: the mixture contains {content}.")
        if reached:
            worst = min(reached, key=lambda hazard: hazard.category)
            reasons.append(Reason(name, f"specific limit reached: {worst}"))
            classes.append(worst)
    return Finding(classes=tuple(classes), reasons=tuple(reasons), open_points=tuple(open_points))
