"""What nobody does alone, whatever a lab sets: told from what is entered of the products, through the hazards' owners.

What nobody has stated or confirmed is never the mild side. Somebody who has to make up a solution themselves handles
the product as supplied as well; where a shared bath of it stands ready, they work in the dilution alone.

Which substances these are is the lab's rule for working alone: common practice, no source.
"""

from collections.abc import Callable, Collection, Iterable, Iterator
from typing import cast

from flask import Flask, current_app, has_app_context

from labsys.database import DbSession
from labsys.hazards.classes import Family
from labsys.hazards.concentrate import single_codes
from labsys.hazards.errors import HazardsError
from labsys.hazards.personal import PersonalFamily, personal_families_of
from labsys.hazards.solution import SolutionHazards
from labsys.hazards.substances import families_of
from labsys.inductions.rules import in_a_row
from labsys.processes.models import Process
from labsys.products.hazards import hazards_of
from labsys.products.models import Product

BURNS = frozenset({"H314"})
POISONS = frozenset({"H300", "H301", "H310", "H311", "H330", "H331"})  # acutely toxic of categories 1 to 3
_NAMED = {
    PersonalFamily.CHROMIUM: "dichromate or another compound of chromium",
    PersonalFamily.ALDEHYDE: "formaldehyde or another aldehyde",
}
_SERVED = "labsys-products-in-shared-baths"

Served = Callable[[DbSession], set[int]]


def register_served(app: Flask, served: Served) -> None:
    """Let the application know who is asked which products stand ready as shared baths: a room below this one."""
    app.extensions[_SERVED] = served


def products_served(session: DbSession) -> set[int]:
    """Products of which a shared bath is in service; none where nobody can be asked."""
    if not has_app_context() or _SERVED not in current_app.extensions:
        return set()
    return cast(Served, current_app.extensions[_SERVED])(session)


def of_process(process: Process, *, served: Collection[int]) -> tuple[str, ...]:
    """Why a process is not for somebody alone, product by product; its steps are read with their products."""
    reasons: dict[str, None] = {}
    for step in process.steps:
        if step.product is None:
            continue
        forms = [step.water_parts_milli] if step.product_id in served else [step.water_parts_milli, None]
        reasons.update(dict.fromkeys(of_product(step.product, dilutions=forms)))
    return tuple(reasons)


def of_product(product: Product, *, dilutions: Iterable[int | None]) -> Iterator[str]:
    """Why nobody handles a product alone in any of these dilutions; None is the product as supplied."""
    asked = tuple(dict.fromkeys(dilutions))
    forms = [hazards_of(product, water_parts_milli=milli) for milli in asked]
    is_weighed = None in asked and product.powder_mg_per_l is not None
    if found := [*_substances(product), *_classes(forms, is_weighed=is_weighed)]:
        yield f"{product.name} is or holds {in_a_row(found)}"
    elif unknown := _not_known(product, forms):
        yield f"{product.name}: {unknown}"


def _substances(product: Product) -> list[str]:
    """The substances that count at any strength, by name and number of what is entered."""
    parts = [("", product.name), *((row.cas, row.name) for row in product.ingredients)]
    personal = frozenset[PersonalFamily]().union(*(personal_families_of(cas=cas, name=name) for cas, name in parts))
    named = [words for family, words in _NAMED.items() if family in personal]
    return [*named, "a sulfide"] if any(_is_sulfide(cas, name) for cas, name in parts) else named


def _is_sulfide(cas: str, name: str) -> bool:
    written = name.casefold().replace("ph", "f")
    if "sulfide" in written or "liver of sulfur" in written:
        return True
    try:
        return bool(cas) and Family.SULFIDE in families_of(cas=cas, name=name)
    except HazardsError:
        return False  # a number that cannot be read says nothing


def _classes(forms: Iterable[SolutionHazards], *, is_weighed: bool) -> Iterator[str]:
    codes = {code for form in forms if not form.is_not_known for code in single_codes(form.h_codes)}
    if codes & BURNS:
        yield "a concentrated acid or alkali, or burns like one"
    if is_weighed and any(code[:4] in POISONS for code in codes):
        yield "an acutely toxic powder"


def _not_known(product: Product, forms: Iterable[SolutionHazards]) -> str:
    """What nobody knows of it that could be one of these; empty where enough is known."""
    if any(form.is_not_known for form in forms):
        return "nobody has entered what its SDS says"
    if product.confirmation is None:
        return "nobody has confirmed what its SDS says"
    if not product.ingredients and any(form.is_classified for form in forms):
        return "its SDS classifies it, and nobody has entered what is in it"
    return ""
