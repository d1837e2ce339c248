"""From what is entered of a product to what its solutions can do to a person: every room asks here.

`labsys.hazards.solution` works it out, and keeps each answer by the very entries it was made from.
"""

from sqlalchemy.orm import object_session

from labsys.hazards.classes import read_class
from labsys.hazards.errors import HazardsError
from labsys.hazards.mixtures import Choice, Ingredient, read_limit
from labsys.hazards.nations import Rules, rules_of
from labsys.hazards.solution import Concentrate, SolutionHazards, solution_hazards
from labsys.hazards.substances import families_of
from labsys.hazards.tables import items_of
from labsys.products.models import Product
from labsys.products.sheet import StatedIngredient
from labsys.records import queries as records
from labsys.timetable.local_time import day_words

_PPM_PER_PERCENT = 10_000
_MG_PER_G = 1_000


def hazards_of(product: Product, *, water_parts_milli: int | None = None) -> SolutionHazards:
    """Return what a dilution of a product can do to a person, or the product as supplied without one."""
    return solution_hazards(concentrate_of(product), water_parts_milli=water_parts_milli)


def concentrate_of(product: Product) -> Concentrate:
    """Return a product as the calculation takes it: its entries and the readings chosen for them as they now stand."""
    density, powder = product.density_mg_per_ml, product.powder_mg_per_l
    ingredients, unreadable = [], ""
    for row in product.ingredients:
        try:
            ingredients.append(as_ingredient(row.stated))
        except HazardsError as error:  # entered before it was checked, or put there by another hand
            unreadable = f"what is entered of {row.name} cannot be read ({error})"
    return Concentrate(
        name=product.name,
        rules=_rules_for(product),
        h_codes=tuple(product.h_codes.split()),
        ingredients=tuple(ingredients),
        unreadable=unreadable,
        density_g_per_ml=None if density is None else density / _MG_PER_G,
        powder_g_per_l=None if powder is None else powder / _MG_PER_G,
        choices=tuple(
            (
                choice.water_parts_milli,
                (choice.rule, choice.outcome),
                Choice(
                    choice.takes_alternative,
                    f"chosen by {choice.chosen_by.name} on {day_words(choice.chosen_at.date())}: {choice.reason}",
                ),
            )
            for choice in product.hazard_choices
            if choice.version == product.version
        ),
    )


def as_ingredient(stated: StatedIngredient) -> Ingredient:
    """Turn an ingredient as entered from the SDS into one to calculate with; the high end of its range counts.

    Raises HazardsError where a class or a limit cannot be read.
    """
    texts = items_of(stated.classification)
    return Ingredient(
        name=stated.name,
        cas=stated.cas,
        high_percent=stated.high_ppm / _PPM_PER_PERCENT,
        classes=tuple(read_class(text) for text in texts if not text.startswith("EUH")),
        euh=tuple(text for text in texts if text.startswith("EUH")),
        limits=tuple(read_limit(text) for text in items_of(stated.specific_limits)),
        families=families_of(cas=stated.cas, name=stated.name),
        m_acute=stated.m_acute,
        m_chronic=stated.m_chronic,
    )


def _rules_for(product: Product) -> Rules:
    """Whose rules hold in the lab that keeps the product."""
    session = object_session(product)
    return rules_of(records.nation(session)) if session is not None else Rules.EU
