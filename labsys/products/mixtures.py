"""From a product's entries to the hazards of what is made from it.

The supplier's SDS wins for what is in the bottle. The calculation serves the working solution, and says so.
"""

from fractions import Fraction

from labsys.hazards.classes import Family, read_class
from labsys.hazards.errors import UnknownSubstance
from labsys.hazards.label import LabelElements, from_h_codes
from labsys.hazards.mixtures import Choice, Classification, classify, dilute, read_limit, settle, strength_by_mass
from labsys.hazards.mixtures import Ingredient as Part
from labsys.hazards.protective import Advice, advice_for
from labsys.hazards.substances import substance
from labsys.products.models import Product
from labsys.products.sheet import StatedIngredient
from labsys.quantities import MG_PER_KG
from labsys.timetable.local_time import day_words

_PPM_PER_PERCENT = 10_000


def as_ingredient(stated: StatedIngredient) -> Part:
    """Turn an ingredient as entered from the SDS into one to calculate with; the high end of its range counts.

    Raises HazardsError where a class or a limit cannot be read.
    """
    classes = tuple(read_class(text) for text in _items(stated.classification) if not text.startswith("EUH"))
    return Part(
        name=stated.name,
        cas=stated.cas,
        high_percent=stated.high_ppm / _PPM_PER_PERCENT,
        classes=classes,
        euh=tuple(text for text in _items(stated.classification) if text.startswith("EUH")),
        limits=tuple(read_limit(text) for text in _items(stated.specific_limits)),
        families=_families(stated.cas),
        m_acute=stated.m_acute,
        m_chronic=stated.m_chronic,
    )


def strength_fraction(product: Product, *, water_parts_milli: int) -> float:
    """Return the mass of the product in a working solution over the mass of the whole. [-]"""
    volume_fraction = Fraction(1_000, 1_000 + water_parts_milli)
    if product.powder_mg_per_l is not None:
        strength = float(volume_fraction * product.powder_mg_per_l / MG_PER_KG)  # a litre is taken to weigh a kilogram
    else:
        density = (product.density_mg_per_ml or 1_000) / 1_000
        strength = strength_by_mass(volume_fraction=float(volume_fraction), density_g_per_ml=density)
    return min(strength, 1.0)


def working_ingredients(product: Product, *, water_parts_milli: int) -> tuple[Part, ...]:
    """Return the ingredients of a working solution, each at its content in it."""
    parts = [as_ingredient(row.stated) for row in product.ingredients]
    return dilute(parts, strength_fraction=strength_fraction(product, water_parts_milli=water_parts_milli))


def working_solution(product: Product, *, water_parts_milli: int) -> Classification:
    """Classify a working solution by calculation from the product's ingredients: an estimate, never the SDS's word.

    Where two careful people may differ, the reading somebody chose stands, else the stricter one.
    """
    parts = working_ingredients(product, water_parts_milli=water_parts_milli)
    return settle(classify(parts), parts, choices=choices_for(product, water_parts_milli=water_parts_milli))


def choices_for(product: Product, *, water_parts_milli: int) -> dict[tuple[str, str], Choice]:
    """Return the readings chosen for a dilution of the product as its entries now stand; the newest choice counts."""
    return {
        (choice.rule, choice.outcome): Choice(
            choice.takes_alternative,
            f"chosen by {choice.chosen_by.name} on {day_words(choice.chosen_at.date())}: {choice.reason}",
        )
        for choice in product.hazard_choices
        if choice.version == product.version and choice.water_parts_milli == water_parts_milli
    }


def bottle_label(product: Product) -> LabelElements:
    """Return the label elements of a product as supplied, by the codes of its SDS."""
    names = tuple(row.name for row in product.ingredients)
    return from_h_codes(product.h_codes.split(), names=names, sensitisers=_sensitisers(product))


def bottle_advice(product: Product) -> Advice:
    """Return protection and cautions for handling a product as supplied."""
    codes = product.h_codes.split()
    return advice_for(
        h_codes=tuple(code for code in codes if not code.startswith("EUH")),
        euh_codes=tuple(code for code in codes if code.startswith("EUH")),
        sensitisers=_sensitisers(product),
        is_powder=product.powder_mg_per_l is not None,
    )


def _sensitisers(product: Product) -> tuple[str, ...]:
    return tuple(row.name for row in product.ingredients if "H317" in row.classification)


def _families(cas: str) -> frozenset[Family]:
    try:
        return substance(cas).families
    except UnknownSubstance:
        return frozenset()


def _items(text: str) -> list[str]:
    return [item.strip() for item in text.split(";") if item.strip()]
