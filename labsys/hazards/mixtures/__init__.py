"""Classification of mixtures from their declared ingredients: the calculation rules of CLP, with the working shown."""

from .acute import acute_toxicity, category_of, mixture_ate
from .classify import Part, blend, classify, dilute, strength_by_mass
from .model import (
    Alternative,
    Ate,
    Classification,
    Ingredient,
    Reason,
    Route,
    SpecificLimit,
    Supplement,
    read_limit,
)
from .readings import Choice, settle
from .surroundings import flammable_liquid

__all__ = [
    "Alternative",
    "Ate",
    "Choice",
    "Classification",
    "Ingredient",
    "Part",
    "Reason",
    "Route",
    "SpecificLimit",
    "Supplement",
    "acute_toxicity",
    "blend",
    "category_of",
    "classify",
    "dilute",
    "flammable_liquid",
    "mixture_ate",
    "read_limit",
    "settle",
    "strength_by_mass",
]
