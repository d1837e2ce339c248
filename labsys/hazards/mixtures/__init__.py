"""Classification of mixtures from their declared ingredients: the calculation rules of CLP, with the working shown."""

from .classify import classify, dilute, strength_by_mass
from .model import Alternative, Classification, Ingredient, SpecificLimit, read_limit
from .readings import Choice, settle
from .strictest import strictest

__all__ = [
    "Alternative",
    "Choice",
    "Classification",
    "Ingredient",
    "SpecificLimit",
    "classify",
    "dilute",
    "read_limit",
    "settle",
    "strength_by_mass",
    "strictest",
]
