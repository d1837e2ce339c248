"""Ingredients for tests, and the CAS numbers they are called by."""

from labsys.hazards.classes import read_class
from labsys.hazards.mixtures import Ingredient
from labsys.hazards.substances import substance

ACETIC, FORMALDEHYDE, NAOH, KOH = "64-19-7", "50-00-0", "1310-73-2", "1310-58-3"
HYDROQUINONE, METOL, SULFITE, CARBONATE, BROMIDE = "123-31-9", "55-55-0", "7757-83-7", "497-19-8", "7758-02-3"
SELENITE, PEROXIDE, BLEACH, SILVER_NITRATE = "10102-18-8", "7722-84-1", "7681-52-9", "7761-88-8"
AMMONIUM_DICHROMATE = "7789-09-5"
DEVELOPER = {HYDROQUINONE: 1.2, METOL: 0.3, SULFITE: 8, CARBONATE: 7, BROMIDE: 0.2}


def of(parts):
    """Ingredients from the reference table: CAS number to % w/w."""
    return [substance(cas).as_ingredient(high_percent=percent) for cas, percent in parts.items()]


def plain(name, percent, *classes, **more):
    """An ingredient of no particular substance."""
    return Ingredient(name=name, high_percent=percent, classes=tuple(read_class(text) for text in classes), **more)
