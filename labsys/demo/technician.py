"""The technician's round, each morning before the lab opens."""

from dataclasses import dataclass
from datetime import date, timedelta

from labsys.baths import queries as bath_queries
from labsys.baths import rules as bath_rules
from labsys.baths import service as baths
from labsys.baths.models import Bath, CheckKind, Place, Work
from labsys.chemistry.life import Life, State
from labsys.demo.fixtures import DemoBath, DemoLine
from labsys.demo.play import Play
from labsys.products import rules as products
from labsys.quantities import UL_PER_L, UL_PER_ML
from labsys.store import queries as store
from labsys.store import service as store_service
from labsys.store.models import Bottle
from labsys.timetable.local_time import to_local
from labsys.waste import queries as waste_queries
from labsys.waste import service as waste
from labsys.waste.models import WasteContainer

FULL_SHARE = 0.85
REPLENISHED_UL = 150 * UL_PER_ML
_MONDAY, _THURSDAY = 0, 3


def go_round(play: Play, busy: set[str], day: date) -> None:
    """Look at every bath before the lab opens: test, replenish, mix what the day needs, dump what is exhausted."""
    here = [_Seen.of(bath) for bath in bath_queries.baths_here(play.session)]
    for line in play.fixtures.lines:
        for spec in line.baths:
            mine = [b for b in here if b.line_id == play.ids[f"line {line.key}"] and b.place is spec.place]
            _look_after(play, line, spec, mine, is_busy=line.key in busy, day=day)


@dataclass(frozen=True)
class _Seen:
    """A bath as it was seen when the round began."""

    bath_id: int
    line_id: int
    place: Place
    is_in_service: bool
    is_spare: bool

    @classmethod
    def of(cls, bath: Bath) -> "_Seen":
        return cls(bath.id, bath.line_id, bath.place, bath.is_in_service, bath.is_spare)


def _look_after(play: Play, line: DemoLine, spec: DemoBath, mine: list[_Seen], *, is_busy: bool, day: date) -> None:
    seen = next((one for one in mine if one.is_in_service), None)
    spare = next((one for one in mine if one.is_spare), None)
    if seen is None:
        if is_busy:
            _mix(play, line, spec, in_service=True)
        return
    current = bath_queries.bath_or_raise(play.session, seen.bath_id)
    life = bath_rules.life(current, now=play.at)
    life = _test(play, current, life, spec, day)
    if life.state is State.EXHAUSTED:
        if spare is not None:
            baths.put_in_service(play.act(play.technician), bath_id=spare.bath_id)
        elif is_busy:
            _mix(play, line, spec, in_service=True)
        _dump(play, current)
    elif life.state is State.NEAR_ITS_END and spare is None and is_busy:
        _mix(play, line, spec, in_service=False)
    elif spec.place == "developer" and line.work is Work.FILM and day.weekday() == _THURSDAY:
        _replenish(play, current, spec)


def _test(play: Play, bath: Bath, life: Life, spec: DemoBath, day: date) -> Life:
    """Film fixer by clearing time twice a week, stop by pH on Mondays; the rest by count and age."""
    worn = 1 - float(life.share_left) if life.share_left is not None else 0.0
    if spec.place == "fixer" and bath.line.work is Work.FILM and day.weekday() in (_MONDAY, _THURSDAY):
        _check(play, bath, CheckKind.CLEARING_TIME, round((40 + 36 * worn + play.random.uniform(-2, 2)) * 1000))
    elif spec.place == "stop bath" and day.weekday() == _MONDAY:
        _check(play, bath, CheckKind.PH, round((3.2 + 1.6 * worn + play.random.uniform(-0.1, 0.1)) * 100) * 10)
    else:
        return life
    return bath_rules.life(bath_queries.bath_or_raise(play.session, bath.id), now=play.at)


def _check(play: Play, bath: Bath, kind: CheckKind, value_milli: int, *, is_fresh: bool = False) -> None:
    baths.check_bath(
        play.act(play.technician),
        bath_id=bath.id,
        kind=kind,
        value_milli=value_milli,
        colour=None,
        is_fresh=is_fresh,
        checked_at=play.at,
    )


def _mix(play: Play, line: DemoLine, spec: DemoBath, *, in_service: bool) -> None:
    taken, water_ul = _measure_out(play, spec, spec.volume_ul)
    bath = baths.mix_bath(
        play.act(play.technician),
        product_id=play.ids[f"product {spec.product}"],
        water_parts_milli=spec.water_parts_milli,
        line_id=play.ids[f"line {line.key}"],
        place=spec.place,
        name=spec.name,
        holding=spec.holding,
        capacity_ul=spec.capacity_ul,
        working_ul=spec.volume_ul,
        taken=taken,
        water_ul=water_ul,
        in_service=in_service,
        mixed_at=play.at,
    )
    if spec.place == "fixer" and line.work is Work.FILM:
        _check(play, bath, CheckKind.CLEARING_TIME, 40_000, is_fresh=True)


def _replenish(play: Play, bath: Bath, spec: DemoBath) -> None:
    if bath.vessel.capacity - bath.vessel.level < 2 * REPLENISHED_UL:
        return
    taken, water_ul = _measure_out(play, spec, REPLENISHED_UL)
    baths.replenish(
        play.act(play.technician),
        bath_id=bath.id,
        working_ul=REPLENISHED_UL,
        taken=taken,
        water_ul=water_ul,
        mixed_at=play.at,
    )


def _measure_out(play: Play, spec: DemoBath, volume_ul: int) -> tuple[list[bath_rules.Taken], int]:
    """What a hand measures out: near what was wanted, to a whole millilitre, from as many bottles as it takes."""
    wanted = products.amounts(
        dilution=products.dilution_of_milli(spec.water_parts_milli), working_ul=volume_ul, powder_mg_per_l=None
    )
    to_take = round(wanted.from_bottle / UL_PER_ML + play.random.uniform(-1.5, 1.5)) * UL_PER_ML
    water_ul = round(wanted.water_ul / UL_PER_ML + play.random.uniform(-10, 10)) * UL_PER_ML
    product_id = play.ids[f"product {spec.product}"]
    bottles = store.bottles(play.session, product_id=product_id)
    while sum(bottle.vessel.level for bottle in bottles) < to_take:
        bottles.append(receive(play, spec.product))
    taken = []
    for bottle in bottles:
        amount = min(to_take, bottle.vessel.level)
        if amount:
            taken.append(bath_rules.Taken(bottle.id, amount))
        to_take -= amount
    return taken, water_ul


def _dump(play: Play, bath: Bath) -> None:
    poured_ul = round(bath.vessel.level * play.random.uniform(0.975, 0.995) / (10 * UL_PER_ML)) * 10 * UL_PER_ML
    container = container_for(play, bath.product.waste_code, room_ul=poured_ul)
    baths.dump_bath(
        play.act(play.technician),
        bath_id=bath.id,
        container_id=container.id,
        volume_ul=poured_ul,
        dumped_at=play.at,
    )


def container_for(play: Play, code: str, *, room_ul: int) -> WasteContainer:
    """The container in use for a code, or a new one where it is full or in quarantine."""
    for container in waste_queries.containers_here(play.session):
        fits = container.vessel.level + room_ul <= container.vessel.capacity * FULL_SHARE
        if container.stream.code == code and fits and container.quarantine is None:
            return container
    row = next(one for one in play.fixtures.lab["stream"] if one["code"] == code)
    return waste.open_container(
        play.act(play.technician),
        stream_id=play.ids[f"stream {code}"],
        capacity_ul=row["capacity_l"] * UL_PER_L,
        place=row["place"],
        opened_at=play.at,
    )


def receive(play: Play, key: str) -> Bottle:
    """Take a delivery of one bottle."""
    product = next(one for one in play.fixtures.products if one.key == key)
    day = to_local(play.at, zone=play.zone).date()
    assert product.received_ul is not None  # noqa: S101 - what a line uses is delivered
    return store_service.receive_bottle(
        play.act(play.technician),
        product_id=play.ids[f"product {key}"],
        amount=product.received_ul,
        lot=f"{play.random.randrange(10_000, 100_000)}",
        received_at=play.at,
        expires_on=day + timedelta(days=730),
    )
