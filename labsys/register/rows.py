"""The rows of the register: each product, then each working solution made from it, as the page and its CSV show them.

What is in the bottle is what its supplier's SDS says; what is in a bath is worked out from it, and says so.
"""

from collections.abc import Iterable, Iterator, Sequence
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
from labsys.ledger.models import Unit
from labsys.ledger.rules import show
from labsys.people.row_kinds import RowKind
from labsys.products.hazards import concentrate_of, hazards_of
from labsys.products.models import Product
from labsys.products.rules import show_dilution
from labsys.products.standing import SdsState, Standing, interim_words
from labsys.quantities import show_volume
from labsys.register.queries import AssessedIn, Holdings, Poured
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

    product_id: int
    name: str
    dilution: str
    supplier: str
    kind: str
    hazards: SolutionHazards
    restrictions: tuple[str, ...]
    ingredients: tuple[tuple[str, str], ...]
    whereabouts: tuple[Whereabouts, ...]
    sds_date: date | None
    standing: Standing
    assessed: tuple[AssessedIn, ...]
    confirmed_by: str
    confirmed_at: datetime | None
    concerns: tuple[str, ...] = ()

    @property
    def label(self) -> LabelElements:
        return self.hazards.label

    @property
    def title(self) -> str:
        return f"{self.name}, {self.dilution}" if self.dilution else self.name

    @property
    def assessed_in_words(self) -> str:
        """The assessments that speak of the product, and which of them are out of date."""
        told = (f"{one.title}{' (out of date)' if one.is_out_of_date else ''}" for one in self.assessed)
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
        """Whether words or a CAS number are found in its name, its supplier or its ingredients."""
        wanted = words.casefold()
        told = (self.name, self.supplier, *chain.from_iterable(self.ingredients))
        return any(wanted in one.casefold() for one in told)


@dataclass(frozen=True)
class Asked:
    """What of the register a person wants to see; everything when left alone."""

    only_concerns: bool = False
    hazard: HazardFilter | None = None
    place: str = ""
    words: str = ""


def rows(holdings: Holdings, *, now: datetime, zone: ZoneInfo) -> tuple[RegisterRow, ...]:
    """Return all rows: products with something missing or overdue first, each followed by its working solutions."""
    today = to_local(now, zone=zone).date()
    groups = [_rows_of(product, holdings, today=today) for product in holdings.products]
    groups.sort(key=lambda group: not group[0].concerns)
    return tuple(chain.from_iterable(groups))


def chosen(found: Iterable[RegisterRow], asked: Asked) -> tuple[RegisterRow, ...]:
    """Return the rows that were asked for, in the same order."""
    return tuple(
        row
        for row in found
        if (not asked.only_concerns or row.concerns)
        and (asked.hazard is None or row.is_of(asked.hazard))
        and (not asked.place or any(one.place == asked.place for one in row.whereabouts))
        and (not asked.words or row.holds(asked.words))
    )


def places(found: Iterable[RegisterRow]) -> tuple[str, ...]:
    """Return every place that something of the register is at, by name."""
    return tuple(sorted({one.place for row in found for one in row.whereabouts}))


def concerns(
    product: Product,
    bottles: Sequence[Bottle],
    *,
    standing: Standing,
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
    if not assessed and (product.h_codes or concentrate_of(product).sensitisers):
        told.append("no approved assessment speaks of it")
    told += [f"assessment out of date: {one.title}" for one in assessed if one.is_out_of_date]
    if product.h_codes and not product.ingredients:
        told.append("no ingredients, so its working solutions cannot be worked out")
    past = [one.code for one in bottles if one.expires_on is not None and one.expires_on < today]
    if past:
        told.append(f"past its date: {', '.join(past)}")
    return tuple(told)


def _rows_of(product: Product, holdings: Holdings, *, today: date) -> list[RegisterRow]:
    bottles = [one for one in holdings.bottles if one.product_id == product.id]
    standing, assessed = holdings.standings[product.id], tuple(holdings.assessed.get(product.id, ()))
    found = [
        _row(
            product,
            hazards=hazards_of(product),
            dilution="",
            whereabouts=tuple(
                Whereabouts(
                    holdings.shelves.get(one.id, STORE),
                    BOTTLE.called,
                    one.code,
                    show(one.vessel.level, one.vessel.unit),
                    BOTTLE,
                    one.id,
                )
                for one in bottles
            ),
            standing=standing,
            assessed=assessed,
            concerns=concerns(product, bottles, standing=standing, assessed=assessed, today=today),
        )
    ]
    baths = [one for one in holdings.baths if one.product_id == product.id]
    poured = [one for one in holdings.poured if one.product_id == product.id]
    for water in sorted({one.water_parts_milli for one in baths} | {one.water_parts_milli for one in poured}):
        in_baths = (
            Whereabouts(one.line.name, one.name, one.code, show(one.vessel.level, Unit.UL), BATH, one.id)
            for one in baths
            if one.water_parts_milli == water
        )
        found.append(
            _row(
                product,
                hazards=hazards_of(product, water_parts_milli=water),
                dilution=show_dilution(water) if water else "undiluted, in use",
                whereabouts=(*in_baths, *_in_containers(one for one in poured if one.water_parts_milli == water)),
                standing=standing,
                assessed=assessed,
                concerns=(),
            )
        )
    return found


def _in_containers(poured: Iterable[Poured]) -> Iterator[Whereabouts]:
    for one in poured:
        amount = f"{show_volume(one.volume_ul)} poured in"
        place = one.place or "Waste"
        yield Whereabouts(place, CONTAINER.called, one.label, amount, CONTAINER, one.container_id)


def _row(
    product: Product,
    *,
    hazards: SolutionHazards,
    dilution: str,
    whereabouts: tuple[Whereabouts, ...],
    standing: Standing,
    assessed: tuple[AssessedIn, ...],
    concerns: tuple[str, ...],
) -> RegisterRow:
    confirmed = product.confirmation
    names = [product.name, *(one.name for one in product.ingredients)]
    restrictions = restricted_in(names=names, cas=[one.cas for one in product.ingredients])
    return RegisterRow(
        product_id=product.id,
        name=product.name,
        dilution=dilution,
        supplier=product.supplier,
        kind=KIND_NAMES[product.kind],
        hazards=hazards,
        restrictions=tuple(f"{one.name}: {one.reason}" for one in restrictions),
        ingredients=tuple((one.name, one.cas) for one in product.ingredients),
        whereabouts=whereabouts,
        sds_date=product.sds_date,
        standing=standing,
        assessed=assessed,
        confirmed_by=confirmed.confirmed_by.name if confirmed else "",
        confirmed_at=confirmed.confirmed_at if confirmed else None,
        concerns=concerns,
    )


HEADS = (
    "Product",
    "Dilution",
    "Supplier",
    "What it is",
    "Signal word",
    "Hazard statements",
    "Pictograms",
    "Hazards from",
    "Ingredients (CAS)",
    "Skin sensitisers",
    "Restricted",
    "Where",
    "SDS date",
    "SDS state",
    "Confirmed by",
    "Confirmed on",
    "Assessed in",
    "Missing or overdue",
)


def cells(row: RegisterRow, *, zone: ZoneInfo) -> tuple[str, ...]:
    """Return a row as the texts of its CSV, under `HEADS`."""
    return (
        row.name,
        row.dilution,
        row.supplier,
        row.kind,
        row.label.signal_word,
        "; ".join(f"{code} {text}" for code, text in (*row.label.hazard_statements, *row.label.euh_statements)),
        " ".join(row.label.pictograms),
        row.hazards.basis,
        "; ".join(f"{name} ({cas})" for name, cas in row.ingredients),
        "; ".join(row.hazards.skin_sensitisers),
        "; ".join(row.restrictions),
        "; ".join(one.in_words for one in row.whereabouts),
        row.sds_date.isoformat() if row.sds_date else "",
        row.standing.sds,
        row.confirmed_by,
        to_local(row.confirmed_at, zone=zone).date().isoformat() if row.confirmed_at else "",
        row.assessed_in_words,
        "; ".join(row.concerns),
    )
