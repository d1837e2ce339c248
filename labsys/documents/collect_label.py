"""What the label of a bath says, read and worked out; the page and the PDF are both made from it."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from labsys.baths import queries as baths
from labsys.baths.models import Bath
from labsys.baths.rules import life
from labsys.chemistry.bath_rules import BathFacts
from labsys.chemistry.sizes import UNIT_MM2, Material
from labsys.database import DbSession
from labsys.documents.bath_label import EMERGENCY, BathLabelData, Ingredient
from labsys.documents.collect import issue_of, moment
from labsys.drawing.pictograms import Pictogram
from labsys.hazards.errors import HazardsError, UnknownWasteCode
from labsys.hazards.label import NOT_CLASSIFIED, LabelElements, label_elements
from labsys.hazards.protective import Advice, advice_for_mixture
from labsys.hazards.waste_codes import waste_code
from labsys.people.models import Person
from labsys.quantities import show_volume
from labsys.records import queries as records
from labsys.records.queries import Head
from labsys.stock import mixtures
from labsys.stock.models import Product
from labsys.stock.rules import dilution_of_milli
from labsys.waste import queries as waste
from labsys.waste.meeting import groups_of_product, keep_apart
from labsys.waste.models import WasteStream

NO_KEEPING_TIME = "no keeping time set"
NO_CAPACITY = "no capacity set"
AS_SUPPLIED = "Hazards of the undiluted product: those of this dilution could not be worked out."
_UNITS = {
    Material.FILM: "rolls of 135-36 or 120",
    Material.RC: "sheets of 8x10 in, RC",
    Material.FIBRE: "sheets of 8x10 in, fibre",
}


def collect_bath_label(
    session: DbSession, *, bath_id: int, issued_by: Person, head: Head, public_url: str, now: datetime
) -> BathLabelData:
    """Read a bath and work out all that its label says. Raises NotFound."""
    bath = baths.bath_or_raise(session, bath_id)
    lab = records.the_lab(session)
    zone = ZoneInfo(lab.timezone)
    product = bath.product
    hazards = _hazards(product, water_parts_milli=bath.water_parts_milli)
    elements = hazards.elements
    return BathLabelData(
        issue=issue_of(
            lab,
            issued_by=issued_by,
            now=now,
            head=head,
            scan_address=f"{public_url}/c/{bath.code}",
            scan_code=bath.code,
        ),
        product=bath.name,
        dilution=_dilution(bath),
        volume=show_volume(bath.vessel.level),
        place=f"{product.name} · {bath.line.name}, {bath.place}",
        mixed_at=moment(bath.mixed_at, zone=zone),
        mixed_by=bath.mixed_by.name,
        use_by=_use_by(bath, zone=zone),
        capacity=_capacity(life(bath, now=now).facts),
        classified=hazards.classified,
        pictograms=tuple(Pictogram(code) for code in elements.pictograms),
        signal_word=elements.signal_word,
        statements=hazards.statements,
        precautions=tuple(f"{code} {text}" for code, text in elements.precautionary_statements),
        ingredients=hazards.ingredients,
        protective_equipment=tuple(f"{one.words}: {one.reason}" for one in hazards.advice.protection),
        keep_from=tuple(one.in_short for one in keep_apart(groups_of_product(product))),
        waste=_route(product.waste_code, stream=waste.stream_by_code(session, product.waste_code)),
        waste_code=_waste_code(product.waste_code),
        emergency=(*EMERGENCY, f"Help here: {lab.emergency}") if lab.emergency else EMERGENCY,
    )


@dataclass(frozen=True)
class _Hazards:
    elements: LabelElements
    advice: Advice
    classified: bool
    ingredients: tuple[Ingredient, ...] = ()
    remark: str = ""

    @property
    def statements(self) -> tuple[str, ...]:
        coded = (*self.elements.hazard_statements, *self.elements.euh_statements)
        said = [f"{code} {text}" for code, text in coded]
        said += [text for text in self.elements.supplemental if text != NOT_CLASSIFIED]  # the label has its own words
        return (*said, self.remark) if self.remark else tuple(said)


def _hazards(product: Product, *, water_parts_milli: int) -> _Hazards:
    """Work out the hazards of the dilution; where that cannot be done, the label carries those of the product."""
    if product.ingredients or not product.h_codes:
        try:
            classification = mixtures.working_solution(product, water_parts_milli=water_parts_milli)
            parts = mixtures.working_ingredients(product, water_parts_milli=water_parts_milli)
            return _Hazards(
                label_elements(classification),
                advice_for_mixture(classification),
                classification.is_classified,
                tuple(Ingredient(part.name, f"up to {part.high_percent:.2g} % w/w") for part in parts),
            )
        except HazardsError:
            pass
    return _Hazards(mixtures.bottle_label(product), mixtures.bottle_advice(product), True, remark=AS_SUPPLIED)


def _dilution(bath: Bath) -> str:
    dilution = dilution_of_milli(bath.water_parts_milli)
    return "undiluted" if dilution.is_stock else str(dilution)


def _use_by(bath: Bath, *, zone: ZoneInfo) -> str:
    hours = next((rule.hours for rule in bath.product.ages if rule.holding is bath.holding), None)
    if hours is None:
        return NO_KEEPING_TIME
    return moment(bath.mixed_at + timedelta(hours=hours), zone=zone)


def _capacity(facts: BathFacts) -> str:
    """Say what the whole bath takes, if only one material goes through it."""
    areas = {material: facts.capacity_mm2(material) for material in Material if material in facts.materials}
    takes = " or ".join(f"{int(area / UNIT_MM2)} {_UNITS[one]}" for one, area in areas.items() if area is not None)
    if facts.capacity_pieces is None:
        return takes or NO_CAPACITY
    pieces = int(facts.capacity_pieces)
    return f"{takes}; at most {pieces} pieces" if takes else f"{pieces} pieces of any size"


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
