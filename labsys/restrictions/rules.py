"""Decisions about personal restrictions: which products stand against which, and what is said to whom."""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from labsys.hazards.concentrate import SENSITISER_CODES
from labsys.hazards.personal import PersonalFamily, is_on_file, personal_families_of
from labsys.inductions.rules import in_a_row
from labsys.processes.models import Process
from labsys.products.models import Product, ProductIngredient
from labsys.records.errors import Refused

# One sentence for every refusal of a personal kind, whatever the process and whoever reads it, so that pages laid
# side by side tell nothing.
NOT_BOOKED_HERE = (
    "Not booked here. They book a process themselves, on their own account; "
    "you may book the place with the process left open."
)
NOT_ON_A_SHARED_SCREEN = "Not here. What is open to you stands on your own account: sign in on a device of your own."


class RestrictionRefused(Refused):
    """A personal restriction cannot be so; the message says why and what to do."""


class NotOpen(Refused):
    """A process is not open to somebody. What is said depends on who reads it; a substance is never named."""

    def __init__(self, message: str):
        super().__init__(message, field="process_id")


@dataclass(frozen=True)
class Openness:
    """Whether a process is open to somebody, and why not, in words for them and the safety adviser alone."""

    process: Process
    against: tuple[str, ...]

    @property
    def is_open(self) -> bool:
        return not self.against


def openness(process: Process, families: Collection[PersonalFamily]) -> Openness:
    """Say whether a process does without families of substance; its steps are read with their products."""
    products = dict.fromkeys(step.product for step in process.steps if step.product is not None)
    return Openness(process, tuple(reason for product in products for reason in against(product, families)))


def against(product: Product, families: Collection[PersonalFamily]) -> Iterator[str]:
    """Why somebody who keeps away from these families keeps away from a product; nothing where it does without them.

    What nobody has stated or confirmed counts against it.
    """
    if not families:
        return
    holding = [row.name for row in product.ingredients if families_of(row) & set(families)]
    if holding:
        yield f"{product.name} contains {in_a_row(holding)}"
        return
    if product.confirmation is None:
        yield f"{product.name}: nobody has confirmed what its SDS says"
    elif not product.ingredients and not all(family.is_skin_sensitiser for family in families):
        yield f"{product.name}: no ingredients are stated"
    elif any(family.is_skin_sensitiser for family in families) and (unknown := _unknown_sensitiser(product)):
        yield f"{product.name}: {unknown}"


def families_of(ingredient: ProductIngredient) -> frozenset[PersonalFamily]:
    return personal_families_of(cas=ingredient.cas, name=ingredient.name)


def _unknown_sensitiser(product: Product) -> str:
    """What nobody can name the family of though it is, or may be, a sensitiser; empty where there is none.

    A confirmed product says at least that it is not classified.
    """
    for row in product.ingredients:
        may_be_one = _sensitises(row.classification) or not row.classification
        if may_be_one and not families_of(row) and not is_on_file(row.cas):
            return f"{row.name} is a sensitiser, or may be one, and is not on file"
    if _sensitises(product.h_codes) and not any(_sensitises(row.classification) for row in product.ingredients):
        return "a sensitiser that is not named among its ingredients"
    return ""


def _sensitises(text: str) -> bool:
    return any(code in text for code in SENSITISER_CODES)


def not_open_to_you(process: Process, others: Sequence[Openness]) -> str:
    """What the person reads, on a screen of their own: no substance, but what to do."""
    alike = [other.process.name for other in others if other.is_open and other.process.material is process.material]
    instead = (
        f"Open to you instead: {', '.join(alike)}." if alike else "Nothing like it is open to you yet: ask for a talk."
    )
    return f"{process.name} is not open to you. {instead} Why stands on your account, under “In confidence”."


def check_ends(ends_on: date | None, *, today: date) -> None:
    """Raise RestrictionRefused for a last day that is past."""
    if ends_on is not None and ends_on < today:
        raise RestrictionRefused("That day is past. Choose the last day it holds.", field="ends_on")
