"""What the reference list of substances adds to an ingredient of which the sheet states less."""

from dataclasses import replace

from .errors import UnknownSubstance
from .exposure_limits import has_limit
from .mixtures import Ingredient
from .mixtures.acute import is_milder_than_classed
from .nations import Rules
from .substances import substance


def filled_from_list(ingredient: Ingredient, *, is_classed: bool, rules: Rules) -> Ingredient:
    """Return an ingredient with the list's limits, M-factors and estimates where its sheet states none.

    The sheet wins where it states something; an estimate of the list milder than the class on the sheet is left out.

    Parameters:
        ingredient: An ingredient as its sheet states it. [-]
        is_classed: Whether the sheet's classes are entered, or that it has none; else the list's stand in. [-]
        rules: Whose list of harmonised entries. [-]
    Returns:
        The same one where its substance is not on the list. [-]
    """
    cas = ingredient.cas
    if cas is None:
        return ingredient
    try:
        listed = substance(cas, rules=rules)
    except UnknownSubstance:
        return ingredient
    if not is_classed:
        ingredient = replace(
            ingredient, classes=listed.classes, euh=listed.euh, unknown_toxicity=frozenset(), is_by_list=True
        )
    routes = {ate.route for ate in ingredient.ates}
    more = (ate for ate in listed.ates if ate.route not in routes and not is_milder_than_classed(ingredient, ate))
    return replace(
        ingredient,
        limits=ingredient.limits or (listed.limits if ingredient.classes else ()),
        m_acute=listed.m_acute if ingredient.m_acute is None else ingredient.m_acute,
        m_chronic=listed.m_chronic if ingredient.m_chronic is None else ingredient.m_chronic,
        ates=(*ingredient.ates, *more),
        has_workplace_limit=ingredient.has_workplace_limit or has_limit(cas),
    )
