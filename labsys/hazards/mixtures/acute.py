"""Acute toxicity: category bounds, converted estimates and the formula for a mixture.

Source: CLP Annex I 3.1: Table 3.1.1 (read), Table 3.1.2 (from memory), 3.1.3.6.1 and 3.1.3.6.2.3 (read in
UN ST/SG/AC.10/C.4/2008/23, example 3.1(d)). CLP counts what falls into its categories 1 to 4; the UN's own text counts
its Category 5 as well, by mouth and skin up to 5000 mg/kg (from memory, as its example 3.1(a) works).
"""

from collections.abc import Sequence
from enum import StrEnum

from ..classes import HazardClass
from .model import Alternative, Ate, Finding, Ingredient, Reason, Route, reaches, total

_BOUNDS: dict[Route, tuple[float, float, float, float]] = {  # upper ends of categories 1 to 4, inclusive
    Route.ORAL: (5, 50, 300, 2000),  # [mg/kg]
    Route.DERMAL: (50, 200, 1000, 2000),  # [mg/kg]
    Route.GAS: (100, 500, 2500, 20000),  # [ppmV]
    Route.VAPOUR: (0.5, 2.0, 10.0, 20.0),  # [mg/L]
    Route.DUST_MIST: (0.05, 0.5, 1.0, 5.0),  # [mg/L]
}
_UN_HIGHEST = {Route.ORAL: 5000.0, Route.DERMAL: 5000.0}  # [mg/kg], the end of the UN's Category 5
_CONVERTED: dict[Route, tuple[float, float, float, float]] = {  # when only the category is known
    Route.ORAL: (0.5, 5, 100, 500),
    Route.DERMAL: (5, 50, 300, 1100),
    Route.GAS: (10, 100, 700, 4500),
    Route.VAPOUR: (0.05, 0.5, 3, 11),
    Route.DUST_MIST: (0.005, 0.05, 0.5, 1.5),
}
_ORAL = ("H300", "H300", "H301", "H302")
_DERMAL = ("H310", "H310", "H311", "H312")
_INHALED = ("H330", "H330", "H331", "H332")
_CODES = {
    Route.ORAL: _ORAL,
    Route.DERMAL: _DERMAL,
    Route.GAS: _INHALED,
    Route.VAPOUR: _INHALED,
    Route.DUST_MIST: _INHALED,
}
_INHALED_FORMS = (Route.DUST_MIST, Route.VAPOUR, Route.GAS)
UNIT_OF_ROUTE = {
    Route.ORAL: "mg/kg",
    Route.DERMAL: "mg/kg",
    Route.GAS: "ppmV",
    Route.VAPOUR: "mg/L",
    Route.DUST_MIST: "mg/L",
}


UNKNOWN_PART = "ingredients of unknown toxicity"


def unknown_part(percent: float) -> Ingredient:
    """Return the part of a mixture of which its SDS says only that nobody knows how poisonous it is.

    Parameters:
        percent: Its share. [% w/w]
    Returns:
        An ingredient unknown by every route. [-]
    """
    return Ingredient(name=UNKNOWN_PART, high_percent=percent, unknown_toxicity=frozenset(Route))


class Bounds(StrEnum):
    """Whose categories say which ingredients count."""

    CLP = "CLP"
    UN = "UN"


def category_of(*, route: Route, ate: float) -> str | None:
    """Return the acute toxicity category of an estimate.

    Parameters:
        route: The route, which sets the unit. [-]
        ate: The acute toxicity estimate. [mg/kg, mg/L or ppmV]
    Returns:
        "1" to "4", or None above the last bound. [-]
    Source:
        CLP Annex I Table 3.1.1 (consolidated version 20250901, read in reachlex.eu); upper bounds inclusive.

    >>> category_of(route=Route.ORAL, ate=300)
    '3'
    """
    for category, bound in enumerate(_BOUNDS[route], start=1):
        if ate <= bound * (1 + 1e-9):
            return str(category)
    return None


def is_milder_than_classed(ingredient: Ingredient, ate: Ate) -> bool:
    """Say whether an estimate would rate an ingredient milder than its own class does.

    Parameters:
        ingredient: With its supplier's classes. [-]
        ate: An estimate from elsewhere. [-]
    Returns:
        False where it has no class by that route. [-]
    """
    classed = [hazard.category for hazard in ingredient.hazards("Acute Tox.") if hazard.code in _CODES[ate.route]]
    return bool(classed) and (category_of(route=ate.route, ate=ate.value) or "5") > min(classed)


def mixture_ate(ingredients: Sequence[Ingredient], *, route: Route, bounds: Bounds = Bounds.CLP) -> float | None:
    """Return the acute toxicity estimate of a mixture by one route.

    Parameters:
        ingredients: The declared ingredients, a sequence. [-]
        route: The route; the inhaled forms are worked out apart. [-]
        bounds: Whose categories an ingredient must fall into to count. [-]
    Returns:
        The estimate, or None when no ingredient counts. [mg/kg, mg/L or ppmV]
    Source:
        CLP Annex I 3.1.3.6.1, and 3.1.3.6.2.3 where unknown ingredients of 1 % or more exceed 10 % together.
    """
    fractions = [
        ingredient.high_percent / estimate
        for ingredient in ingredients
        if (estimate := _counted_estimate(ingredient, route, bounds)) is not None
    ]
    if not fractions:
        return None
    unknown = _unknown_percent(ingredients, route)
    known_part = 100 - unknown if unknown > 10 else 100.0
    return max(known_part, 0.0) / sum(fractions)


def acute_toxicity(ingredients: Sequence[Ingredient]) -> Finding:
    """Classify acute toxicity by each route, the most severe inhaled form counting.

    An inhalation category that names no form is worked out as dust or mist; where the vapour columns would give another
    result, that is shown as an alternative. So is the result of the UN's own text.

    Parameters:
        ingredients: The declared ingredients, a sequence. [-]
    Returns:
        Classes, working and alternatives. [-]
    """
    classes: list[HazardClass] = []
    reasons: list[Reason] = []
    alternatives: list[Alternative] = []
    names: list[str] = []
    for forms in ((Route.ORAL,), (Route.DERMAL,), _inhaled_forms_in_use(ingredients)):
        results = [(result, form) for form in forms if (result := _by_route(ingredients, form, reasons)) is not None]
        worst = min((hazard for hazard, _ in results), default=None)
        if worst is not None:
            classes.append(worst)
            names += [i.name for i in ingredients if any(_counted_estimate(i, form) is not None for _, form in results)]
        if forms == (Route.DUST_MIST,):
            as_vapour = _by_route(ingredients, Route.VAPOUR, [])
            if as_vapour != worst:
                outcome = str(as_vapour) if as_vapour else "no class by inhalation"
                why = "the sheets give a category for inhalation but not whether it is for dust, mist or vapour"
                alternatives.append(
                    Alternative(
                        "Vapour columns for inhalation",
                        outcome,
                        why,
                        gives=(as_vapour,) if as_vapour else (),
                        instead_of=(worst,) if worst else (),
                        hangs_on="the form in which it is breathed in",
                    )
                )
        alternatives += _by_the_un(ingredients, forms[0], worst, reasons)
    return Finding(
        classes=tuple(classes),
        reasons=tuple(reasons),
        alternatives=tuple(alternatives),
        names=tuple(names),
        notices=unknown_notices(ingredients),
    )


def _by_the_un(
    ingredients: Sequence[Ingredient], route: Route, by_clp: HazardClass | None, reasons: list[Reason]
) -> list[Alternative]:
    """The second reading, where the UN's Category 5 makes a difference by mouth or skin."""
    if route not in _UN_HIGHEST or (estimate := mixture_ate(ingredients, route=route, bounds=Bounds.UN)) is None:
        return []
    category = category_of(route=route, ate=estimate)
    told = f"ATE {estimate:.4g} {UNIT_OF_ROUTE[route]} with the ingredients of the UN's Category 5"
    if category is None:
        if estimate <= _UN_HIGHEST[route]:
            reasons.append(Reason(f"Acute toxicity, {route}", f"UN: {told}: its Category 5, which CLP does not have"))
        return []
    by_un = HazardClass("Acute Tox.", category, _CODES[route][int(category) - 1])
    if by_un == by_clp:
        return []
    return [
        Alternative(
            f"UN GHS, {route}",
            str(by_un),
            f"{told}; CLP counts categories 1 to 4 only",
            gives=(by_un,),
            instead_of=(by_clp,) if by_clp else (),
            names=tuple(i.name for i in ingredients if _counted_estimate(i, route, Bounds.UN) is not None),
        )
    ]


def _by_route(ingredients: Sequence[Ingredient], route: Route, reasons: list[Reason]) -> HazardClass | None:
    estimate = mixture_ate(ingredients, route=route)
    if estimate is None:
        return None
    category = category_of(route=route, ate=estimate)
    unknown = _unknown_percent(ingredients, route)
    left_out = f", {unknown:g} % of unknown toxicity left out" if unknown > 10 else ""
    outcome = f"category {category}" if category else f"above {_BOUNDS[route][3]:g}, no class"
    topic = f"Acute toxicity, {route}"
    reasons += [
        Reason(topic, f"{told.name}: its estimate of {ate.value:g} is milder than its class, so the class counts")
        for told in ingredients
        for ate in told.ates
        if ate.route is route and is_milder_than_classed(told, ate)
    ]
    reasons.append(Reason(topic, f"ATE of the mixture {estimate:.4g} {UNIT_OF_ROUTE[route]}{left_out}: {outcome}"))
    if category is None:
        return None
    return HazardClass("Acute Tox.", category, _CODES[route][int(category) - 1])


def _counted_estimate(ingredient: Ingredient, route: Route, bounds: Bounds = Bounds.CLP) -> float | None:
    estimate = _estimate(ingredient, route)
    highest = _BOUNDS[route][-1] if bounds is Bounds.CLP else _UN_HIGHEST.get(route, _BOUNDS[route][-1])
    if estimate is None or estimate > highest * (1 + 1e-9):
        return None
    category = category_of(route=route, ate=estimate)
    cut_off = 0.1 if category in ("1", "2", "3") else 1.0
    return estimate if reaches(ingredient.high_percent, cut_off) else None


def _estimate(ingredient: Ingredient, route: Route) -> float | None:
    given = {ate.route: ate for ate in ingredient.ates}
    if route in given and not is_milder_than_classed(ingredient, given[route]):
        return given[route].value
    if route not in given and route in _INHALED_FORMS and any(form in given for form in _INHALED_FORMS):
        return None  # rated in another form
    categories = [hazard.category for hazard in ingredient.hazards("Acute Tox.") if hazard.code in _CODES[route]]
    return _CONVERTED[route][int(min(categories)) - 1] if categories else None


def _inhaled_forms_in_use(ingredients: Sequence[Ingredient]) -> tuple[Route, ...]:
    given = {ate.route for ingredient in ingredients for ate in ingredient.ates}
    named = tuple(form for form in _INHALED_FORMS if form in given)
    return named or (Route.DUST_MIST,)


def _unknown_percent(ingredients: Sequence[Ingredient], route: Route) -> float:
    return total(i.high_percent for i in ingredients if route in i.unknown_toxicity and reaches(i.high_percent, 1.0))


def unknown_notices(ingredients: Sequence[Ingredient]) -> tuple[str, ...]:
    """Return what a label declares of ingredients of unknown toxicity.

    Parameters:
        ingredients: The declared ingredients, a sequence. [-]
    Returns:
        A sentence for each way in by which 1 % or more is unknown, as UN example 3.1(d) prints it. [-]
    """
    kinds = {"oral": (Route.ORAL,), "dermal": (Route.DERMAL,), "inhalation": _INHALED_FORMS}
    unknown = {kind: max(_unknown_percent(ingredients, route) for route in routes) for kind, routes in kinds.items()}
    return tuple(
        f"{percent:g} % of the mixture consists of ingredients of unknown acute {kind} toxicity."
        for kind, percent in unknown.items()
        if percent
    )
