"""The rows of the register: each product, then each working solution made from it, as the page and its CSV show them.

What is in the bottle is what its supplier's SDS says; what is in a bath is worked out from it, and says so.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from itertools import chain
from zoneinfo import ZoneInfo

from labsys.baths.queries import BATH
from labsys.chemistry.care import KIND_NAMES
from labsys.hazards.label import LabelElements
from labsys.hazards.restricted import restricted_in
from labsys.hazards.solution import SolutionHazards
from labsys.hazards.substances import find_substances
from labsys.ledger.models import Unit
from labsys.ledger.rules import show
from labsys.people.row_kinds import RowKind
from labsys.products.hazards import concentrate_of, hazards_of
from labsys.products.models import Confirmation, Product
from labsys.products.rules import NOT_CLASSIFIED, show_dilution
from labsys.products.standing import ProductStanding, SdsState, interim_words
from labsys.quantities import show_volume
from labsys.register.queries import AssessedIn, Holdings
from labsys.store.models import Bottle
from labsys.store.queries import BOTTLE
from labsys.timetable.local_time import to_local
from labsys.waste.queries import CONTAINER

STORE = "Chemical store"


class HazardFilter(StrEnum):
    """Kinds of hazard that the register can be read by; the value is how a person calls them."""

    SKIN_SENSITISER = "skin sensitisers"
    RESPIRATORY_SENSITISER = "respiratory sensitisers"
    CMR = "CMR: cancer, mutations, reproduction"
    CORROSIVE = "corrosive or damaging to eyes"
    TOXIC = "toxic or fatal"
    FLAMMABLE = "flammable or oxidising"
    GAS_WITH_ACID = "free a toxic gas with acid"
    ENVIRONMENT = "harmful to water"


_CODES_OF = {
    HazardFilter.CMR: ("H340", "H341", "H350", "H351", "H360", "H361", "H362"),
    HazardFilter.CORROSIVE: ("H290", "H314", "H318"),
    HazardFilter.TOXIC: ("H300", "H301", "H310", "H311", "H330", "H331", "H370", "H372"),
    HazardFilter.FLAMMABLE: ("H22", "H27"),
    HazardFilter.GAS_WITH_ACID: ("EUH031", "EUH032"),
    HazardFilter.ENVIRONMENT: ("H400", "H410", "H411", "H412", "H413"),
}


@dataclass(frozen=True)
class Whereabouts:
    """One bottle, bath or container that holds some of it. `kind` and `row_id` say which."""

    place: str
    what: str
    code: str
    amount: str
    kind: RowKind
    row_id: int

    @property
    def address(self) -> str:
        return self.kind.address(self.row_id)

    @property
    def in_words(self) -> str:
        return f"{self.what} {self.code}, {self.amount} ({self.place})"


@dataclass(frozen=True)
class RegisterRow:
    """One product, or one working solution of it. `dilution` is empty for the product as supplied.

    `concerns` are what is missing or overdue, in words; those of a product stand with the product alone.
    """

    product: Product
    dilution: str
    hazards: SolutionHazards
    whereabouts: tuple[Whereabouts, ...]
    standing: ProductStanding
    assessed: Sequence[AssessedIn]
    concerns: tuple[str, ...] = ()

    @property
    def kind(self) -> str:
        return KIND_NAMES[self.product.kind]

    @property
    def label(self) -> LabelElements:
        return self.hazards.label

    @property
    def title(self) -> str:
        return f"{self.product.name}, {self.dilution}" if self.dilution else self.product.name

    @property
    def confirmed(self) -> Confirmation | None:
        return self.product.confirmation

    @property
    def restrictions(self) -> list[str]:
        """What of it is restricted, and why."""
        ingredients = self.product.ingredients
        names = [self.product.name, *(ingredient.name for ingredient in ingredients)]
        restricted = restricted_in(names=names, cas=[ingredient.cas for ingredient in ingredients])
        return [f"{entry.name}: {entry.reason}" for entry in restricted]

    @property
    def assessed_in_words(self) -> str:
        """The assessments that speak of the product, and which of them are out of date."""
        told = (f"{each.title}{' (out of date)' if each.is_out_of_date else ''}" for each in self.assessed)
        return "; ".join(told) or "not assessed"

    @property
    def codes(self) -> tuple[str, ...]:
        """H and EUH codes of the row, joined ones taken apart."""
        printed = chain(self.label.hazard_statements, self.label.euh_statements)
        return tuple(code for joined, _ in printed for code in joined.split("+"))

    def is_of(self, hazard: HazardFilter) -> bool:
        """Whether the row has a hazard; a sensitiser present at any strength counts."""
        if hazard is HazardFilter.SKIN_SENSITISER:
            return bool(self.hazards.skin_sensitisers)
        if hazard is HazardFilter.RESPIRATORY_SENSITISER:
            return bool(self.hazards.respiratory_sensitisers)
        return any(code.startswith(_CODES_OF[hazard]) for code in self.codes)

    def holds(self, words: str) -> bool:
        """Whether words or a CAS number are found in its name, its supplier or its ingredients, or a short name is."""
        wanted = words.casefold()
        ingredients = ((ingredient.name, ingredient.cas) for ingredient in self.product.ingredients)
        told = (self.product.name, self.product.supplier, *chain.from_iterable(ingredients))
        known_so = {known.cas for known in find_substances(words)}
        return any(wanted in text.casefold() for text in told) or any(
            ingredient.cas in known_so for ingredient in self.product.ingredients
        )


@dataclass(frozen=True)
class RegisterFilter:
    """What of the register a person wants to see; everything when left alone."""

    only_concerns: bool = False
    hazard: HazardFilter | None = None
    place: str = ""
    words: str = ""

    def takes(self, row: RegisterRow) -> bool:
        return bool(
            (not self.only_concerns or row.concerns)
            and (self.hazard is None or row.is_of(self.hazard))
            and (not self.place or any(somewhere.place == self.place for somewhere in row.whereabouts))
            and (not self.words or row.holds(self.words))
        )


def rows(holdings: Holdings, *, now: datetime, zone: ZoneInfo) -> list[RegisterRow]:
    """Return all rows: products with something missing or overdue first, each followed by its working solutions."""
    today = to_local(now, zone=zone).date()
    groups = [[*_rows_of(product, holdings, today=today)] for product in holdings.products]
    groups.sort(key=lambda group: not group[0].concerns)
    return [*chain.from_iterable(groups)]


def places(shown: Iterable[RegisterRow]) -> list[str]:
    """Return every place that something of the register is at, by name."""
    return sorted({somewhere.place for row in shown for somewhere in row.whereabouts})


def concerns(
    product: Product,
    bottles: Sequence[Bottle],
    *,
    standing: ProductStanding,
    assessed: Sequence[AssessedIn],
    today: date,
) -> tuple[str, ...]:
    """Say what of a product's papers is missing or overdue, the gravest first."""
    told = []
    if standing.interim is not None:
        told.append(interim_words(standing.interim))
    elif product.confirmation is None:
        told.append("nobody compared it with its SDS as it now stands")
    if standing.sds is not SdsState.CURRENT:
        told.append(standing.sds_words)
    if not product.h_codes:
        told.append("nobody has entered what its SDS classifies it as")
    if not assessed and (product.h_codes != NOT_CLASSIFIED or concentrate_of(product).sensitisers):
        told.append("no approved assessment speaks of it")
    told += [f"assessment out of date: {each.title}" for each in assessed if each.is_out_of_date]
    if product.h_codes != NOT_CLASSIFIED and not product.ingredients:
        told.append("no ingredients, so its working solutions cannot be worked out")
    past = [bottle.code for bottle in bottles if bottle.lapses_on is not None and bottle.lapses_on < today]
    if past:
        told.append(f"past its date: {', '.join(past)}")
    if apart := [bottle.code for bottle in bottles if bottle.is_quarantined]:
        told.append(f"in quarantine: {', '.join(apart)}")
    return tuple(told)


def _rows_of(product: Product, holdings: Holdings, *, today: date) -> Iterator[RegisterRow]:
    bottles = [bottle for bottle in holdings.bottles if bottle.product_id == product.id]
    standing, assessed = holdings.standings[product.id], holdings.assessed.get(product.id, ())
    yield RegisterRow(
        product=product,
        dilution="",
        hazards=hazards_of(product),
        whereabouts=tuple(
            Whereabouts(
                holdings.shelves.get(bottle.id, STORE),
                BOTTLE.called,
                bottle.code,
                show(bottle.vessel.level, bottle.vessel.unit),
                BOTTLE,
                bottle.id,
            )
            for bottle in bottles
        ),
        standing=standing,
        assessed=assessed,
        concerns=concerns(product, bottles, standing=standing, assessed=assessed, today=today),
    )
    baths = [bath for bath in holdings.baths if bath.product_id == product.id]
    poured = [pour for pour in holdings.poured if pour.product_id == product.id]
    for water in sorted({bath.water_parts_milli for bath in baths} | {pour.water_parts_milli for pour in poured}):
        in_baths = (
            Whereabouts(bath.line.name, bath.name, bath.code, show(bath.vessel.level, Unit.UL), BATH, bath.id)
            for bath in baths
            if bath.water_parts_milli == water
        )
        in_containers = (
            Whereabouts(
                pour.place or "Waste",
                CONTAINER.called,
                pour.label,
                f"{show_volume(pour.volume_ul)} poured in",
                CONTAINER,
                pour.container_id,
            )
            for pour in poured
            if pour.water_parts_milli == water
        )
        yield RegisterRow(
            product=product,
            dilution=show_dilution(water) if water else "undiluted, in use",
            hazards=hazards_of(product, water_parts_milli=water),
            whereabouts=(*in_baths, *in_containers),
            standing=standing,
            assessed=assessed,
        )


def _statements(label: LabelElements) -> str:
    return "; ".join(f"{code} {text}" for code, text in (*label.hazard_statements, *label.euh_statements))


def _ingredients(product: Product) -> str:
    return "; ".join(f"{ingredient.name} ({ingredient.cas})" for ingredient in product.ingredients)


# The columns of its CSV: the head, and what stands under it.
_COLUMNS: dict[str, Callable[[RegisterRow, ZoneInfo], str]] = {
    "Product": lambda row, _: row.product.name,
    "Dilution": lambda row, _: row.dilution,
    "Supplier": lambda row, _: row.product.supplier,
    "What it is": lambda row, _: row.kind,
    "Signal word": lambda row, _: row.label.signal_word,
    "Hazard statements": lambda row, _: _statements(row.label),
    "Pictograms": lambda row, _: " ".join(row.label.pictograms),
    "Hazards from": lambda row, _: row.hazards.basis,
    "Not known, or assumed": lambda row, _: " ".join(row.hazards.declared_unknown),
    "Ingredients (CAS)": lambda row, _: _ingredients(row.product),
    "Skin sensitisers": lambda row, _: "; ".join(row.hazards.skin_sensitisers),
    "Restricted": lambda row, _: "; ".join(row.restrictions),
    "Where": lambda row, _: "; ".join(somewhere.in_words for somewhere in row.whereabouts),
    "SDS date": lambda row, _: row.product.sds_date.isoformat() if row.product.sds_date else "",
    "SDS state": lambda row, _: row.standing.sds,
    "Confirmed by": lambda row, _: row.confirmed.confirmed_by.name if row.confirmed else "",
    "Confirmed on": lambda row, zone: _day(row.confirmed.confirmed_at, zone) if row.confirmed else "",
    "Assessed in": lambda row, _: row.assessed_in_words,
    "Missing or overdue": lambda row, _: "; ".join(row.concerns),
}
HEADS = tuple(_COLUMNS)


def cells(row: RegisterRow, *, zone: ZoneInfo) -> tuple[str, ...]:
    """Return a row as the texts of its CSV, under `HEADS`."""
    return tuple(read(row, zone) for read in _COLUMNS.values())


def _day(instant: datetime, zone: ZoneInfo) -> str:
    return to_local(instant, zone=zone).date().isoformat()
