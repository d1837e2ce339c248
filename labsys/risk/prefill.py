"""What a new version says before anybody has typed a word: worked out from the process, the products and their codes.

Everything here is a proposal that the assessor reads and changes. Advice is common practice, no source, unless the
module it comes from names one.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from labsys.chemistry.care import SolutionKind
from labsys.chemistry.sizes import Material
from labsys.hazards.banding import Spread
from labsys.hazards.errors import HazardsError
from labsys.hazards.first_aid import EYES, GAS, NO_ACID, SKIN, SPILLED
from labsys.hazards.incompatibility import Group, conflicts_between, groups_for
from labsys.hazards.precautions import all_precautions, choose_precautions
from labsys.hazards.protective import Advice, Equipment, Task, advice_for
from labsys.hazards.statements import printed_text
from labsys.hazards.waste_codes import waste_code
from labsys.ledger.models import Unit
from labsys.processes.models import Process, ProcessStep
from labsys.products.hazards import as_ingredient, concentrate_of, hazards_of
from labsys.products.models import Product
from labsys.products.rules import show_dilution
from labsys.quantities import UL_PER_L, duration
from labsys.risk.banding import banded
from labsys.risk.handling import ROOM_CELSIUS, handling
from labsys.risk.models import AssessedSubstance, Level, Route, Under18, Who
from labsys.risk.room_hazards import RoomHazard
from labsys.risk.rules import Content

_AMOUNT_WITHOUT_A_DILUTION = {Unit.UL: 500_000, Unit.MG: 100_000}  # 500 mL or 100 g, for the assessor to change
_CLOSED_TO_UNDER_18 = ("H300", "H310", "H330", "H334", "H340", "H341", "H350", "H351", "H360", "H361")
_SAID = ("P302+P352", "P303", "P305")  # by the two sentences above


@dataclass(frozen=True)
class Part:
    """A product as a task handles it. Without `water_parts_milli` it is handled as supplied."""

    product: Product
    water_parts_milli: int | None
    celsius: float = ROOM_CELSIUS


def parts_of_process(process: Process) -> tuple[Part, ...]:
    """The solutions of a process, each once, at the warmest it is used."""
    parts: dict[tuple[int, int | None], Part] = {}
    for step in process.steps:
        if step.product is None:
            continue
        celsius = ROOM_CELSIUS if step.temperature_milli_c is None else step.temperature_milli_c / 1_000
        key = (step.product.id, step.water_parts_milli)
        if key not in parts or parts[key].celsius < celsius:
            parts[key] = Part(step.product, step.water_parts_milli, celsius)
    return tuple(parts.values())


def assessed(part: Part, *, position: int, amount: int | None = None) -> AssessedSubstance:
    """Return the row of a product as handled; without an amount, what makes a litre of working solution."""
    handled = handling(part.product, water_parts_milli=part.water_parts_milli, celsius=part.celsius)
    row = AssessedSubstance(
        position=position,
        product_id=part.product.id,
        name=part.product.name,
        product_version=part.product.version,
        sds_date=part.product.sds_date,
        water_parts_milli=part.water_parts_milli,
        unit=handled.unit,
        codes=" ".join(handled.codes),
        codes_from=handled.codes_from,
        sensitisers=", ".join(handled.sensitisers),
        chosen_because="",
    )
    set_band(row, amount=amount or _usual_amount(part), spread=handled.spread, spread_from=handled.spread_from)
    return row


def set_band(row: AssessedSubstance, *, amount: int, spread: Spread, spread_from: str) -> None:
    """Band a row anew for an amount and a spread."""
    sensitisers = row.sensitisers.split(", ") if row.sensitisers else ()
    outcome = banded(codes=row.codes.split(), sensitisers=sensitisers, amount=amount, unit=row.unit, spread=spread)
    row.amount, row.spread, row.spread_from = amount, spread, spread_from
    row.hazard_group = outcome.band.group
    row.deciding = " ".join(outcome.band.deciding)
    row.amount_band = outcome.amount
    row.approach = outcome.approach.number
    row.skin_and_eyes = outcome.skin_and_eyes


_LIDS = "Lids on tanks: hands stay out of the baths."
_TONGS = "Tongs for every print: hands stay out of the baths."
_POUR = "Into water, never water into it. Pour slowly, low over the sink, and cap at once."


def of_process(process: Process, rows: Sequence[AssessedSubstance], products: Sequence[Product]) -> Content:
    """Return what a new assessment of a process says."""
    solutions = "; ".join(_solution(step) for step in process.steps)
    seconds = sum(step.seconds or 0 for step in process.steps if step.product is not None)
    return _of_substances(
        rows,
        products,
        task=f"{process.name}: {solutions}.",
        practice=_LIDS if process.material is Material.FILM else _TONGS,
        handled=_handled(process),
        duration=f"{duration(seconds)} in chemicals for each run, by the times of the steps" if seconds else "",
    )


def _handled(process: Process) -> Task:
    """How its baths are worked in; a toner among them asks for most."""
    if any(step.product is not None and step.product.kind is SolutionKind.TONER for step in process.steps):
        return Task.TONING
    return Task.TANK if process.material is Material.FILM else Task.TRAY


def of_products(products: Sequence[Product], rows: Sequence[AssessedSubstance]) -> Content:
    """Return what a new assessment of products handled as supplied says."""
    names = ", ".join(product.name for product in products)
    task = f"Making up from what is supplied: {names}. Pour, measure, rinse, cap."
    return _of_substances(rows, products, task=task, practice=_POUR, handled=Task.POURING)


def of_room_hazard(hazard: RoomHazard) -> Content:
    """Return what a new assessment of a hazard of the room says."""
    return Content(
        task=hazard.task,
        who=frozenset(Who),
        existing_controls=hazard.existing_controls,
        controls=hazard.controls,
        first_aid=hazard.first_aid,
        spill=hazard.emergency,
    )


def _of_substances(
    rows: Sequence[AssessedSubstance],
    products: Sequence[Product],
    *,
    task: str,
    practice: str,
    handled: Task,
    duration: str = "",
) -> Content:
    codes = tuple(dict.fromkeys(code for row in rows for code in row.codes.split()))
    sensitisers = tuple(dict.fromkeys(name for row in rows for name in row.sensitisers.split(", ") if name))
    is_powder = any(row.unit is Unit.MG for row in rows)
    as_poured = handled is Task.POURING
    by_id = {each.id: each for each in products}
    not_ruled_out = [
        code
        for row in rows
        if row.product_id in by_id
        for code in hazards_of(by_id[row.product_id], water_parts_milli=row.water_parts_milli).handled_as
    ]
    advice = advice_for(
        h_codes=[*(code for code in codes if not code.startswith("EUH")), *not_ruled_out],
        euh_codes=[code for code in codes if code.startswith("EUH")],
        sensitisers=sensitisers,
        is_powder=is_powder,
        task=handled,
        burns_through_nitrile=as_poured and any(concentrate_of(each).burns_through_nitrile for each in products),
    )
    as_supplied = any(row.water_parts_milli is None for row in rows)
    return Content(
        task=task,
        who=frozenset({Who.MEMBERS}),
        routes=_routes(rows, codes),
        duration=duration,
        first_aid="\n".join(_first_aid(codes)),
        spill="\n".join(_spill(codes)),
        storage="\n".join(_storage(codes, products)),
        disposal="\n".join(_disposal(products)),
        has_surveillance=bool(sensitisers),
        controls=tuple(_controls(rows, advice, practice=practice)),
        under_18=_under_18(codes, as_supplied=as_supplied),
    )


def _solution(step: ProcessStep) -> str:
    named = step.name.lower()
    if step.product is None:
        return f"{named} in water" if "wash" in named else named
    strength = "" if step.water_parts_milli is None else f" {show_dilution(step.water_parts_milli)}"
    return f"{named} in {step.product.name}{strength}"


def _usual_amount(part: Part) -> int:
    product = part.product
    if part.water_parts_milli is not None:
        return UL_PER_L
    if not product.dilutions:
        return _AMOUNT_WITHOUT_A_DILUTION[product.unit]
    strongest = min(dilution.water_parts_milli for dilution in product.dilutions)
    undiluted = product.powder_mg_per_l or UL_PER_L
    return max(round(undiluted * 1_000 / (1_000 + strongest)), 1)


def _routes(rows: Sequence[AssessedSubstance], codes: Sequence[str]) -> frozenset[Route]:
    routes = {Route.SKIN, Route.EYES}
    if any(not row.spread.startswith("low") for row in rows):
        routes.add(Route.BREATHED)
    if any(code.startswith(("H300", "H301", "H302", "H304")) for code in codes):
        routes.add(Route.SWALLOWED)
    return frozenset(routes)


def _under_18(codes: Sequence[str], *, as_supplied: bool) -> Under18 | None:
    """Closed by default for handling what harms late or at once as supplied; else for the assessor to decide."""
    if as_supplied and any(code.startswith(_CLOSED_TO_UNDER_18) for code in codes):
        return Under18.NO
    return None


def _controls(rows: Sequence[AssessedSubstance], advice: Advice, *, practice: str) -> Iterator[tuple[Level, str]]:
    worst = max((row.approach for row in rows), default=1)
    if any(row.unit is Unit.MG for row in rows):
        yield Level.ELIMINATE, "Powders are weighed by the technician only, never during a session."
        yield Level.SUBSTITUTE, "Buy it ready-made or liquid where it is sold so."
    for row in rows:
        if row.hazard_group == "E":
            yield Level.SUBSTITUTE, f"Look for a milder product in place of {row.name} before the next order."
    equipment = {item.kind: item for item in advice.protection}
    if Equipment.VENTILATION in equipment:
        yield Level.ENGINEERING, f"{equipment[Equipment.VENTILATION].words}."
    elif worst >= 2:
        yield Level.ENGINEERING, "Extraction running at the trays, covers on idle trays."
    else:
        yield Level.ENGINEERING, "General ventilation running whenever trays or bottles are open."
    yield Level.PRACTICE, practice
    yield Level.PRACTICE, "Splashes are wiped up at once; hands are washed before leaving, eating or touching the face."
    for kind in (Equipment.APRON, Equipment.EYES, Equipment.HANDS):
        if kind in equipment:
            yield Level.PROTECTION, f"{equipment[kind].words}: {equipment[kind].reason}."


def _first_aid(codes: Iterable[str]) -> Iterator[str]:
    yield EYES
    yield SKIN
    for p_code in _first_aid_statements(codes):
        yield from _said(p_code)


def _first_aid_statements(codes: Iterable[str]) -> tuple[str, ...]:
    """The response statements of each code, as a short list of its own keeps them; eyes and skin are said already."""
    kept = {p_code for code in codes for p_code in choose_precautions([code])[0]}
    return tuple(sorted(p_code for p_code in kept if "P301" <= p_code < "P370" and not p_code.startswith(_SAID)))


def _spill(codes: Iterable[str]) -> Iterator[str]:
    yield f"{SPILLED} Powder is wiped up wet, never swept dry. Bag what was used as waste 15 02 02*."
    listed = tuple(codes)
    if {"EUH031", "EUH032"} & set(listed):
        yield NO_ACID
        yield GAS
    for p_code in _p_codes(listed):
        if p_code in ("P390", "P391"):
            yield from _said(p_code)


def _storage(codes: Iterable[str], products: Iterable[Product]) -> Iterator[str]:
    yield "In its own bottle, capped and labelled, below eye level, in a tray that holds what leaks."
    for p_code in _p_codes(codes):
        if p_code.startswith("P4"):
            yield from _said(p_code)
    for product in products:
        apart = ", ".join(_apart_from(product))
        if apart:
            yield f"{product.name}: keep apart from {apart}."


def _apart_from(product: Product) -> Iterator[str]:
    try:
        own = groups_for([family for row in product.ingredients for family in as_ingredient(row.stated).families])
    except HazardsError:
        return
    told: set[Group] = set()
    for conflict in conflicts_between(own, set(Group) - {Group.SILVER_AMMONIA}):
        for other in set(conflict.groups) - own - told:
            told.add(other)
            yield f"{other} (frees {conflict.gas})" if conflict.gas else str(other)


def _disposal(products: Iterable[Product]) -> Iterator[str]:
    for product in products:
        code = waste_code(product.waste_code)
        where = "into the container for it, never the drain" if code.is_hazardous else "as the water company agrees"
        yield f"{product.name}, used: {code.code} {code.text}, {where}."
    yield "Bottles that were not rinsed out: 15 01 10*. Gloves and wipes with chemicals on them: 15 02 02*."


def _p_codes(codes: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(p for code in codes for p in all_precautions(code)))


def _said(p_code: str) -> Iterator[str]:
    try:
        yield printed_text(p_code)
    except HazardsError:
        return
