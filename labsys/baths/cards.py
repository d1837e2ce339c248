"""A bath at a glance: how good it is in words, which rule limits it, its graduate and its life as a bar."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from zoneinfo import ZoneInfo

from flask import g

from labsys.baths.due import DueTest, due_tests
from labsys.baths.models import Bath, Place
from labsys.baths.rules import life as life_of_bath
from labsys.chemistry.bath_rules import (
    HOLDING_NAMES,
    Check,
    ClearingTest,
    Colour,
    GravityTest,
    IndicatorTest,
    PhTest,
    SilverTest,
    StainTest,
    StripTest,
)
from labsys.chemistry.life import STATE_NAMES, Life, Limit, State
from labsys.chemistry.sizes import MATERIAL_NAMES, UNIT_MM2, Material, size_of
from labsys.drawing.graduate import Liquid, graduate, life_bar
from labsys.drawing.scene import Scene
from labsys.forms import given
from labsys.products.rules import dilution_of_milli
from labsys.quantities import UL_PER_ML, counted, show_volume
from labsys.timetable.local_time import to_local

LIQUID_OF = {
    State.PLENTY: Liquid.PLENTY,
    State.NEAR_ITS_END: Liquid.NEAR_END,
    State.EXHAUSTED: Liquid.EXHAUSTED,
    State.NOT_KNOWN: Liquid.UNKNOWN,
}
LIMIT_NAMES = {
    Limit.AREA: "area",
    Limit.PIECES: "pieces",
    Limit.AGE: "age",
    Limit.CLEARING: "clearing time",
    Limit.PH: "pH",
    Limit.INDICATOR: "indicator",
    Limit.GRAVITY: "specific gravity",
    Limit.SILVER: "silver in it",
    Limit.STRIP: "control strip",
    Limit.STAIN: "silver left in the work",
    Limit.VERDICT: "a person's verdict",
    Limit.ONE_SHOT: "one-shot",
}
COLOUR_WORDS = {Colour.UNCHANGED: "the colour of a fresh bath", Colour.TURNING: "turning", Colour.CHANGED: "changed"}
_LIMIT_OF = {
    ClearingTest: Limit.CLEARING,
    PhTest: Limit.PH,
    IndicatorTest: Limit.INDICATOR,
    GravityTest: Limit.GRAVITY,
    SilverTest: Limit.SILVER,
    StripTest: Limit.STRIP,
    StainTest: Limit.STAIN,
}
_FILM_PIECE = size_of(key="120")
_PAPER_PIECE = size_of(key="8x10 in")
_HOURS_SAID_AS_HOURS = 96


@dataclass(frozen=True)
class BathCard:
    """What a card or a page's head says of a bath."""

    bath: Bath
    life: Life
    state_words: str
    limit_words: str
    detail: str
    graduate: Scene
    life_bar: Scene
    due: tuple[DueTest, ...]


def card(bath: Bath, *, now: datetime) -> BathCard:
    """Describe a bath as it stands. Days are the lab's, by the zone of the request.

    The bath brings its product's rules, line, tests and who mixed it, as `queries.baths_here` loads them.
    """
    life = life_of_bath(bath, now=now)
    level_ml, capacity_ml = bath.vessel.level / UL_PER_ML, bath.vessel.capacity / UL_PER_ML
    return BathCard(
        bath=bath,
        life=life,
        state_words=f"Dumped on {_day(bath.dumped_at, now)}." if bath.dumped_at else state_in_words(life),
        limit_words="" if bath.dumped_at else limit_in_words(life),
        detail=f"{_contents(bath)} · mixed {_day(bath.mixed_at, now)} by {bath.mixed_by.name}{_of_two(bath, now)}",
        graduate=graduate(level_ml=level_ml, capacity_ml=capacity_ml, liquid=LIQUID_OF[life.state]),
        life_bar=life_bar(None if life.share_left is None else float(life.share_left)),
        due=due_tests(bath, now=now),
    )


def _of_two(bath: Bath, now: datetime) -> str:
    """How a bath of two-bath fixing stands, or nothing."""
    if bath.place is Place.SECOND_FIXER:
        return " · second fixer: work counts in it once it takes the first place"
    if bath.rotation is not None:
        return f" · first fixer since {_day(bath.rotation.rotated_at, now)}, rotation {bath.rotation.number}"
    return ""


def state_in_words(life: Life) -> str:
    """Say how good a bath is, and how much more it takes where that is known."""
    match life.state:
        case State.EXHAUSTED:
            return "Exhausted: do not use"
        case State.NOT_KNOWN:
            return f"Not known: {why_not_known(life)}"
        case state if life.is_known:
            return f"{STATE_NAMES[state]}: {_room(life)}"
        case state:
            return f"{STATE_NAMES[state]}: how much it still takes is not known, for {why_not_known(life)}"


def limit_in_words(life: Life) -> str:
    """Name the rule that limits a bath, with its figures."""
    known = life.strictest
    said = f"{LIMIT_NAMES[known.limit]}. {_figures(life, known.limit)}" if known else "none can be named."
    head = "Limit" if life.limiting or known is None else "Of what is known, the limit"
    return " ".join([f"{head}: {said}", *_to_set(life)])


def _to_set(life: Life) -> Iterator[str]:
    """What to do so that the life can be told."""
    if life.state is State.EXHAUSTED or life.is_known:
        return
    if life.facts.lacks_second_bath:
        yield "Mix a second fixer and put it in service behind this one."
    missing = ["a capacity for this dilution"] if _without_capacity(life) else []
    missing += [f"a keeping time for {HOLDING_NAMES[holding]}" for holding in life.facts.without_keeping_time]
    if missing:
        yield f"Set {' and '.join(missing)} on the product's page."


def dilution_in_words(water_parts_milli: int) -> str:
    """Say a dilution as it is kept: "1+4", or undiluted.

    >>> dilution_in_words(4_000), dilution_in_words(1_500), dilution_in_words(0)
    ('1+4', '1+1.5', 'undiluted')
    """
    dilution = dilution_of_milli(water_parts_milli)
    return "undiluted" if dilution.is_stock else f"1+{float(dilution.water_parts):g}"


def _room(life: Life) -> str:
    """How many more pieces go through, if only they follow."""
    if Material.FILM in life.facts.materials:
        count = life.remaining_pieces(size=_FILM_PIECE, material=Material.FILM)
        return "how many rolls is not known" if count is None else f"about {counted(count, 'roll')} of 120"
    rooms = [
        f"{count} on {MATERIAL_NAMES[material].removesuffix(' paper')}"
        for material in (Material.RC, Material.FIBRE)
        if (count := life.remaining_pieces(size=_PAPER_PIECE, material=material)) is not None
    ]
    return f"about {' or '.join(rooms)}, sheets 8x10" if rooms else "how many sheets is not known"


def why_not_known(life: Life) -> str:
    reasons = [_without_capacity(life)]
    if life.facts.lacks_second_bath:
        reasons.insert(0, "it took the first place of two and no second bath stands behind it")
    if missing := life.facts.without_keeping_time:
        reasons.append(f"no keeping time is set for {' or '.join(HOLDING_NAMES[holding] for holding in missing)}")
    return " and ".join(filter(None, reasons))


def _without_capacity(life: Life) -> str:
    """Which capacity is missing to weigh the work, in words; empty where none is."""
    facts = life.facts
    if life.work_is_known:
        return ""
    if not facts.areas and facts.pieces is None:
        return "no capacity is set"
    used = [material for material in Material if facts.used.area_mm2(material)]
    missing = [MATERIAL_NAMES[material] for material in used if facts.capacity_mm2(material) is None]
    return f"no capacity is set for {' or '.join(missing)}" if missing and facts.pieces is None else ""


def _figures(life: Life, limit: Limit) -> str:
    facts = life.facts
    match limit:
        case Limit.AREA:
            return _areas(life)
        case Limit.PIECES:
            return f"{facts.used.pieces} of {int(given(facts.capacity_pieces))} pieces."
        case Limit.ONE_SHOT:
            return "It has been used: dump it."
        case Limit.AGE:
            allowed = {rule.holding: rule.hours for rule in facts.ages}
            return " ".join(_kept(held, allowed[at]) for at, held in facts.held_hours.items() if at in allowed)
        case _:
            return " ".join(_tested(test) for test in facts.checks if _LIMIT_OF.get(type(test)) is limit)


def _areas(life: Life) -> str:
    facts = life.facts
    parts = []
    for rule in facts.areas:
        count = f"{_units(facts.used.area_mm2(rule.material))} of {_units(rule.mm2_per_litre * facts.litres)}"
        named = MATERIAL_NAMES[rule.material]
        parts.append(f"{count} rolls" if rule.material is Material.FILM else f"{named}: {count} sheets 8x10")
    return "; ".join(parts) + "."


def _kept(held: float, allowed: int) -> str:
    if allowed <= _HOURS_SAID_AS_HOURS:
        return f"{held:.0f} of {allowed} hours."
    return f"{held / 24:.0f} of {allowed / 24:g} days."


def _tested(test: Check) -> str:
    match test:
        case ClearingTest():
            return f"{test.now_seconds:g} s, fresh {test.fresh_seconds:g} s; twice the fresh time is exhausted."
        case PhTest():
            return f"{test.ph:g}; it must stay below {test.highest:g}."
        case IndicatorTest():
            return f"Its colour: {COLOUR_WORDS[test.colour]}."
        case GravityTest():
            return f"{test.gravity:.3f}; it must lie between {test.lowest:.3f} and {test.highest:.3f}."
        case SilverTest():
            return f"{test.grams_per_litre:g} of {test.most:g} g/L."
        case StripTest():
            return f"{'; '.join(test.outside)}.{'' if test.is_confirmed else ' A second strip decides.'}"
        case StainTest():
            return f"The drop left a {test.stain}."
    raise AssertionError(test)


def _units(mm2: Fraction | int) -> str:
    """An area in the trade's unit of one roll or one 8x10 sheet."""
    return f"{float(mm2 / UNIT_MM2):.0f}"


def _contents(bath: Bath) -> str:
    volume = bath.made_up_ul if bath.dumped_at else bath.vessel.level
    dilution = dilution_in_words(bath.water_parts_milli)
    return f"{show_volume(volume)} undiluted" if dilution == "undiluted" else f"{show_volume(volume)} of {dilution}"


def _day(instant: datetime, now: datetime) -> str:
    zone: ZoneInfo = g.get("zone") or ZoneInfo("UTC")
    day, today = to_local(instant, zone=zone), to_local(now, zone=zone)
    return f"{day:%a %-d %b}" if day.year == today.year else f"{day:%-d %b %Y}"
