"""One substance: how it is classified, what the air may hold of it, and everywhere it is in the lab."""

from dataclasses import dataclass

from labsys.baths.models import Bath
from labsys.baths.queries import BATH
from labsys.hazards.concentration import Concentration
from labsys.hazards.errors import UnknownSubstance
from labsys.hazards.exposure_limits import ExposureLimit, limits_of
from labsys.hazards.harmonised import Harmonised, harmonised
from labsys.hazards.nations import Rules, rules_of
from labsys.hazards.restricted import Restricted, restricted_in
from labsys.hazards.solution import strengths
from labsys.hazards.spans import Span
from labsys.hazards.substances import Substance, substance
from labsys.ledger.models import Unit
from labsys.people.row_kinds import RowKind
from labsys.products.hazards import concentrate_of, density_of
from labsys.products.models import Product, ProductIngredient
from labsys.products.rules import NOT_CLASSIFIED, show_dilution
from labsys.quantities import MG_PER_G, MG_PER_KG, UL_PER_ML, show_mass
from labsys.records.errors import NotFound
from labsys.register.queries import AssessedIn, Holdings
from labsys.store.models import Bottle
from labsys.store.queries import BOTTLE
from labsys.waste.queries import CONTAINER

_PPM = 1_000_000
_UNDILUTED = Span(1.0, 1.0)


@dataclass(frozen=True)
class InProduct:
    """The substance in a product, as its SDS gives it; `differs` where the reference list says otherwise."""

    product: Product
    content: str
    classification: str
    differs: bool
    workplace_limit: str


@dataclass(frozen=True)
class Somewhere:
    """Some of it in a bottle, a bath or a container, with how much of the substance that may be."""

    kind: RowKind
    row_id: int
    what: str
    code: str
    state: str
    content: str
    amount: str

    @property
    def address(self) -> str:
        return self.kind.address(self.row_id)


@dataclass(frozen=True)
class SubstanceView:
    """All that the register knows of one substance. `limits` is None where the nation's limits are not on file.

    `listed` holds the published entry of each list, None where there is none or it was not read; `rules` is the list
    that holds here.
    """

    cas: str
    name: str
    reference: Substance | None
    rules: Rules
    listed: dict[Rules, Harmonised | None]
    limits: tuple[ExposureLimit, ...] | None
    restricted: tuple[Restricted, ...]
    assessed: tuple[AssessedIn, ...]
    products: tuple[InProduct, ...]
    bottles: tuple[Somewhere, ...]
    baths: tuple[Somewhere, ...]
    containers: tuple[Somewhere, ...]

    @property
    def heading(self) -> str:
        """The name with a capital where it begins with a letter; the capitals within it stay, as in “N-ethyl”."""
        return self.name[:1].upper() + self.name[1:]


def view_of(cas: str, holdings: Holdings, *, nation: str) -> SubstanceView:
    """Put together all about a substance. Raises NotFound for one that is neither on file nor in any product."""
    try:
        reference = substance(cas, rules=rules_of(nation))
    except UnknownSubstance:
        reference = None
    products = {product.id: product for product in holdings.products}
    entries = {product.id: _entry(product, cas) for product in holdings.products}
    if reference is None and not entries:
        raise NotFound("substance", cas)
    return SubstanceView(
        cas=cas,
        name=reference.name if reference else next(iter(entries.values())).name,
        reference=reference,
        rules=rules_of(nation),
        listed={rules: harmonised(cas, rules=rules) for rules in Rules},
        limits=limits_of(cas, nation=nation),
        restricted=restricted_in(names=[], cas=[cas]),
        assessed=tuple(dict.fromkeys(each for key in entries for each in holdings.assessed.get(key, ()))),
        products=tuple(_in_product(product, entries[product.id], reference) for product in holdings.products),
        bottles=tuple(
            _in_bottle(bottle, products[bottle.product_id], entries[bottle.product_id]) for bottle in holdings.bottles
        ),
        baths=tuple(
            _in_solution(
                products[bath.product_id],
                entries[bath.product_id],
                water=bath.water_parts_milli,
                volume_ul=bath.vessel.level,
                row=(BATH, bath.id),
                what=f"{bath.name}, {show_dilution(bath.water_parts_milli)}",
                code=bath.code,
                state=_state_of(bath),
            )
            for bath in holdings.baths
        ),
        containers=tuple(
            _in_solution(
                products[pour.product_id],
                entries[pour.product_id],
                water=pour.water_parts_milli,
                volume_ul=pour.volume_ul,
                row=(CONTAINER, pour.container_id),
                what=products[pour.product_id].name,
                code=pour.label,
                state="as mixed, before use",
            )
            for pour in holdings.poured
        ),
    )


def _entry(product: Product, cas: str) -> ProductIngredient:
    return next(ingredient for ingredient in product.ingredients if ingredient.cas == cas)


def _in_product(product: Product, entry: ProductIngredient, reference: Substance | None) -> InProduct:
    stated = {" ".join(text.split()) for text in entry.classification.split(";") if text.strip()} - {NOT_CLASSIFIED}
    differs = reference is not None and stated != {*map(str, reference.classes), *reference.euh}
    return InProduct(product, _content(entry), entry.classification or "not stated", differs, entry.workplace_limit)


def _in_bottle(bottle: Bottle, product: Product, entry: ProductIngredient) -> Somewhere:
    level = bottle.vessel.level
    is_solid = bottle.vessel.unit is Unit.MG
    density = density_of(product)
    mass_mg = Span(level, level) if is_solid else _scaled(density.span, level / UL_PER_ML * MG_PER_G)
    state = "" if is_solid else density.assumed
    return Somewhere(BOTTLE, bottle.id, product.name, bottle.code, state, _content(entry), _amount(entry, mass_mg))


def _content(entry: ProductIngredient, *, strength: Span = _UNDILUTED) -> str:
    if strength == _UNDILUTED:
        return str(Concentration(entry.low_ppm, entry.high_ppm))
    return f"{_percent(entry.low_ppm * strength.low)} to {_percent(entry.high_ppm * strength.high)} % w/w"


def _scaled(span: Span, factor: float) -> Span:
    return Span(span.low * factor, span.high * factor)


def _percent(ppm: float) -> str:
    """
    >>> _percent(4_444.4), _percent(0)
    ('0.44', '0')
    """
    return f"{ppm / 10_000:.2g}"


def _amount(entry: ProductIngredient, mass_mg: Span) -> str:
    ends = (mass_mg.low * entry.low_ppm, mass_mg.high * entry.high_ppm)
    low, high = (show_mass(round(end / _PPM)) for end in ends)
    return low if low == high else f"{low} to {high}"


def _in_solution(
    product: Product,
    entry: ProductIngredient,
    *,
    water: int,
    volume_ul: int,
    row: tuple[RowKind, int],
    what: str,
    code: str,
    state: str,
) -> Somewhere:
    """A working solution; a litre of it is taken to weigh a kilogram."""
    strength = strengths(concentrate_of(product), water_parts_milli=water)
    mass_mg = _scaled(strength, volume_ul / (UL_PER_ML * 1_000) * MG_PER_KG)
    return Somewhere(*row, what, code, state, _content(entry, strength=strength), _amount(entry, mass_mg))


def _state_of(bath: Bath) -> str:
    if bath.is_in_service:
        return "in service"
    if bath.is_stock:
        return "stock solution"
    return "spare" if bath.is_spare else "waits to be dumped"
