"""Figures and words that the pages of the chemical store need worked out."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from zoneinfo import ZoneInfo

from labsys.chemistry.bath_rules import HOLDING_NAMES
from labsys.chemistry.sizes import MATERIAL_NAMES
from labsys.drawing.graduate import Liquid, graduate
from labsys.drawing.pictograms import Pictogram, pictogram
from labsys.drawing.scene import Scene
from labsys.hazards.label import LabelElements
from labsys.hazards.protective import Advice
from labsys.hazards.waste_codes import WasteCode, waste_code
from labsys.ledger.models import Unit
from labsys.ledger.rules import show
from labsys.people.models import Person
from labsys.quantities import UL_PER_ML
from labsys.stock import mixtures
from labsys.stock.entries import capacity_figure, content, figure
from labsys.stock.forms import CLASS_NAMES, HOURS_PER_DAY, MEASURE_NAMES, MILLI, show_dilution
from labsys.stock.models import AgeRule, Bottle, CapacityRule, Ingredient, OwnedCylinder, Process, ProcessStep, Product
from labsys.stock.rules import KIND_NAMES
from labsys.timetable.local_time import day_words, to_local

SOON_DAYS = 30  # from when a page counts the days to a bottle's date: common practice, no source


@dataclass(frozen=True)
class BottleView:
    """A bottle as a card: what is left of it, drawn if it is a liquid, and how its date stands."""

    bottle: Bottle
    left: str
    keeping: str
    opened: str
    is_past: bool
    gauge: Scene | None


@dataclass(frozen=True)
class Shelf:
    """A product and its bottles that have something in them."""

    product: Product
    kind: str
    bottles: tuple[BottleView, ...]


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
    bottles: tuple[BottleView, ...]
    confirmers: tuple[str, ...]


@dataclass(frozen=True)
class StepView:
    step: ProcessStep
    solution: str
    time: str
    temperature: str


def today(now: datetime, *, zone: ZoneInfo) -> date:
    return to_local(now, zone=zone).date()


def bottle_view(bottle: Bottle, *, now: datetime, zone: ZoneInfo) -> BottleView:
    day = today(now, zone=zone)
    is_past = bottle.expires_on is not None and bottle.expires_on < day
    keeping = keeping_words(bottle.expires_on, today=day)
    vessel = bottle.vessel
    left = f"{show(vessel.level, vessel.unit)} of {show(vessel.capacity, vessel.unit)}"
    gauge = None
    if vessel.unit is Unit.UL:
        gauge = graduate(
            level_ml=vessel.level / UL_PER_ML,
            capacity_ml=vessel.capacity / UL_PER_ML,
            liquid=Liquid.UNKNOWN if is_past else Liquid.PLENTY,
            title=f"{left}. {keeping}",
        )
    opened = "Not opened." if bottle.opened_at is None else f"Opened {day_words(today(bottle.opened_at, zone=zone))}."
    return BottleView(bottle, left, keeping, opened, is_past, gauge)


def keeping_words(expires_on: date | None, *, today: date) -> str:
    """Say how a bottle's date stands; the day itself still counts as good.

    >>> keeping_words(date(2026, 3, 1), today=date(2026, 3, 2))
    'Past its date since 1 Mar 2026. Nobody knows how good it still is.'
    >>> keeping_words(date(2026, 3, 2), today=date(2026, 3, 2))
    'Today is the last day of its date, 2 Mar 2026.'
    """
    if expires_on is None:
        return "No date on it."
    left = (expires_on - today).days
    if left < 0:
        return f"Past its date since {day_words(expires_on)}. Nobody knows how good it still is."
    if left == 0:
        return f"Today is the last day of its date, {day_words(expires_on)}."
    if left <= SOON_DAYS:
        return f"Use before {day_words(expires_on)}: {counted(left, 'day')} left."
    return f"Use before {day_words(expires_on)}."


def shelves(
    products: Sequence[Product], bottles: Sequence[Bottle], *, now: datetime, zone: ZoneInfo
) -> tuple[Shelf, ...]:
    """Put the bottles to their products, in the order of both."""
    of_product: dict[int, list[BottleView]] = {product.id: [] for product in products}
    for bottle in bottles:
        of_product[bottle.product_id].append(bottle_view(bottle, now=now, zone=zone))
    return tuple(Shelf(one, KIND_NAMES[one.kind], tuple(of_product[one.id])) for one in products)


def hazards(product: Product) -> HazardView:
    label = mixtures.bottle_label(product)
    pictograms = tuple((code, pictogram(Pictogram(code))) for code in label.pictograms)
    return HazardView(label, pictograms, mixtures.bottle_advice(product))


def product_view(
    product: Product, bottles: Sequence[Bottle], confirmers: Sequence[Person], *, now: datetime, zone: ZoneInfo
) -> ProductView:
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
        bottles=tuple(bottle_view(one, now=now, zone=zone) for one in bottles),
        confirmers=tuple(one.name for one in confirmers),
    )


def steps(process: Process) -> tuple[StepView, ...]:
    return tuple(
        StepView(
            step=one,
            solution="" if one.water_parts_milli is None else show_dilution(one.water_parts_milli),
            time=duration(one.seconds) if one.seconds else "",
            temperature=_temperature(one),
        )
        for one in process.steps
    )


def _temperature(step: ProcessStep) -> str:
    if step.temperature_milli_c is None:
        return ""
    usual = f"{figure(step.temperature_milli_c, MILLI)} °C"
    return f"{usual} ± {figure(step.tolerance_milli_c, MILLI)} °C" if step.tolerance_milli_c else usual


def duration(seconds: int) -> str:
    """Show a time as the clock over the sink counts it.

    >>> duration(330), duration(60), duration(45)
    ('5 min 30 s', '1 min', '45 s')
    """
    minutes, rest = divmod(seconds, 60)
    return " ".join(part for part in (f"{minutes} min" if minutes else "", f"{rest} s" if rest else "") if part)


def counted(count: int, noun: str) -> str:
    """
    >>> counted(1, "day"), counted(3, "day")
    ('1 day', '3 days')
    """
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


@dataclass(frozen=True)
class CylinderView:
    holds: str
    division: str
    accuracy: str
    kept_for: str


def cylinder_view(one: OwnedCylinder) -> CylinderView:
    return CylinderView(
        holds=f"{one.nominal_ml} mL",
        division=f"{figure(one.division_ul, UL_PER_ML)} mL",
        accuracy=CLASS_NAMES[one.accuracy_class],
        kept_for=KIND_NAMES[one.kept_for] if one.kept_for else "any solution",
    )


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
