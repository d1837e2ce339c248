"""How long something keeps, as somebody types it: a number of hours or of days."""

from labsys.forms import FigureField, complain
from labsys.products.sheet import HOURS_PER_DAY

MOST_DAYS = 10 * 365
LONGEST_KEPT_HOURS = MOST_DAYS * HOURS_PER_DAY


def check_kept(keeps: FigureField, unit: str) -> None:
    """Complain at the field of what nothing mixed keeps for."""
    if unit == "days" and (keeps.amount or 0) > MOST_DAYS:
        complain(keeps, "Nothing mixed keeps for more than ten years. Check the unit.")


def hours_kept(keeps: FigureField, unit: str) -> int:
    """What was entered, of a valid field. [h]"""
    return (keeps.amount or 0) * (HOURS_PER_DAY if unit == "days" else 1)
