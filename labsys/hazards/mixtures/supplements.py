"""Supplemental statements (EUH) that follow from the ingredients.

Source: CLP Annex II: 2.8 and 2.10 read in reachonline.eu and reachlex.eu; 1.2 (gases with acid) from memory.
"""

from collections.abc import Collection, Sequence

from ..classes import Family, HazardClass
from .health import elicitation_limit, is_sensitiser
from .model import Finding, Ingredient, Reason, Supplement, listing, reaches

_FREED_WITH_ACID = {
    "EUH031": {
        Family.SULFITE: "sulfur dioxide",
        Family.THIOSULFATE: "sulfur dioxide",
        Family.SULFIDE: "hydrogen sulfide",
        Family.HYPOCHLORITE: "chlorine",
    },
    "EUH032": {Family.CYANIDE_COMPLEX: "hydrogen cyanide"},
}
_AIRWAYS, _AIRWAYS_FROM = "EUH071", 1.0  # [% w/w], the cut-off of what corrodes
_PHYSICAL_NAMES = ("Flam. Liq.", "Ox. Liq.", "Ox. Sol.", "Ox. Gas", "Press. Gas", "Flam. Gas", "Met. Corr.")
_DECLARED_FROM = {"Carc.": 0.1, "Repr.": 0.1, "Lact.": 0.1}  # [% w/w]


def by_limit(ingredients: Sequence[Ingredient]) -> Finding:
    """Return the supplemental statements for which an ingredient has a limit of its own.

    Parameters:
        ingredients: The declared ingredients, a sequence. [-]
    Returns:
        Statements and working. [-]
    """
    due: dict[str, str] = {}
    for ingredient in ingredients:
        for limit in ingredient.limits:
            if limit.hazard.name == "EUH" and reaches(ingredient.high_percent, limit.from_percent):
                due.setdefault(limit.hazard.code, f"{listing([ingredient])} reaches {limit.from_percent:g} %")
    return Finding(
        euh=tuple(Supplement(code, (), reason) for code, reason in due.items()),
        reasons=tuple(Reason(code, reason) for code, reason in due.items()),
    )


def gas_screening(ingredients: Sequence[Ingredient], *, official: Sequence[str]) -> tuple[Supplement, ...]:
    """Say which ingredients free a toxic gas with acid, whatever their content. A caution, not a classification.

    Parameters:
        ingredients: The declared ingredients, a sequence. [-]
        official: Codes already given by a limit, which are not repeated. [-]
    Returns:
        EUH031 and EUH032 with the ingredients that free the gas. [-]
    """
    gas_by_name: dict[str, dict[str, str]] = {}
    for ingredient in (i for i in ingredients if i.high_percent > 0):
        for code, gases in _FREED_WITH_ACID.items():
            if code in ingredient.euh or ingredient.families & gases.keys():
                gas_by_name.setdefault(code, {})[ingredient.name] = _gas_of(ingredient)
    return tuple(
        Supplement(code, tuple(freed), "; ".join(f"{name} with acid frees {gas}" for name, gas in freed.items()))
        for code, freed in sorted(gas_by_name.items())
        if code not in official
    )


def _gas_of(ingredient: Ingredient) -> str:
    gases = [
        gas for freed in _FREED_WITH_ACID.values() for family, gas in freed.items() if family in ingredient.families
    ]
    return " and ".join(dict.fromkeys(gases)) or "a toxic gas"


def corrodes_airways(
    ingredients: Sequence[Ingredient], classes: Collection[HazardClass], *, official: Collection[str]
) -> Finding:
    """Return EUH071 for a mixture that burns the airways, or say when it would.

    Parameters:
        ingredients: The declared ingredients, a sequence. [-]
        classes: What the mixture is classified as. [-]
        official: Codes already given by a limit, which are not repeated. [-]
    Returns:
        EUH071 where an ingredient that carries it, at 1 % or more, lies in a mixture that burns the skin or is
        poisonous to breathe in; a line of the working for any other mixture that burns the skin. [-]
    Source:
        CLP Annex II 1.2.6 and the note to Table 3.1.3 (from memory): beside inhalation toxicity by corrosion, and
        beside skin corrosion where nothing is tested and it can be breathed in.
    """
    if _AIRWAYS in official:
        return Finding()
    burns = any(hazard.code == "H314" for hazard in classes)
    poisons = any(hazard.code in ("H330", "H331", "H332") for hazard in classes)
    carriers = [
        i
        for i in ingredients
        if _AIRWAYS in i.euh and not _has_own_limit(i, _AIRWAYS) and reaches(i.high_percent, _AIRWAYS_FROM)
    ]
    if carriers and (burns or poisons):
        what = "burns skin" if burns else "is poisonous to breathe in"
        reason = f"{listing(carriers)} carries it, and the mixture {what}"
        return Finding(
            euh=(Supplement(_AIRWAYS, (), reason),),
            reasons=(Reason(_AIRWAYS, reason),),
            names=tuple(i.name for i in carriers),
        )
    if burns:
        point = "belongs to it where its spray or vapour can be breathed in and no test says otherwise"
        return Finding(reasons=(Reason(_AIRWAYS, point),))
    return Finding()


def _has_own_limit(ingredient: Ingredient, code: str) -> bool:
    return any(limit.hazard.code == code for limit in ingredient.limits)


def left_to_judgement(ingredients: Sequence[Ingredient], *, given: Collection[str]) -> Finding:
    """Name the supplemental statements of ingredients that no rule carries over to a mixture.

    Parameters:
        ingredients: The declared ingredients, a sequence. [-]
        given: Codes that the mixture has already. [-]
    Returns:
        One open point for each such statement; none where the ingredient has a limit for it. [-]
    """
    return Finding(
        open_points=tuple(
            f"{code} of {ingredient.name} is carried over by judgement: it holds {ingredient.high_percent:g} %."
            for ingredient in ingredients
            for code in ingredient.euh
            if ingredient.high_percent > 0
            and code not in (*_FREED_WITH_ACID, *given)
            and not _has_own_limit(ingredient, code)
        )
    )


def sheet_on_request(ingredients: Sequence[Ingredient]) -> Finding:
    """Return EUH210 for a mixture that is not classified but holds something that is.

    Parameters:
        ingredients: The declared ingredients of an unclassified mixture, a sequence. [-]
    Returns:
        EUH210 with the first reason, or nothing. [-]
    """
    for ingredient in ingredients:
        reason = _declared_because(ingredient)
        if reason:
            return Finding(euh=(Supplement("EUH210", (), reason),), reasons=(Reason("EUH210", reason),))
    return Finding()


def _declared_because(ingredient: Ingredient) -> str:
    content = listing([ingredient])
    if ingredient.high_percent == 0:
        return ""
    own = ingredient.lowest_limit("Resp. Sens.", "Skin Sens.")
    if is_sensitiser(ingredient):
        limit = min([elicitation_limit(ingredient), *([own / 10] if own is not None else [])])
        if reaches(ingredient.high_percent, limit):
            return f"{content} is a sensitiser at {limit:g} % or more"
    for name, limit in _DECLARED_FROM.items():
        if ingredient.has(name) and reaches(ingredient.high_percent, limit):
            return f"{content} is classified {name} at {limit:g} % or more"
    if reaches(ingredient.high_percent, 1.0):
        if any(hazard.name not in _PHYSICAL_NAMES for hazard in ingredient.classes):
            return f"{content} is classified for health or the environment, at 1 % or more"
        if ingredient.has_workplace_limit:
            return f"{content} has a workplace exposure limit, at 1 % or more"
    return ""
