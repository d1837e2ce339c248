"""What the label of a bath says, read and worked out; the page and the PDF are both made from it."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from labsys.baths import queries as baths
from labsys.baths.cards import state_in_words
from labsys.baths.models import Bath
from labsys.baths.rules import life
from labsys.chemistry.bath_rules import BathFacts
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.life import Life
from labsys.chemistry.sizes import UNIT_MM2, Material
from labsys.database import DbSession
from labsys.documents.bath_label.data import BathLabelData, LabelIngredient
from labsys.documents.keep_away import keep_away
from labsys.documents.occasion import Occasion
from labsys.documents.rules import DocumentRefused
from labsys.drawing.pictograms import Pictogram
from labsys.hazards.errors import UnknownWasteCode
from labsys.hazards.incompatibility import Group, conflicts_between
from labsys.hazards.label import NOT_CLASSIFIED
from labsys.hazards.protective import Equipment, Protection, Task
from labsys.hazards.solution import SolutionHazards
from labsys.hazards.waste_codes import waste_code
from labsys.products.groups import groups_of_product
from labsys.products.hazards import hazards_of
from labsys.products.models import Product
from labsys.products.rules import dilution_of_milli
from labsys.quantities import show_volume
from labsys.waste import queries as waste
from labsys.waste.meeting import keep_apart
from labsys.waste.models import WasteStream

NO_KEEPING_TIME = "not known: no keeping time set"
NO_CAPACITY = "not known: no capacity set"
AS_SUPPLIED = "Hazards of the undiluted product: those of this dilution could not be worked out."
_PAPERS = {Material.RC: "RC", Material.FIBRE: "fibre"}


@dataclass(frozen=True, slots=True)
class OfBath:
    """Whose label it is."""

    bath_id: int


def collect(session: DbSession, asked: OfBath, occasion: Occasion) -> BathLabelData:
    """Read a bath and work out all that its label says. Raises NotFound."""
    bath = baths.bath_or_raise(session, asked.bath_id)
    product, left = bath.product, life(bath, now=occasion.now)
    groups = groups_of_product(product)
    hazards = hazards_of(product, water_parts_milli=bath.water_parts_milli)
    asked_for = hazards.working_as(_task(bath)).protection
    hands = [each for each in asked_for if each.kind is Equipment.HANDS and not each.is_house_rule]
    others = [each for each in reversed(asked_for) if each not in hands]
    return BathLabelData(
        issue=occasion.issue_with_code(bath.code),
        product=bath.name,
        dilution=_dilution(bath),
        volume=show_volume(bath.vessel.level),
        place=f"{bath.line.name}, {bath.place}",
        made_from=product.name,
        mixed_at=occasion.moment(bath.mixed_at),
        mixed_by=bath.mixed_by.name,
        use_by=_use_by(left, bath.mixed_at, occasion),
        capacity=capacity_in_words(left.facts),
        when_printed=state_in_words(left),
        classified=not hazards.is_mild_by_calculation,
        pictograms=tuple(Pictogram(code) for code in hazards.label.pictograms),
        signal_word=hazards.label.signal_word,
        statements=tuple(_statements(product, hazards)),
        precautions=tuple(f"{code} {text}" for code, text in hazards.label.precautionary_statements),
        not_known=hazards.not_known,
        ingredients=tuple(_ingredients(hazards)),
        skin_protection="; ".join(map(_in_words, hands)),
        protective_equipment=tuple(map(_in_words, others)),
        keep_from=keep_away(groups),
        waste=_route(product.waste_code, stream=waste.stream_by_code(session, product.waste_code)),
        waste_code=_waste_code(product.waste_code),
        emergency=occasion.emergency,
        apart=keep_apart(groups),
    )


def refuse_dumped(session: DbSession, asked: OfBath) -> None:
    """Raise DocumentRefused for a bath that is no more: its label is shown, but gets no new PDF."""
    bath = baths.bath_or_raise(session, asked.bath_id)
    if bath.dumped_at is not None:
        raise DocumentRefused(f"{bath.name} {bath.code} was dumped. Take its label off; a dumped bath gets no new one.")


def _task(bath: Bath) -> Task:
    """A toner asks for gloves; film is worked in tanks, prints in trays, and a bath of both is a tank's."""
    if bath.product.kind is SolutionKind.TONER:
        return Task.TONING
    return Task.TANK if Material.FILM in bath.line.work.materials else Task.TRAY


def _in_words(protection: Protection) -> str:
    return f"{protection.words}: {protection.reason}"


def _statements(product: Product, hazards: SolutionHazards) -> Iterator[str]:
    """Statements, and below them what has no code; what acid does is left to "Keep away from" where that says it."""
    yield from (f"{code} {text}" for code, text in hazards.statements)
    if hazards.classification is None:
        yield AS_SUPPLIED
    elif any(conflict.gas for conflict in conflicts_between(groups_of_product(product), {Group.ACID})):
        yield from hazards.classification.notices
    else:
        yield from (text for text in hazards.label.supplemental if text != NOT_CLASSIFIED)


def _ingredients(hazards: SolutionHazards) -> Iterator[LabelIngredient]:
    """What is in the solution, where that could be worked out."""
    if hazards.classification is not None:
        yield from (LabelIngredient(part.name, f"up to {part.high_percent:.2g} % w/w") for part in hazards.ingredients)


def _dilution(bath: Bath) -> str:
    dilution = dilution_of_milli(bath.water_parts_milli)
    return "undiluted" if dilution.is_stock else str(dilution)


def _use_by(left: Life, mixed_at: datetime, occasion: Occasion) -> str:
    """When the keeping time ends for what the bath stands in, the shortest where there are several."""
    if not left.age_is_known:
        return NO_KEEPING_TIME
    hours = min(rule.hours for rule in left.facts.ages if rule.holding in left.facts.held_hours)
    return occasion.moment(mixed_at + timedelta(hours=hours))


def capacity_in_words(facts: BathFacts) -> str:
    """Say what the whole bath takes, if only one material goes through it."""
    areas = {material: facts.capacity_mm2(material) for material in Material if material in facts.materials}
    counts = {material: int(area / UNIT_MM2) for material, area in areas.items() if area is not None}
    takes = [f"{counts.pop(Material.FILM)} rolls"] if Material.FILM in counts else []
    if counts:
        papers: dict[int, list[str]] = {}
        for material, count in counts.items():
            papers.setdefault(count, []).append(_PAPERS[material])
        takes.append(" or ".join(f"{count} {' or '.join(kinds)}" for count, kinds in papers.items()) + " sheets, 8x10")
    if facts.capacity_pieces is None:
        return " or ".join(takes) or NO_CAPACITY
    pieces = f"{int(facts.capacity_pieces)} {'rolls or sheets' if Material.FILM in areas else 'sheets of any size'}"
    return f"{' or '.join(takes)}; at most {pieces}" if takes else pieces


def _route(code: str, *, stream: WasteStream | None) -> str:
    if stream is not None:
        return f"Into a container of {stream.name}."
    if code.endswith("*"):
        return "Hazardous: never down the drain. No stream here takes it yet: ask the technician."
    return "No stream here takes it: ask the technician before any of it goes down the drain."


def _waste_code(code: str) -> str:
    try:
        return f"{code} {waste_code(code).text}"
    except UnknownWasteCode:
        return code
