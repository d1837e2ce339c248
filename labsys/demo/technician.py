"""The technician's round, each morning before the lab opens."""

from datetime import date, timedelta

from labsys.baths import queries as bath_queries
from labsys.baths import replenishing, testing
from labsys.baths import rules as bath_rules
from labsys.baths import service as baths
from labsys.baths.models import Bath, CheckKind, Work
from labsys.baths.testing import Found
from labsys.chemistry.life import Life, State
from labsys.demo.fixtures import DemoBath, DemoLine, Entry
from labsys.demo.play import Play
from labsys.products import rules as products
from labsys.quantities import UL_PER_L, UL_PER_ML
from labsys.store import queries as store
from labsys.store import service as store_service
from labsys.store.models import Bottle
from labsys.store.rules import Noted
from labsys.timetable.local_time import to_local
from labsys.waste import queries as waste_queries
from labsys.waste import service as waste
from labsys.waste.models import WasteContainer

FULL_SHARE = 0.85
REPLENISHED_UL = 150 * UL_PER_ML
_MONDAY, _THURSDAY = 0, 3


def go_round(play: Play, told: Entry) -> None:
    """Look at every bath before the lab opens: test, replenish, mix what the day needs, dump what is exhausted.

    Entry are the day and the busy lines; each bath is taken as it was when the round began.
    """
    standing = bath_queries.baths_here(play.session)[::-1]  # of several in one place, the first counts
    in_service = {(bath.line_id, bath.place): bath.id for bath in standing if bath.is_in_service}
    spares = {(bath.line_id, bath.place): bath.id for bath in standing if bath.is_spare}
    for line in play.fixtures.lines:
        for spec in line.baths:
            place = play.ids[f"line {line.key}"], spec.place
            is_busy = line.key in told["busy"]
            if place in in_service:
                _look_after(play, line, spec, in_service[place], spares.get(place), is_busy=is_busy, day=told["day"])
            elif is_busy:
                _mix(play, line, spec, in_service=True)


def _look_after(
    play: Play, line: DemoLine, spec: DemoBath, bath_id: int, spare_id: int | None, *, is_busy: bool, day: date
) -> None:
    bath = bath_queries.bath_with_life(play.session, bath_id)
    life = _test(play, bath, bath_rules.life(bath, now=play.at), spec, day)
    if life.state is State.EXHAUSTED:
        if spare_id is not None:
            baths.put_in_service(play.act(play.technician), bath_id=spare_id)
        elif is_busy:
            _mix(play, line, spec, in_service=True)
        _dump(play, bath)
    elif life.state is State.NEAR_ITS_END and spare_id is None and is_busy:
        _mix(play, line, spec, in_service=False)
    elif spec.place == "developer" and line.work is Work.FILM and day.weekday() == _THURSDAY:
        _replenish(play, bath, spec)


def _test(play: Play, bath: Bath, life: Life, spec: DemoBath, day: date) -> Life:
    """Film fixer by clearing time twice a week, stop by pH on Mondays; the rest by count and age."""
    worn = 1 - float(life.share_left) if life.share_left is not None else 0.0
    if spec.place == "fixer" and bath.line.work is Work.FILM and day.weekday() in (_MONDAY, _THURSDAY):
        seconds = 40 + 36 * worn + play.random.uniform(-2, 2)
        _check(play, bath, CheckKind.CLEARING_TIME, Found(value_milli=round(seconds) * 1000))
    elif spec.place == "stop bath" and day.weekday() == _MONDAY:
        ph = 3.2 + 1.6 * worn + play.random.uniform(-0.1, 0.1)
        _check(play, bath, CheckKind.PH, Found(value_milli=round(ph * 100) * 10, milli_c=20_000))
    else:
        return life
    return bath_rules.life(bath_queries.bath_with_life(play.session, bath.id), now=play.at)


def _check(play: Play, bath: Bath, kind: CheckKind, found: Found) -> None:
    testing.check_bath(play.act(play.technician), bath_id=bath.id, kind=kind, found=found, checked_at=play.at)


def _mix(play: Play, line: DemoLine, spec: DemoBath, *, in_service: bool) -> None:
    taken, water_ul = _measure_out(play, spec, spec.volume_ul)
    bath = mix(play, line.key, spec, taken, water_ul, in_service=in_service)
    if spec.place == "fixer" and line.work is Work.FILM:
        _check(play, bath, CheckKind.CLEARING_TIME, Found(value_milli=40_000, is_fresh=True))


def mix(
    play: Play, line: str, spec: DemoBath, taken: list[bath_rules.Taken], water_ul: int, *, in_service: bool
) -> Bath:
    """Mix a bath of a line from what was measured out."""
    return baths.mix_bath(
        play.act(play.technician),
        product_id=play.ids[f"product {spec.product}"],
        water_parts_milli=spec.water_parts_milli,
        line_id=play.ids[f"line {line}"],
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


def _replenish(play: Play, bath: Bath, spec: DemoBath) -> None:
    if bath.vessel.capacity - bath.vessel.level < 2 * REPLENISHED_UL:
        return
    taken, water_ul = _measure_out(play, spec, REPLENISHED_UL)
    replenishing.replenish(
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
    bottles = store.offered(play.session, product_id=product_id, today=to_local(play.at, zone=play.zone).date())
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
    dump(play, bath, poured_ul)


def dump(play: Play, bath: Bath, volume_ul: int) -> None:
    """Pour a bath into the container of its waste."""
    container = container_for(play, bath.product.waste_code, room_ul=volume_ul)
    baths.dump_bath(
        play.act(play.technician), bath_id=bath.id, container_id=container.id, volume_ul=volume_ul, dumped_at=play.at
    )


def container_for(play: Play, code: str, *, room_ul: int) -> WasteContainer:
    """The container in use for a code, or a new one where it is full or in quarantine."""
    for container in waste_queries.containers_here(play.session):
        fits = container.vessel.level + room_ul <= container.vessel.capacity * FULL_SHARE
        is_open = container.quarantine is None and container.restated is None
        if container.stream.code == code and fits and is_open:
            return container
    stream = next(stream for stream in play.fixtures.told["lab"]["stream"] if stream["code"] == code)
    return waste.open_container(
        play.act(play.technician),
        stream_id=play.ids[f"stream {code}"],
        capacity_ul=stream["capacity_l"] * UL_PER_L,
        place=stream["place"],
        opened_at=play.at,
    )


def receive(play: Play, key: str, *, lot: str = "", keeps_days: int = 730) -> Bottle:
    """Take a delivery of one bottle."""
    received_ul = play.fixtures.products[key].received_ul
    assert received_ul is not None  # noqa: S101 - what a line uses is delivered
    return store_service.receive_bottle(
        play.act(play.technician),
        product_id=play.ids[f"product {key}"],
        amount=received_ul,
        noted=Noted(
            lot=lot or f"{play.random.randrange(10_000, 100_000)}",
            received_at=play.at,
            expires_on=to_local(play.at, zone=play.zone).date() + timedelta(days=keeps_days),
        ),
    )
