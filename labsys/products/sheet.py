"""What a product's SDS and data sheet say, as one plain value: the form fills it, rows keep it, the page shows it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum
from fractions import Fraction

from labsys.chemistry.bath_rules import HOLDING_NAMES, Holding
from labsys.chemistry.care import KIND_NAMES, SolutionKind
from labsys.chemistry.sizes import MATERIAL_NAMES, UNIT_MM2, Material
from labsys.hazards.concentration import PPM_PER_PERCENT, Concentration
from labsys.hazards.mixtures.acute import UNIT_OF_ROUTE
from labsys.hazards.mixtures.model import Route
from labsys.hazards.waste_codes import WasteCode, waste_code
from labsys.products.densities import density_of_kind
from labsys.products.rules import show_dilution
from labsys.quantities import MILLI, counted, duration, figure, show_mass, show_volume
from labsys.timetable.local_time import day_words

HOURS_PER_DAY = 24
ATE_ROUTES = {
    "ate_oral_milli": Route.ORAL,
    "ate_dermal_milli": Route.DERMAL,
    "ate_gas_milli": Route.GAS,
    "ate_vapour_milli": Route.VAPOUR,
    "ate_dust_mist_milli": Route.DUST_MIST,
}  # the fields of an ingredient that hold acute toxicity estimates, in thousandths of the route's unit
ATE_COLUMNS = tuple(ATE_ROUTES)


class CapacityMeasure(StrEnum):
    """What a capacity is counted in; the value finishes "… per litre of working solution"."""

    AREA = "area"
    PIECES = "pieces"


MEASURE_NAMES = {CapacityMeasure.AREA: "rolls or 8x10 in sheets", CapacityMeasure.PIECES: "pieces of any size"}


def span_words(low_milli: int | None, high_milli: int | None) -> str:
    """Show a figure or a range as it is typed; nothing where it is not stated.

    >>> span_words(10_000, 11_500), span_words(1_050, None), span_words(None, None)
    ('10-11.5', '1.05', '')
    """
    return "-".join(filter(None, dict.fromkeys((figure(low_milli, MILLI), figure(high_milli, MILLI)))))


@dataclass(frozen=True)
class StatedIngredient:
    """A hazardous ingredient as section 3 of the SDS gives it."""

    name: str
    cas: str
    low_ppm: int
    high_ppm: int
    classification: str
    specific_limits: str = ""
    m_acute: int | None = None
    m_chronic: int | None = None
    ate_oral_milli: int | None = None
    ate_dermal_milli: int | None = None
    ate_gas_milli: int | None = None
    ate_vapour_milli: int | None = None
    ate_dust_mist_milli: int | None = None
    workplace_limit: str = ""

    @property
    def content(self) -> str:
        return str(Concentration(self.low_ppm, self.high_ppm))

    @property
    def limits_and_factors(self) -> str:
        factors = (("acute", self.m_acute), ("chronic", self.m_chronic))
        named = [f"M-factor {kind} {factor}" for kind, factor in factors if factor]
        estimates = [
            f"ATE {route} {figure(amount, MILLI)} {UNIT_OF_ROUTE[route]}"
            for name, route in ATE_ROUTES.items()
            if (amount := getattr(self, name)) is not None
        ]
        limit = f"workplace limit {self.workplace_limit}" if self.workplace_limit else ""
        return "; ".join(filter(None, [self.specific_limits, *named, *estimates, limit]))


@dataclass(frozen=True)
class StatedDilution:
    """A dilution of the data sheet, with what it is for and its pH as used; not stated, that is None at both ends."""

    water_parts_milli: int
    use: str
    ph_low_milli: int | None = None
    ph_high_milli: int | None = None

    @property
    def ph(self) -> str:
        return span_words(self.ph_low_milli, self.ph_high_milli)

    @property
    def words(self) -> str:
        return show_dilution(self.water_parts_milli)


@dataclass(frozen=True)
class StatedCapacity:
    """What a litre of working solution takes. [mm² or pieces]"""

    water_parts_milli: int
    material: Material
    measure: CapacityMeasure
    per_litre: int
    source: str

    @property
    def typed(self) -> str:
        """How many rolls or sheets, or pieces; areas come back as they were typed."""
        if self.measure is CapacityMeasure.PIECES:
            return str(self.per_litre)
        return figure(round(Fraction(self.per_litre * MILLI, UNIT_MM2)), MILLI)

    @property
    def words(self) -> str:
        return (
            f"A litre at {show_dilution(self.water_parts_milli)} takes {self.typed} {MEASURE_NAMES[self.measure]} of "
            f"{MATERIAL_NAMES[self.material]}."
        )


@dataclass(frozen=True)
class StatedAge:
    """How long a working solution keeps in a kind of holding."""

    holding: Holding
    hours: int
    source: str

    @property
    def span(self) -> tuple[int, str]:
        """Whole days where it comes out even, else hours."""
        days, rest = divmod(self.hours, HOURS_PER_DAY)
        return (self.hours, "hour") if rest else (days, "day")

    @property
    def words(self) -> str:
        return f"Keeps {counted(*self.span)} in {HOLDING_NAMES[self.holding]}."


@dataclass(frozen=True, kw_only=True)
class ProductSheet:
    """All that is entered of a product. What the rows keep is named as here."""

    name: str
    supplier: str
    kind: SolutionKind
    waste_code: str
    h_codes: str = ""
    sds_date: date | None = None
    powder_mg_per_l: int | None = None
    density_mg_per_ml: int | None = None
    density_high_mg_per_ml: int | None = None
    ph_low_milli: int | None = None
    ph_high_milli: int | None = None
    flash_point_milli_c: int | None = None
    viscosity_milli: int | None = None
    unknown_toxicity_ppm: int | None = None
    ingredients: Sequence[StatedIngredient] = ()
    ph_limit_milli: int | None = None
    q10_milli: int | None = None
    low_milli_c: int | None = None
    high_milli_c: int | None = None
    least_seconds: int | None = None
    least_concentrate_ul: int | None = None
    developing_source: str = ""
    dilutions: Sequence[StatedDilution] = ()
    capacities: Sequence[StatedCapacity] = ()
    ages: Sequence[StatedAge] = ()

    @property
    def bears_on_hazards(self) -> tuple[object, ...]:
        """What of it a confirmation against the SDS is about."""
        named = (self.name, self.supplier, self.kind, self.waste_code, self.h_codes, self.sds_date)
        measured = (self.powder_mg_per_l, self.density, self.ph, self.as_used)
        others = (self.flash_point_milli_c, self.viscosity_milli, self.unknown_toxicity_ppm)
        return (*named, *measured, *others, *self.ingredients)

    @property
    def ph(self) -> str:
        return span_words(self.ph_low_milli, self.ph_high_milli)

    @property
    def as_used(self) -> tuple[str, ...]:
        """The pH of each dilution for which it is stated."""
        return tuple(f"{dilution.words}: {dilution.ph}" for dilution in self.dilutions if dilution.ph)

    @property
    def density(self) -> str:
        return span_words(self.density_mg_per_ml, self.density_high_mg_per_ml)

    @property
    def flash_point(self) -> str:
        return figure(self.flash_point_milli_c, MILLI)

    @property
    def viscosity(self) -> str:
        return figure(self.viscosity_milli, MILLI)

    @property
    def unknown_toxicity(self) -> str:
        return figure(self.unknown_toxicity_ppm, PPM_PER_PERCENT)

    @property
    def kind_name(self) -> str:
        return KIND_NAMES[self.kind]

    @property
    def sds_day(self) -> str:
        return day_words(self.sds_date) if self.sds_date else ""

    @property
    def as_supplied(self) -> str:
        if self.powder_mg_per_l is not None:
            return f"Powder: {show_mass(self.powder_mg_per_l)} makes 1 L of undiluted solution"
        if not self.density:
            return f"Liquid, density not stated: {density_of_kind(self.kind).span} g/mL is assumed"
        return f"Liquid, {self.density} g/mL"

    @property
    def waste(self) -> WasteCode:
        return waste_code(self.waste_code)

    @property
    def ph_limit(self) -> str:
        return figure(self.ph_limit_milli, MILLI)

    @property
    def developing(self) -> str:
        """What a developer's data sheet says of time, temperature and film."""
        return " ".join(self._developing())

    def _developing(self) -> Iterator[str]:
        if self.q10_milli is not None:
            yield f"Works {figure(self.q10_milli, MILLI)} times as fast 10 °C warmer."
        if self.low_milli_c is not None and self.high_milli_c is not None:
            yield f"Its times hold from {figure(self.low_milli_c, MILLI)} to {figure(self.high_milli_c, MILLI)} °C."
        if self.least_seconds is not None:
            yield f"Under {duration(self.least_seconds)} it develops unevenly."
        if self.least_concentrate_ul is not None:
            yield f"A roll of film needs at least {show_volume(self.least_concentrate_ul)} of it undiluted."
