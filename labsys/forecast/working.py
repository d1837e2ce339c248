"""A forecast worked out: from what was read, what is said of each bath, class, bottle and product."""

import json
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import asdict
from datetime import date, datetime, time, timedelta

from labsys.baths.cards import why_not_known
from labsys.baths.models import Bath, Place
from labsys.baths.rules import held_in, life
from labsys.chemistry.life import Life, State
from labsys.chemistry.sizes import MATERIAL_NAMES, Load, Material
from labsys.forecast import rules
from labsys.forecast.models import BathForecast, BottleForecast, ClassForecast, EndsBy, ProductForecast, Run, Verdict
from labsys.forecast.reading import ClassWork, Facts, LineWork, mixed_afresh, work_of_lines
from labsys.products.rules import amounts, dilution_of_milli
from labsys.store.models import Bottle
from labsys.timetable.local_time import to_instant

_NEARLY_ALL, _HARDLY_ANY = 0.8, 0.2
Row = BathForecast | ClassForecast | BottleForecast | ProductForecast
Taken = Sequence[Sequence[tuple[datetime, int]]]


def work_out(facts: Facts, run: Run) -> Iterator[Row]:
    """Every row of a forecast."""
    work = work_of_lines(facts)
    drawn = {key: rules.draws(line.happenings, line_id=key) for key, line in work.items()}
    taken: dict[int, list[Taken]] = defaultdict(list)
    unknown: dict[int, str] = {}
    for bath in facts.baths:
        of_line = work[bath.line_id] if bath.is_in_service else LineWork((), (), "")
        left = life(bath, now=facts.now)
        picks = drawn[bath.line_id] if bath.is_in_service else [[]] * rules.PLAYS
        standing = _standing(bath, left, facts)
        ahead = rules.bath_ahead(standing, of_line.happenings, picks)
        why = _why(bath, left, of_line, ahead.ends)
        if left.state is not State.EXHAUSTED:
            yield _of_bath(run, bath, ahead, why, standing)
        for of_class in of_line.classes:
            yield _of_class(run, bath, left, of_class, ahead.classes[of_class.booking.id], why)
        if standing.product_id is not None and bath.is_in_service:
            taken[standing.product_id].append(ahead.taken)
            if of_its_successors := why or _why(bath, left, of_line, rules.Range(None, None)):
                said = f"how long {bath.name} {bath.code} and its successors last is not known: {of_its_successors}"
                unknown.setdefault(standing.product_id, said)
    served = {bath.line_id for bath in facts.baths if bath.is_in_service}
    for line_id, of_line in work.items():
        if line_id not in served:
            for of_class in of_line.classes:
                why = f"no bath of {facts.lines[line_id].name} is in service"
                yield _row_of_class(run, of_class, None, Verdict.NOT_KNOWN, why=why)
    yield from _of_store(run, facts, taken, unknown)


def _standing(bath: Bath, left: Life, facts: Facts) -> rules.Standing:
    keeps = next((rule.hours for rule in bath.product.ages if rule.holding is held_in(bath)), None)
    is_counted = bath.place is not Place.SECOND_FIXER  # nothing counts in it until it takes the first place
    mixed_ul = bath.batches[0].volume_ul if bath.batches else bath.made_up_ul
    wanted = amounts(
        dilution=dilution_of_milli(bath.water_parts_milli),
        working_ul=mixed_ul,
        powder_mg_per_l=bath.product.powder_mg_per_l,
    )
    return rules.Standing(
        bath_id=bath.id,
        rooms=rules.rooms_of(left.facts, left.findings) if is_counted else (),
        fresh=rules.fresh_rooms(left.facts) if is_counted else (),
        keeps_until=None if keeps is None else bath.mixed_at + timedelta(hours=keeps),
        keeps=None if keeps is None else timedelta(hours=keeps),
        spares=sum(spare.is_spare and _takes_its_place(spare, bath) for spare in facts.baths),
        product_id=bath.product_id,
        amount=wanted.from_bottle,
    )


def _takes_its_place(spare: Bath, bath: Bath) -> bool:
    return (spare.line_id, spare.place) == (bath.line_id, bath.place)


def _why(bath: Bath, left: Life, work: LineWork, ends: rules.Range) -> str:
    """Why the end of a bath is not known; empty where it is. What comes after its end makes no difference."""
    if not left.is_known:
        return why_not_known(left)
    if work.why_not_known and bath.place is not Place.SECOND_FIXER:
        return work.why_not_known
    loads = (load for happening in work.happenings for load in happening.loads)
    if lacking := rules.uncounted(left.facts, loads):
        return f"no capacity is set for {' or '.join(MATERIAL_NAMES[kind] for kind in lacking)}, which will come"
    unknown = next((each for each in work.classes if each.why_not_known), None)
    if unknown is not None and (ends.latest is None or ends.latest >= unknown.booking.starts_at):
        return unknown.why_not_known
    return ""


def _of_bath(run: Run, bath: Bath, ahead: rules.BathAhead, why: str, standing: rules.Standing) -> BathForecast:
    ends = rules.Range(None, None) if why else ahead.ends
    by = None
    if ends.earliest is not None:
        by = EndsBy.EITHER
        if ahead.by_use >= _NEARLY_ALL:
            by = EndsBy.USE
        elif ahead.by_use <= _HARDLY_ANY:
            by = EndsBy.AGE
    return BathForecast(
        run=run,
        bath_id=bath.id,
        **asdict(bath.used),
        made_up_ul=bath.made_up_ul,
        earliest_at=ends.earliest,
        latest_at=ends.latest,
        ends_by=by,
        why_not_known=why,
    )


def _of_class(
    run: Run, bath: Bath, left: Life, of_class: ClassWork, ahead: rules.ClassAhead, why: str
) -> ClassForecast:
    """What is known may say that it fails; only where all is known may it say that it is enough."""
    if ahead.fails >= rules.FAILS or left.state is State.EXHAUSTED:
        verdict = Verdict.NO
        if of_class.why_not_known:
            return _row_of_class(run, of_class, bath, verdict)
    elif why or of_class.why_not_known:
        return _row_of_class(run, of_class, bath, Verdict.NOT_KNOWN, why=of_class.why_not_known or why)
    else:
        verdict = Verdict.PERHAPS if ahead.fails > rules.MAY_FAIL else Verdict.ENOUGH
    largest = max(of_class.loads, key=rules.units_in)
    piece = rules.unit_of(_main_material(largest))
    weighed = rules.fresh_rooms(left.facts)
    return _row_of_class(
        run,
        of_class,
        bath,
        verdict,
        left_low=rules.pieces_left(ahead.left_low, weighed, piece),
        left_high=rules.pieces_left(ahead.left_high, weighed, piece),
    )


def _main_material(load: Load) -> Material:
    return max(Material, key=load.area_mm2)


def _row_of_class(
    run: Run,
    of_class: ClassWork,
    bath: Bath | None,
    verdict: Verdict,
    *,
    why: str = "",
    left_low: int | None = None,
    left_high: int | None = None,
) -> ClassForecast:
    wanted = [rules.units_in(load) for load in of_class.loads]
    is_planned = not of_class.why_not_known
    return ClassForecast(
        run=run,
        booking_id=of_class.booking.id,
        bath_id=bath.id if bath else None,
        starts_at=of_class.booking.starts_at,
        verdict=verdict,
        wanted_low=min(wanted) if is_planned else None,
        wanted_high=max(wanted) if is_planned else None,
        left_low=left_low,
        left_high=left_high,
        why_not_known=why,
    )


# The store


def _of_store(
    run: Run, facts: Facts, taken: Mapping[int, Sequence[Taken]], unknown: Mapping[int, str]
) -> Iterator[BottleForecast | ProductForecast]:
    of_product: dict[int, list[Bottle]] = defaultdict(list)
    for bottle in facts.bottles:
        of_product[bottle.product_id].append(bottle)
    days = facts.ends_of_days
    afresh = mixed_afresh(facts)
    for product_id in sorted({*of_product, *taken, *afresh}):
        bottles = of_product[product_id]
        others = [facts.other_takings.get(product_id, {}).get(day, 0) for day in facts.open_before]
        plays = [
            sorted(each for part in (afresh.get(product_id, ()), *_play(taken, product_id, number)) for each in part)
            for number in range(rules.PLAYS)
        ]
        bottled = [rules.Bottled(each.id, each.vessel.level, _lapses_at(each.lapses_on, facts)) for each in bottles]
        ahead = rules.store_ahead(bottled, plays, others, days, product_id=product_id)
        why = unknown.get(product_id, "")
        for bottle in bottles:
            ends = rules.Range(None, None) if why else ahead.bottles[bottle.id]
            yield BottleForecast(
                run=run, bottle_id=bottle.id, earliest_at=ends.earliest, latest_at=ends.latest, why_not_known=why
            )
        yield ProductForecast(
            run=run,
            product_id=product_id,
            short_from=ahead.short.earliest,  # where not all is known, it is no later than this
            short_until=ahead.short.latest,
            wanted_low=ahead.wanted[0],
            wanted_high=ahead.wanted[1],
            missing=ahead.missing,
            cover=json.dumps(ahead.cover),
            why_not_known=why,
        )


def _play(
    taken: Mapping[int, Sequence[Taken]], product_id: int, number: int
) -> Iterator[Sequence[tuple[datetime, int]]]:
    """What each bath of a product takes in one play."""
    yield from (of_bath[number] for of_bath in taken.get(product_id, ()))


def _lapses_at(expires_on: date | None, facts: Facts) -> datetime | None:
    """The end of the last day on which a bottle is good."""
    if expires_on is None:
        return None
    return to_instant(datetime.combine(expires_on + timedelta(days=1), time()), zone=facts.zone)
