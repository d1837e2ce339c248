"""From what is entered of a product to what its solutions can do to a person: every room asks here.

`labsys.hazards.solution` works it out, and keeps each answer by the very entries it was made from.
"""

from sqlalchemy.orm import object_session

from labsys.hazards.classes import read_class
from labsys.hazards.concentrate import Concentrate
from labsys.hazards.concentration import PPM_PER_PERCENT
from labsys.hazards.density import Density
from labsys.hazards.errors import HazardsError
from labsys.hazards.mixtures import Choice, Ingredient, read_limit
from labsys.hazards.mixtures.model import Ate, Route
from labsys.hazards.nations import Rules, rules_of
from labsys.hazards.reference import filled_from_list
from labsys.hazards.solution import SolutionHazards, solution_hazards
from labsys.hazards.spans import Span
from labsys.hazards.substances import families_of
from labsys.hazards.tables import items_of
from labsys.products.densities import density_of_kind
from labsys.products.models import Product, ProductDilution
from labsys.products.rules import NOT_CLASSIFIED, codes_of
from labsys.products.sheet import ATE_ROUTES, StatedIngredient
from labsys.quantities import MILLI
from labsys.records import queries as records
from labsys.timetable.local_time import day_words


def hazards_of(product: Product, *, water_parts_milli: int | None = None) -> SolutionHazards:
    """Return what a dilution of a product can do to a person, or the product as supplied without one."""
    return solution_hazards(concentrate_of(product), water_parts_milli=water_parts_milli)


def concentrate_of(product: Product) -> Concentrate:
    """Return a product as the calculation takes it: its entries and the readings chosen for them as they now stand."""
    rules, ingredients, unreadable = rules_for(product), [], ""
    for row in product.ingredients:
        try:
            ingredients.append(as_ingredient(row.stated, rules=rules))
        except HazardsError as error:  # entered before it was checked, or put there by another hand
            unreadable = f"what is entered of {row.name} cannot be read ({error})"
    return Concentrate(
        name=product.name,
        rules=rules,
        h_codes=codes_of(product.h_codes),
        is_declared=bool(product.h_codes),
        ingredients=tuple(ingredients),
        unreadable=unreadable,
        density=density_of(product),
        powder_g_per_l=_figure(product.powder_mg_per_l),
        ph=_ph_by_dilution(product),
        flash_point_celsius=_figure(product.flash_point_milli_c),
        viscosity_mm2_s=_figure(product.viscosity_milli),
        unknown_toxicity_percent=(product.unknown_toxicity_ppm or 0) / PPM_PER_PERCENT,
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


def density_of(product: Product) -> Density:
    """Return its density as stated, or the bounds for its kind, named as an assumption."""
    span = _span(product.density_mg_per_ml, product.density_high_mg_per_ml or product.density_mg_per_ml)
    return Density(span) if span else density_of_kind(product.kind)


def as_ingredient(stated: StatedIngredient, *, rules: Rules = Rules.GB) -> Ingredient:
    """Turn an ingredient as entered from the SDS into one to calculate with; the high end of its range counts.

    Where the SDS states no limit, M-factor or estimate, that of the reference list stands in; where its
    classes are not entered, those of the list do, and off the list it is of unknown toxicity; one "not classified" is
    harmless. Raises HazardsError where a class or a limit cannot be read.
    """
    texts = items_of(stated.classification)
    amounts = {route: getattr(stated, name) for name, route in ATE_ROUTES.items()}
    ingredient = Ingredient(
        name=stated.name,
        cas=stated.cas,
        high_percent=stated.high_ppm / PPM_PER_PERCENT,
        low_percent=None if stated.low_ppm == stated.high_ppm else stated.low_ppm / PPM_PER_PERCENT,
        classes=tuple(read_class(text) for text in texts if not text.startswith("EUH") and text != NOT_CLASSIFIED),
        euh=tuple(text for text in texts if text.startswith("EUH")),
        limits=tuple(read_limit(text) for text in items_of(stated.specific_limits)),
        families=families_of(cas=stated.cas, name=stated.name),
        m_acute=stated.m_acute,
        m_chronic=stated.m_chronic,
        ates=tuple(Ate(route, amount / MILLI) for route, amount in amounts.items() if amount is not None),
        unknown_toxicity=frozenset() if texts else frozenset(Route) - {r for r, amount in amounts.items() if amount},
        has_workplace_limit=bool(stated.workplace_limit),
    )
    return filled_from_list(ingredient, is_classed=bool(texts), rules=rules)


def _ph_by_dilution(product: Product) -> tuple[tuple[int, Span], ...]:
    """The stated pH, 0 for the undiluted product; rows of one dilution make one range of it."""
    rows: list[tuple[int, Product | ProductDilution]] = [(0, product)]
    rows += [(row.water_parts_milli, row) for row in product.dilutions]
    by_dilution: dict[int, Span] = {}
    for milli, row in rows:
        if span := _span(row.ph_low_milli, row.ph_high_milli):
            so_far = by_dilution.get(milli, span)
            by_dilution[milli] = Span(min(so_far.low, span.low), max(so_far.high, span.high))
    return tuple(by_dilution.items())


def _span(low_milli: int | None, high_milli: int | None) -> Span | None:
    return None if low_milli is None or high_milli is None else Span(low_milli / MILLI, high_milli / MILLI)


def _figure(amount: int | None) -> float | None:
    return None if amount is None else amount / MILLI


def rules_for(product: Product) -> Rules:
    """Whose rules hold in the lab that keeps the product."""
    session = object_session(product)
    return rules_of(records.nation(session)) if session is not None else Rules.EU
