"""What the reference list of substances adds to an ingredient of which the sheet states less, or something milder.

A published entry is a floor: a supplier may classify more strictly, never less. What this project keeps above the entry
stays as well, for protection, with its source. What only a test decides (fire, pressure) is left to the supplier.
"""

from collections.abc import Iterable
from dataclasses import replace

from .classes import HazardClass
from .errors import UnknownSubstance
from .exposure_limits import has_limit
from .harmonised import Harmonised
from .mixtures import Ingredient
from .mixtures.acute import is_milder_than_classed
from .nations import Rules
from .substances import Substance, classes_above, substance

_BY_TEST = "H2"
_BELOW = (
    "Entered below the published list: {what} ({entry.rules} list, entry {entry.index_number}, {entry.edition}). A "
    "supplier may classify more strictly, never less: compare with the SDS, and ask the supplier where it says so."
)
_STANDS = "The stricter is calculated with."


def filled_from_list(ingredient: Ingredient, *, is_classed: bool, rules: Rules) -> Ingredient:
    """Return an ingredient with what the list has where its sheet states nothing, or something milder than its entry.

    An estimate or a limit of the sheet's own wins; an estimate of the list milder than the class is left out.

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
    elif listed.entry is not None:
        ingredient = _raised(ingredient, listed, listed.entry)
    routes = {ate.route for ate in ingredient.ates}
    more = (ate for ate in listed.ates if ate.route not in routes and not is_milder_than_classed(ingredient, ate))
    return replace(
        ingredient,
        limits=ingredient.limits or (listed.limits if ingredient.classes else ()),
        m_acute=listed.m_acute if ingredient.m_acute is None else ingredient.m_acute,
        m_chronic=listed.m_chronic if ingredient.m_chronic is None else ingredient.m_chronic,
        ates=(*ingredient.ates, *more),
        minimum=tuple(hazard for hazard in listed.minimum if hazard in ingredient.classes),
        has_workplace_limit=ingredient.has_workplace_limit or has_limit(cas),
    )


def _raised(ingredient: Ingredient, listed: Substance, entry: Harmonised) -> Ingredient:
    """The ingredient with every class, statement and M-factor of the list that what is entered stays below."""
    classes = _calculated(classes_above(listed.classes, ingredient.classes))
    euh = tuple(code for code in listed.euh if code not in ingredient.euh)
    kinds = {hazard.name for hazard in classes}
    factors = _factors_above(ingredient, entry)
    told = _told(ingredient, listed, entry)
    return replace(
        ingredient,
        classes=(*classes_above(ingredient.classes, classes), *classes),
        euh=(*ingredient.euh, *euh),
        limits=(  # those of the sheet are for its own class
            *(limit for limit in ingredient.limits if limit.hazard.name not in kinds),
            *(limit for limit in listed.limits if limit.hazard.name in kinds and ingredient.limits),
        ),
        m_acute=factors.get("acute", ingredient.m_acute),
        m_chronic=factors.get("chronic", ingredient.m_chronic),
        raised=f"{told} {_STANDS}" if classes or euh or factors else told,
    )


def _calculated(classes: Iterable[HazardClass]) -> tuple[HazardClass, ...]:
    return tuple(hazard for hazard in classes if not hazard.code.startswith(_BY_TEST))


def _factors_above(ingredient: Ingredient, entry: Harmonised) -> dict[str, float]:
    """The M-factors of the entry that those of the sheet stay below."""
    stated = (ingredient.m_acute, ingredient.m_chronic)
    rows = zip(("acute", "chronic"), stated, entry.m_factors, strict=True)
    return {name: floor for name, own, floor in rows if own is not None and floor is not None and own < floor}


def _told(ingredient: Ingredient, listed: Substance, entry: Harmonised) -> str:
    """Say what of the list stands above what is entered: the published entry's, and what is kept with its source."""
    published = [
        *map(str, classes_above(entry.classes, ingredient.classes)),
        *(code for code in entry.euh if code not in ingredient.euh),
        *(f"M-factor {name} {factor:g}" for name, factor in _factors_above(ingredient, entry).items()),
    ]
    kept = [
        *map(str, _calculated(classes_above(listed.classes, (*entry.classes, *ingredient.classes)))),
        *(code for code in listed.euh if code not in (*entry.euh, *ingredient.euh)),
    ]
    return " ".join(
        [
            *([_BELOW.format(what="; ".join(published), entry=entry)] if published else []),
            *([f"Kept stricter for protection: {'; '.join(kept)} ({listed.source.rstrip('.')})."] if kept else []),
        ]
    )
