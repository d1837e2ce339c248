"""What pages show of a product: what is entered of it in words, its hazards, its working dilutions."""

from collections.abc import Iterator
from dataclasses import dataclass

from labsys.chemistry.bath_rules import HOLDING_NAMES
from labsys.chemistry.care import KIND_NAMES
from labsys.chemistry.sizes import MATERIAL_NAMES
from labsys.drawing.pictograms import Pictogram, pictogram
from labsys.drawing.scene import Scene
from labsys.hazards.errors import HazardsError
from labsys.hazards.label import LabelElements, label_elements
from labsys.hazards.mixtures import Alternative, classify
from labsys.hazards.mixtures.readings import taken
from labsys.hazards.protective import Advice
from labsys.hazards.restricted import Restricted
from labsys.hazards.waste_codes import WasteCode, waste_code
from labsys.ledger.models import Unit
from labsys.ledger.rules import show
from labsys.products import mixtures, safety
from labsys.products.entries import capacity_figure, content, reference_note
from labsys.products.forms.product import HOURS_PER_DAY, MEASURE_NAMES
from labsys.products.models import AcceptedRestriction, AgeRule, CapacityRule, Ingredient, Product
from labsys.products.rules import show_dilution
from labsys.quantities import MILLI, counted, duration, figure
from labsys.timetable.local_time import day_words

ESTIMATE = "Calculated: an estimate; the SDS wins for what is in the bottle."


@dataclass(frozen=True)
class HazardView:
    """What a product's label says, and how to handle it."""

    label: LabelElements
    pictograms: tuple[tuple[str, Scene], ...]
    advice: Advice


@dataclass(frozen=True)
class IngredientView:
    name: str
    cas: str
    content: str
    classification: str
    more: str


@dataclass(frozen=True)
class RuleView:
    """A capacity or a keeping time as a sentence, and where it is said."""

    words: str
    source: str


@dataclass(frozen=True)
class ProductView:
    """All that is entered of a product, in words."""

    product: Product
    kind: str
    sds_day: str
    form: str
    waste: WasteCode
    ph_limit: str
    developing: tuple[str, ...]
    ingredients: tuple[IngredientView, ...]
    dilutions: tuple[tuple[str, str], ...]
    capacities: tuple[RuleView, ...]
    ages: tuple[RuleView, ...]
    hazards: HazardView


def product_view(product: Product) -> ProductView:
    return ProductView(
        product=product,
        kind=KIND_NAMES[product.kind],
        sds_day=day_words(product.sds_date) if product.sds_date else "",
        form=_form_words(product),
        waste=waste_code(product.waste_code),
        ph_limit=figure(product.ph_limit_milli, MILLI),
        developing=tuple(_developing(product)),
        ingredients=tuple(
            IngredientView(one.name, one.cas, content(one), one.classification, _more(one))
            for one in product.ingredients
        ),
        dilutions=tuple((show_dilution(one.water_parts_milli), one.use) for one in product.dilutions),
        capacities=tuple(RuleView(_capacity_words(one), one.source) for one in product.capacities),
        ages=tuple(RuleView(_age_words(one), one.source) for one in product.ages),
        hazards=hazards(product),
    )


def hazards(product: Product) -> HazardView:
    label = mixtures.bottle_label(product)
    pictograms = tuple((code, pictogram(Pictogram(code))) for code in label.pictograms)
    return HazardView(label, pictograms, mixtures.bottle_advice(product))


@dataclass(frozen=True)
class ReadingView:
    """One point on which two careful people may differ, with which reading stands and why."""

    alternative: Alternative
    is_taken: bool
    why_it_stands: str

    @property
    def stands(self) -> str:
        return self.alternative.outcome if self.is_taken else self.alternative.calculated

    @property
    def other(self) -> str:
        return self.alternative.calculated if self.is_taken else self.alternative.outcome


@dataclass(frozen=True)
class DilutionView:
    """The hazards of a working dilution with their working; `trouble` says why there are none."""

    water_parts_milli: int
    dilution: str
    uses: str
    statements: tuple[tuple[str, str], ...] = ()
    reasons: tuple[tuple[str, str], ...] = ()
    open_points: tuple[str, ...] = ()
    readings: tuple[ReadingView, ...] = ()
    trouble: str = ""


def dilutions(product: Product) -> tuple[DilutionView, ...]:
    """Return each dilution of the data sheet once, in its order."""
    uses: dict[int, list[str]] = {}
    for row in product.dilutions:
        uses.setdefault(row.water_parts_milli, []).append(row.use)
    return tuple(dilution_view(product, water_parts_milli=milli, uses=", ".join(of)) for milli, of in uses.items())


def dilution_view(product: Product, *, water_parts_milli: int, uses: str = "") -> DilutionView:
    words = show_dilution(water_parts_milli)
    try:
        parts = mixtures.working_ingredients(product, water_parts_milli=water_parts_milli)
        calculated = classify(parts)
        found = mixtures.working_solution(product, water_parts_milli=water_parts_milli)
        label = label_elements(found)
    except HazardsError as error:
        return DilutionView(water_parts_milli, words, uses, trouble=f"It cannot be worked out: {error}")
    choices = mixtures.choices_for(product, water_parts_milli=water_parts_milli)
    return DilutionView(
        water_parts_milli,
        words,
        uses,
        statements=(*label.hazard_statements, *label.euh_statements),
        reasons=tuple((one.topic, one.text) for one in found.reasons),
        open_points=found.open_points,
        readings=tuple(
            ReadingView(
                one,
                taken(one, choices.get(one.key)),
                choices[one.key].words if one.key in choices else "the stricter one, as long as nobody chose",
            )
            for one in calculated.alternatives
        ),
    )


def reading_choices(view: DilutionView) -> tuple[tuple[str, str], ...]:
    """What can be chosen for a dilution, by value; the value names the alternative and whether it is taken."""
    return tuple(
        choice
        for place, one in enumerate(view.readings)
        for choice in (
            (f"{place}-alternative", f"{one.alternative.outcome}: {one.alternative.rule}"),
            (f"{place}-calculated", f"{one.alternative.calculated}: as calculated by the general rule"),
        )
    )


@dataclass(frozen=True)
class Kept:
    """Something restricted in a product, and why it is kept all the same where somebody answers for it."""

    item: Restricted
    accepted: AcceptedRestriction | None


def kept_restricted(product: Product) -> tuple[Kept, ...]:
    accepted = {one.item: one for one in product.accepted_restrictions}
    return tuple(Kept(one, accepted.get(one.key)) for one in safety.restrictions_of(product))


def reference_notes(product: Product) -> dict[str, str]:
    """What of an unconfirmed product still stands as the reference list gave it, by CAS number."""
    if product.confirmation is not None:
        return {}
    notes = {
        row.cas: reference_note(cas=row.cas, classification=row.classification, specific_limits=row.specific_limits)
        for row in product.ingredients
    }
    return {cas: note for cas, note in notes.items() if note}


def _form_words(product: Product) -> str:
    if product.powder_mg_per_l is not None:
        return f"Powder: {show(product.powder_mg_per_l, Unit.MG)} makes 1 L of undiluted solution"
    if product.density_mg_per_ml is None:
        return "Liquid, density not entered: a litre is taken to weigh a kilogram"
    return f"Liquid, {figure(product.density_mg_per_ml, MILLI)} g/mL"


def _more(one: Ingredient) -> str:
    factors = [
        f"M-factor {kind} {value}" for kind, value in (("acute", one.m_acute), ("chronic", one.m_chronic)) if value
    ]
    return "; ".join(filter(None, [one.specific_limits, *factors]))


def _developing(product: Product) -> Iterator[str]:
    """What a developer's data sheet says of time, temperature and film, as sentences."""
    if product.q10_milli is not None:
        yield f"Works {figure(product.q10_milli, MILLI)} times as fast 10 °C warmer."
    if product.low_milli_c is not None and product.high_milli_c is not None:
        yield f"Its times hold from {figure(product.low_milli_c, MILLI)} to {figure(product.high_milli_c, MILLI)} °C."
    if product.least_seconds is not None:
        yield f"Under {duration(product.least_seconds)} it develops unevenly."
    if product.least_concentrate_ul is not None:
        yield f"A roll of film needs at least {show(product.least_concentrate_ul, Unit.UL)} of it undiluted."


def _capacity_words(rule: CapacityRule) -> str:
    return (
        f"A litre at {show_dilution(rule.water_parts_milli)} takes {capacity_figure(rule)} "
        f"{MEASURE_NAMES[rule.measure]} of {MATERIAL_NAMES[rule.material]}."
    )


def _age_words(rule: AgeRule) -> str:
    days, rest = divmod(rule.hours, HOURS_PER_DAY)
    keeps = counted(rule.hours, "hour") if rest else counted(days, "day")
    return f"Keeps {keeps} in {HOLDING_NAMES[rule.holding]}."
