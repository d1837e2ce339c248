"""Decisions about baths: what a mix comes to, how much life is left, whether work may start, what a test means."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from fractions import Fraction
from math import ceil

from labsys.baths.models import Bath, Place, Way, Work
from labsys.baths.tested import less, tests_of
from labsys.chemistry.bath_rules import AgeLimit, AreaCapacity, BathFacts, Holding, PieceCapacity
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.carry_over import carried_out_ml
from labsys.chemistry.life import Fit, Life, State, life_of
from labsys.chemistry.silver import silver_into_fixer_g
from labsys.chemistry.sizes import MATERIAL_NAMES, Load, Pieces, load_of
from labsys.ledger.models import Unit
from labsys.products.capacities import capacities_of as capacities_in_force
from labsys.products.rules import Amounts
from labsys.products.sheet import CapacityMeasure
from labsys.quantities import MG_PER_G, UL_PER_ML, show_volume
from labsys.records.errors import Refused

PPM = 1_000_000
WAITS = "A bath it went through was dumped meanwhile. It is kept, and waits for the technician to accept it."
UNDO_WITHIN = timedelta(minutes=2)
UNCLEARED = "Done without a current induction: "  # by which a flag tells it from what else was wrong
_UNCLEARED_END = ". Get it before the next time."
WORKING_ORDER = {place: position for position, place in enumerate(Place)}
PLACE_OF = {
    SolutionKind.DEVELOPER: Place.DEVELOPER,
    SolutionKind.STOP: Place.STOP,
    SolutionKind.FIXER: Place.FIXER,
    SolutionKind.WASH_AID: Place.WASH_AID,
    SolutionKind.TONER: Place.TONER,
    SolutionKind.WETTING_AGENT: Place.RINSE,
    SolutionKind.BLEACH: Place.BLEACH,
    SolutionKind.BLEACH_FIX: Place.BLEACH_FIX,
    SolutionKind.STABILISER: Place.STABILISER,
}  # a coating is brushed on: it has no place in a line
TAKES_SILVER = (Place.FIXER, Place.SECOND_FIXER, Place.BLEACH_FIX)


class BathRefused(Refused):
    """The bath cannot be mixed or changed so; the message says why and what to do."""


class WorkRefused(Refused):
    """New work may not start in these baths; the spare is named where there is one."""


@dataclass(frozen=True)
class Taken:
    """What was really measured out of one bottle. `left` is what was seen to be left in it, where somebody looked."""

    bottle_id: int
    amount: int
    left: int | None = None


def strength_ppm(*, measured: int, measured_water_ul: int, wanted: Amounts) -> int:
    """Return the strength of what was mixed against what was wanted; 1 000 000 is equal.

    Liquid: concentrate over concentrate and water. Powder: mass over volume made up.
    """
    if wanted.unit is Unit.MG:
        got = Fraction(measured, measured_water_ul)
        aim = Fraction(wanted.from_bottle, wanted.water_ul)
    else:
        got = Fraction(measured, measured + measured_water_ul)
        aim = Fraction(wanted.from_bottle, wanted.from_bottle + wanted.water_ul)
    return round(got / aim * PPM)


def strength_in_words(strength_ppm: int) -> str:
    """Say how a measured strength compares with the intended one.

    >>> strength_in_words(1_000_000), strength_in_words(1_021_000)
    ('as intended', '2.1 % stronger than intended')
    """
    percent = (strength_ppm - PPM) / (PPM // 100)
    if abs(percent) < 0.5:
        return "as intended"
    return f"{abs(percent):.1f} % {'stronger' if percent > 0 else 'weaker'} than intended"


def mixed_volume_ul(*, measured: int, water_ul: int, unit: Unit) -> int:
    """Return the volume mixed: volumes are taken as additive; a powder is made up to the volume of water entered."""
    return water_ul if unit is Unit.MG else measured + water_ul


def life(bath: Bath, *, now: datetime) -> Life:
    """Work out the life a bath has left, from its product's rules, what went through it, its age and its tests."""
    product = bath.product
    materials = frozenset(bath.line.work.materials)
    areas, pieces = capacities_of(bath)
    age_hours = max(0.0, (now - bath.mixed_at).total_seconds() / 3600)
    is_first_of_two = bath.is_in_service and bath.place is Place.FIXER and bath.rotation is not None
    return life_of(
        facts=BathFacts(
            materials=materials,
            total_ul=bath.made_up_ul if bath.replenishing is None else bath.replenishing.tank_ul,
            used=counted(bath),
            areas=areas,
            pieces=pieces,
            ages=tuple(AgeLimit(rule.holding, rule.hours, rule.source) for rule in product.ages),
            held_hours={held_in(bath): age_hours},
            checks=tuple(tests_of(bath)),
            lacks_second_bath=is_first_of_two and not bath.has_second_fixer,
            is_one_shot=bath.way is Way.ONE_SHOT,
        )
    )


def capacities_of(bath: Bath) -> tuple[tuple[AreaCapacity, ...], PieceCapacity | None]:
    """What a litre of a bath takes, by its product's rules for its dilution and what goes through its line."""
    areas, pieces = [], None
    for rule in capacities_in_force(bath.product):
        if rule.water_parts_milli != bath.water_parts_milli or rule.material not in bath.line.work.materials:
            continue
        if rule.measure is CapacityMeasure.AREA:
            areas.append(AreaCapacity(rule.material, rule.per_litre, rule.source))
        else:
            pieces = PieceCapacity(rule.per_litre, rule.source)
    return tuple(areas), pieces


def held_in(bath: Bath) -> Holding:
    """What a bath stands in; a bottle counts as full only while it is, to a twentieth (common practice, no source)."""
    if bath.holding is Holding.FULL_BOTTLE and bath.vessel.level < bath.vessel.capacity * 19 // 20:
        return Holding.PART_FULL_BOTTLE
    return bath.holding


def counted(bath: Bath) -> Load:
    """What counts against a bath's capacity: of a second fixer nothing, until it takes the first place.

    Source:
        By far the most silver stays in the first bath: the two-bath rule of NAVEDTRA 14209, Photography (Basic), and
        S. Anchell, The Darkroom Cookbook, 3rd ed. (2008), p. 107.
    """
    if bath.place is Place.SECOND_FIXER:
        return Load()
    used = bath.used if bath.rotation is None else less(bath.used, bath.rotation.used)
    if bath.seasoning is not None:
        used += bath.seasoning.used
    return used if bath.replenishing is None else not_restored(used, restored_mm2=bath.replenishing.restored_mm2)


def not_restored(used: Load, *, restored_mm2: int) -> Load:
    """What of a load replenishing has not made good: the same share of each material and of the pieces, rounded up.

    Source:
        A rate for an area makes good that area: common practice, no source.
    """
    through = used.film_mm2 + used.rc_mm2 + used.fibre_mm2
    if restored_mm2 >= through:
        return Load()
    left = 1 - Fraction(restored_mm2, through)
    return Load(**{name: ceil(amount * left) for name, amount in asdict(used).items()})


def work_load(went: Sequence[Pieces], *, work: Work) -> Load:
    """Return what pieces put together on the baths of a line. Raises BathRefused for one that does not belong there."""
    load = Load()
    for pieces in went:
        if pieces.material not in work.materials:
            raise BathRefused(
                f"This line is for {work}; {MATERIAL_NAMES[pieces.material]} goes through another. "
                "Scan that line's code.",
                field="material",
            )
        if not pieces.size.is_made_in(pieces.material):
            raise BathRefused(
                f"{pieces.size.key} is not a size of {MATERIAL_NAMES[pieces.material]}. Choose the size again.",
                field="size",
            )
        load += load_of(size=pieces.size, material=pieces.material, count=pieces.count)
    return load


def check_can_undo(*, recorded_at: datetime, now: datetime) -> None:
    """Raise BathRefused once the time to take back what was just saved is over."""
    if now > recorded_at + UNDO_WITHIN:
        raise BathRefused("The time to undo is over. Put the entry right instead: the old one stays beside the new.")


@dataclass(frozen=True)
class JudgedBath:
    """One bath of a line with its life, as the gate before work sees it."""

    bath: Bath
    life: Life


def check_may_start(*, in_service: Sequence[JudgedBath], spares: Sequence[JudgedBath], load: Load) -> None:
    """Raise WorkRefused when a bath in service is exhausted or has too little left for the work, naming the spare.

    A bath whose life is not known does not stop work; its state is shown.
    """
    if not in_service:
        raise WorkRefused("No bath of this line is in service. Ask the technician.")
    usable = [spare.bath for spare in spares if spare.life.fit(load=load) is not Fit.TOO_MUCH]
    reasons = []
    for bath, life in ((judged.bath, judged.life) for judged in in_service):
        if life.fit(load=load) is not Fit.TOO_MUCH:
            continue
        why = "is exhausted" if life.state is State.EXHAUSTED else "has too little left for this"
        spare = next((spare for spare in usable if spare.place is bath.place), None)
        instead = (
            f"Use the spare {spare.code}: ask for it to be put in service."
            if spare
            else "There is no spare: ask the technician."
        )
        reasons.append(f"{bath.name} {bath.code} {why}. {instead}")
    if reasons:
        raise WorkRefused(" ".join(reasons))


def flag_for(*, in_service: Sequence[JudgedBath], load: Load, missing: Sequence[str] = ()) -> str:
    """Say what was wrong with work that is already done, or an empty text; `missing` names inductions not held."""
    flags = []
    if over := [judged.bath for judged in in_service if judged.life.fit(load=load) is Fit.TOO_MUCH]:
        flags.append(
            f"Done in a bath past its capacity or age: {', '.join(f'{bath.name} {bath.code}' for bath in over)}. "
            "Check the work, and wash or fix it again if need be."
        )
    if missing:
        flags.append(f"{UNCLEARED}{', '.join(missing)}{_UNCLEARED_END}")
    return " ".join(flags)


def inductions_lacked(flag: str) -> str:
    """The inductions that a flag names as missing.

    >>> inductions_lacked("Done without a current induction: Skin care, Film. Get it before the next time.")
    'Skin care, Film'
    """
    return flag.partition(UNCLEARED)[2].removesuffix(_UNCLEARED_END)


def silver_mg(*, bath: Bath) -> tuple[int, int]:
    """Return the silver a used fixer holds, as low and high estimate; none for other baths. [mg]

    How much a second fixer takes up is not known: none of it counts towards the low estimate, all towards the high.
    """
    if bath.place not in TAKES_SILVER or bath.used.is_nothing:
        return (0, 0)
    low, high = silver_into_fixer_g(load=counted(bath)).low, silver_into_fixer_g(load=bath.used).high
    return (int(low * MG_PER_G), round(high * MG_PER_G))


@dataclass(frozen=True)
class Losses:
    """How the book and the volume poured differ: carried out on film and paper as far as that explains it."""

    carried_out_ul: int
    unexplained_ul: int


def losses(*, level_ul: int, poured_ul: int, load: Load) -> Losses:
    """Explain the difference between a bath's level by the book and what was poured out of it.

    What film and paper can have carried out, by the high estimate, is put down to that; the rest is unexplained. More
    poured out than the book knew of counts as unexplained below zero.
    """
    missing = level_ul - poured_ul
    if missing <= 0:
        return Losses(0, missing)
    carried = min(missing, round(carried_out_ml(load=load).high * UL_PER_ML))
    return Losses(carried, missing - carried)


def check_not_dumped(bath: Bath, *, at: datetime) -> None:
    """Raise BathRefused for a bath that is gone, or was not there yet at that time."""
    if bath.dumped_at is not None:
        raise BathRefused(f"{bath.name} {bath.code} was dumped already.")
    if at < bath.mixed_at:
        raise BathRefused(f"{bath.name} {bath.code} was not mixed yet at that time. Check the time.", field="when")


def check_is_a_bath(kind: SolutionKind) -> None:
    """Raise BathRefused for what is never mixed as a bath."""
    if kind not in PLACE_OF:
        raise BathRefused("A coating is brushed on: it has no bath. Its plan says how much to measure out.")


def check_room(*, capacity_ul: int, volume_ul: int) -> None:
    """Raise BathRefused when the vessel is smaller than what goes in."""
    if volume_ul > capacity_ul:
        raise BathRefused(
            f"It holds {show_volume(capacity_ul)}: less than the {show_volume(volume_ul)} mixed. Check both figures.",
            field="capacity",
        )
