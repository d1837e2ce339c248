"""What the pages about baths show, worked out beforehand: lines in working order, what to measure out, hazards."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from labsys.baths import rules
from labsys.baths.cards import BathCard
from labsys.baths.cards import card as card_of
from labsys.baths.models import Bath, BathLine, Place, Way, Work
from labsys.chemistry.bath_rules import HOLDING_NAMES, Holding
from labsys.chemistry.care import (
    ALLOWED_SHARE,
    KIND_NAMES,
    NEED_OF,
    MeasuredMix,
    SolutionKind,
    least_batch,
    measure_mix,
)
from labsys.chemistry.dilution import Dilution
from labsys.chemistry.life import State
from labsys.chemistry.measuring import CannotMeasure, Cylinder
from labsys.ledger.models import Unit
from labsys.ledger.rules import show
from labsys.products import rules as product_rules
from labsys.products.models import Product
from labsys.products.rules import Amounts
from labsys.quantities import UL_PER_L, UL_PER_ML, show_volume
from labsys.waste.models import WasteKind
from labsys.waste.rules import Poured


@dataclass(frozen=True)
class LineOnPage:
    """A line with its baths: in service, spares, and those that wait to be dumped, each in working order."""

    line: BathLine
    in_service: tuple[BathCard, ...]
    spares: tuple[BathCard, ...]
    waiting: tuple[BathCard, ...]
    stocks: tuple[BathCard, ...] = ()

    @property
    def cards(self) -> tuple[BathCard, ...]:
        return (*self.in_service, *self.spares, *self.waiting, *self.stocks)

    @property
    def is_empty(self) -> bool:
        return not self.cards

    @property
    def stops_work(self) -> tuple[BathCard, ...]:
        """Baths in service that new work may not go through."""
        return tuple(card for card in self.in_service if card.life.state is State.EXHAUSTED)

    @property
    def may_rotate(self) -> bool:
        """Whether the second fixer should take the first place: it stands, and the first is gone or near its end."""
        firsts = [card for card in self.in_service if card.bath.place is Place.FIXER]
        has_second = any(card.bath.place is Place.SECOND_FIXER for card in self.in_service)
        return has_second and all(first.life.state is not State.PLENTY for first in firsts)

    def spare_for(self, bath: Bath) -> Bath | None:
        """A spare that can take a bath's place."""
        usable = (card.bath for card in self.spares if card.life.state is not State.EXHAUSTED)
        return next((spare for spare in usable if spare.place is bath.place), None)


def lines_on_page(lines: Sequence[BathLine], baths: Iterable[Bath], *, now: datetime) -> list[LineOnPage]:
    """Sort baths into their lines."""
    by_line: dict[int, list[Bath]] = {line.id: [] for line in lines}
    for bath in baths:
        by_line[bath.line_id].append(bath)
    return [line_on_page(line, by_line[line.id], now=now) for line in lines]


def line_on_page(line: BathLine, baths: Iterable[Bath], *, now: datetime) -> LineOnPage:
    """Sort the baths of one line into working order, older ones first within a place."""
    ordered = sorted(baths, key=lambda bath: (rules.WORKING_ORDER[bath.place], bath.id))
    cards = [card_of(bath, now=now) for bath in ordered]
    return LineOnPage(
        line=line,
        in_service=tuple(card for card in cards if card.bath.is_in_service),
        spares=tuple(card for card in cards if card.bath.is_spare),
        waiting=tuple(card for card in cards if card.bath.is_waiting),
        stocks=tuple(card for card in cards if card.bath.is_stock and not card.bath.dumped_at),
    )


@dataclass(frozen=True)
class MixPlan:
    """A bath as it is to be mixed."""

    product: Product
    water_parts_milli: int
    working_ul: int
    line: BathLine
    place: Place
    holding: Holding
    capacity_ul: int
    way: Way = Way.SHARED
    is_drawn: bool = False

    @property
    def amounts(self) -> Amounts:
        """What to measure out."""
        return product_rules.amounts(
            dilution=product_rules.dilution_of_milli(self.water_parts_milli),
            working_ul=self.working_ul,
            powder_mg_per_l=None if self.is_drawn else self.product.powder_mg_per_l,
        )

    @property
    def has_keeping_time(self) -> bool:
        """Whether it is known how long the product keeps in what the bath is to stand in."""
        return any(rule.holding == self.holding for rule in self.product.ages)

    @property
    def stands_in(self) -> str:
        return HOLDING_NAMES[self.holding]

    @property
    def name(self) -> str:
        """The name suggested for the bath."""
        if self.way is Way.STOCK:
            return f"{self.line.work.capitalize()} {self.place} stock"[: Bath.NAME_LENGTH]
        if self.line.work is Work.TONING:
            return self.place.capitalize()
        return f"{self.line.work.capitalize()} {self.place}"


def suggestions(*, product: Product, lines: Sequence[BathLine], line_id: int | None) -> dict[str, object]:
    """What the plan of a mix begins with: the line somebody came from, or the only one, and what goes with it."""
    line = next((line for line in lines if line.id == line_id or len(lines) == 1), None)
    return {
        "dilution": product.dilutions[0].water_parts_milli if len(product.dilutions) == 1 else None,
        "line_id": line.id if line else None,
        "place": rules.PLACE_OF.get(product.kind),
        "holding": line.holding if line else None,
    }


@dataclass(frozen=True)
class Measure:
    """One amount to measure out: in words, and how to measure it."""

    amount: str
    how: str


@dataclass(frozen=True)
class WorkedOut:
    """What to measure out for a working solution, with what, and how right it will come out."""

    unit: Unit
    called: str
    working: str
    dilution: str
    from_bottle: Measure
    water: Measure
    own_cylinder: str
    judgement: str
    is_good_enough: bool


def worked_out(
    *,
    product: Product,
    water_parts_milli: int,
    working_ul: int,
    cylinders: Sequence[Cylinder],
    water_cylinders: Sequence[Cylinder] = (),
    is_drawn: bool = False,
) -> WorkedOut:
    """Work out what to measure out, by which of the cylinders, and judge how right the strength will be.

    Raises CalculationError where the volume is out of range.
    """
    dilution = product_rules.dilution_of_milli(water_parts_milli)
    powder = None if is_drawn else product.powder_mg_per_l
    wanted = product_rules.amounts(dilution=dilution, working_ul=working_ul, powder_mg_per_l=powder)
    if wanted.unit is Unit.MG:
        how = ("Weigh it out, under extraction.", "Dissolve it in about three quarters of this, then make up to it.")
        own, judgement, good = "", "A powder is weighed: the scale decides how right the strength is.", True
    else:
        how, own, judgement, good = _by_cylinder(product.kind, dilution, working_ul, cylinders, water_cylinders)
    return WorkedOut(
        unit=wanted.unit,
        called="Stock solution" if is_drawn else "Powder" if wanted.unit is Unit.MG else "Concentrate",
        working=show_volume(working_ul),
        dilution=str(dilution),
        from_bottle=Measure(_to_measure(wanted.from_bottle, wanted.unit), how[0]),
        water=Measure(_to_measure(wanted.water_ul, Unit.UL), how[1]),
        own_cylinder=own,
        judgement=judgement,
        is_good_enough=good,
    )


def _to_measure(amount: int, unit: Unit) -> str:
    """Say an amount as finely as a hand measures it: whole millilitres where litres would round them off."""
    if unit is Unit.UL and 100 * UL_PER_ML <= amount < 10 * UL_PER_L:
        return f"{amount / UL_PER_ML:.0f} mL"
    return show(amount, unit)


def _by_cylinder(
    kind: SolutionKind,
    dilution: Dilution,
    working_ul: int,
    cylinders: Sequence[Cylinder],
    water_cylinders: Sequence[Cylinder],
) -> tuple[tuple[str, str], str, str, bool]:
    need = NEED_OF[kind]
    try:
        mix = measure_mix(
            dilution=dilution, working_ml=working_ul / UL_PER_ML, owned=cylinders, need=need, for_water=water_cylinders
        )
    except CannotMeasure as refusal:
        if refusal.lowest_ml is None:
            return ("", ""), "", "No measuring cylinder is entered. Add the ones you have to the chemical store.", False
        words = str(refusal)
        larger = _larger(dilution, cylinders, water_cylinders, kind, working_ul)
        return ("", ""), "", f"{words[:1].upper()}{words[1:]}. {larger}", False
    how = (mix.concentrate.in_words, mix.water.in_words if mix.water else "")
    keeps_own = any(cylinder.is_kept for cylinder in cylinders)
    return (
        how,
        _own_cylinder(mix, kind) if keeps_own else "",
        _judged(mix, kind, dilution, cylinders, water_cylinders),
        mix.is_good_enough,
    )


def _own_cylinder(mix: MeasuredMix, kind: SolutionKind) -> str:
    """Whether the concentrate goes into the cylinder kept for its kind, and what to mind where it does not."""
    if all(fill.cylinder.is_kept for fill in mix.concentrate.fills):
        return f"Use the measuring cylinder kept for {KIND_NAMES[kind]} alone."
    return f"Those kept for {KIND_NAMES[kind]} measure it less well: rinse this one well before and after."


def _judged(
    mix: MeasuredMix,
    kind: SolutionKind,
    dilution: Dilution,
    cylinders: Sequence[Cylinder],
    water_cylinders: Sequence[Cylinder],
) -> str:
    measured = (
        f"Measured so, the strength is at worst {100 * mix.error.worst:.1f} % off; "
        f"{KIND_NAMES[kind]} allows {100 * ALLOWED_SHARE[mix.need]:.0f} %."
    )
    if mix.is_good_enough:
        return f"{measured} Good enough."
    working_ul = round(mix.parts.working_ml * UL_PER_ML)
    return f"{measured} Not good enough. {_larger(dilution, cylinders, water_cylinders, kind, working_ul)}"


def _larger(
    dilution: Dilution,
    cylinders: Sequence[Cylinder],
    water_cylinders: Sequence[Cylinder],
    kind: SolutionKind,
    working_ul: int,
) -> str:
    least = least_batch(
        dilution=dilution,
        owned=cylinders,
        need=NEED_OF[kind],
        for_water=water_cylinders,
        above_ml=working_ul / UL_PER_ML,
    )
    if least is None:
        return "None of the cylinders here measures finely enough: use a finer one."
    more = " or more" if least.larger_too else ""
    return f"Use a finer cylinder, or mix {show_volume(least.ml * UL_PER_ML)}{more}."


def as_poured(bath: Bath) -> Poured:
    """A bath as what is poured away of it."""
    product = bath.product
    kind = WasteKind(product.kind.value)
    return Poured(bath.name, product.waste_code, bath.vessel.level, kind=kind, product_id=product.id)
