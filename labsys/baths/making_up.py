"""Making up solution: what was measured out of bottles and the tap becomes part of a bath. A step, not an act."""

from collections.abc import Sequence
from dataclasses import asdict
from datetime import datetime

from labsys.baths import queries, rules, ways
from labsys.baths.models import Batch, BatchPart, Bath, Seasoning, StockPart
from labsys.database import DbSession
from labsys.ledger import service as ledger
from labsys.ledger.models import Account, Movement, Unit
from labsys.ledger.rules import LevelRefused, MovementLine, show
from labsys.people.acts import Act
from labsys.products import rules as products
from labsys.products.models import Product
from labsys.records.queries import zone
from labsys.store import counting
from labsys.store import queries as store
from labsys.store import rules as store_rules
from labsys.store import service as store_service
from labsys.store.models import Bottle, Reason
from labsys.timetable.local_time import to_local


def make_up(
    act: Act,
    *,
    bath: Bath,
    working_ul: int,
    taken: Sequence[rules.Taken],
    water_ul: int,
    mixed_at: datetime,
    is_as_planned: bool = False,
    of: tuple[Product, int] | None = None,
) -> Batch:
    """Step: take from the bottles and the tap into the bath what was really measured out, and write the batch down.

    `is_as_planned` where nobody wrote down what was measured: the amounts are then those of the plan. `of` is another
    product at its own dilution, such as a replenisher.
    Raises BathRefused, or BottleRefused where a bottle holds less by the book.
    """
    product, water_parts_milli = of or (bath.product, bath.water_parts_milli)
    wanted = products.amounts(
        dilution=products.dilution_of_milli(water_parts_milli),
        working_ul=working_ul,
        powder_mg_per_l=product.powder_mg_per_l,
    )
    measured = sum(part.amount for part in taken)
    if not measured:
        raise rules.BathRefused("Enter what was measured out of at least one bottle.", field="taken")
    volume = rules.mixed_volume_ul(measured=measured, water_ul=water_ul, unit=product.unit)
    rules.check_room(capacity_ul=bath.vessel.capacity - bath.vessel.level, volume_ul=volume)
    bottles = _bottles_for(act.session, product=product, taken=taken)
    mixed_on = to_local(mixed_at, zone=zone(act.session)).date()
    for part in taken:
        if part.amount:
            store_rules.check_used(bottles[part.bottle_id], on=mixed_on)
        if part.left is not None:
            held = part.amount + part.left
            counting.set_level(
                act, bottle=bottles[part.bottle_id], found=held, found_at=mixed_at, reason=Reason.AT_MIXING
            )
    try:
        movement = ledger.move(
            act,
            what="mixing",
            lines=_mixing_lines(bath, product, bottles=bottles, taken=taken, water_ul=water_ul, volume_ul=volume),
            happened_at=mixed_at,
        )
    except LevelRefused as refusal:
        raise _short(refusal, bottles) from refusal
    for bottle in bottles.values():
        store_service.open_bottle(act.session, bottle, at=mixed_at)
    strength = rules.strength_ppm(measured=measured, measured_water_ul=water_ul, wanted=wanted)
    batch = _batch(act, bath, movement, volume, strength, mixed_at, is_as_planned)
    batch.parts = [BatchPart(bottle_id=part.bottle_id, amount=part.amount) for part in taken if part.amount]
    act.session.flush()
    return batch


def draw_up(
    act: Act,
    *,
    bath: Bath,
    drawn: ways.Drawn,
    working_ul: int,
    water_ul: int,
    mixed_at: datetime,
    is_as_planned: bool = False,
) -> Batch:
    """Step: draw from a stock solution and the tap into the bath what was really measured out. Raises BathRefused."""
    stock = queries.bath_with_life(act.session, drawn.stock_id, lock=True)
    ways.check_stock(stock, bath.product_id, now=act.now)
    wanted = products.amounts(
        dilution=products.dilution_of_milli(bath.water_parts_milli), working_ul=working_ul, powder_mg_per_l=None
    )
    volume = drawn.amount_ul + water_ul
    rules.check_room(capacity_ul=bath.vessel.capacity, volume_ul=volume)
    lines = [MovementLine(stock.vessel, -drawn.amount_ul), MovementLine(Account.TAP, -water_ul)]
    try:
        movement = ledger.move(
            act, what="mixing", lines=[*lines, MovementLine(bath.vessel, volume)], happened_at=mixed_at
        )
    except LevelRefused as refusal:
        raise rules.BathRefused(
            f"By the book {stock.name} {stock.code} holds {show(refusal.level, refusal.unit)}, less than the "
            f"{show(drawn.amount_ul, refusal.unit)} drawn from it. Draw less, or make up more of it.",
            field="stock",
        ) from refusal
    strength = rules.strength_ppm(measured=drawn.amount_ul, measured_water_ul=water_ul, wanted=wanted)
    batch = _batch(act, bath, movement, volume, strength, mixed_at, is_as_planned)
    batch.stock_part = StockPart(stock_id=stock.id, amount_ul=drawn.amount_ul)
    act.session.flush()
    return batch


def season(act: Act, bath: Bath, seasoned: ways.Seasoned, *, at: datetime) -> None:
    """Step: pour some of the bath before into a new one, with its share of the work done. Raises BathRefused."""
    old = queries.bath_with_life(act.session, seasoned.from_bath_id, lock=True)
    ways.check_seasoning(bath, old, seasoned.amount_ul)
    load = ways.seasoning_load(old, seasoned.amount_ul)
    lines = [MovementLine(old.vessel, -seasoned.amount_ul), MovementLine(bath.vessel, seasoned.amount_ul)]
    movement = ledger.move(act, what="seasoning", lines=lines, happened_at=at)
    bath.seasoning = Seasoning(
        from_bath_id=old.id, movement_id=movement.id, amount_ul=seasoned.amount_ul, **asdict(load)
    )
    act.session.flush()


def _batch(
    act: Act, bath: Bath, movement: Movement, volume_ul: int, strength_ppm: int, mixed_at: datetime, is_as_planned: bool
) -> Batch:
    """What was made up, as it is written down."""
    batch = Batch(
        bath_id=bath.id,
        movement_id=movement.id,
        volume_ul=volume_ul,
        strength_ppm=strength_ppm,
        is_as_planned=is_as_planned,
        mixed_at=mixed_at,
        recorded_at=act.now,
        mixed_by_id=act.actor.id,
    )
    act.session.add(batch)
    bath.made_up_ul += volume_ul
    return batch


def _bottles_for(session: DbSession, *, product: Product, taken: Sequence[rules.Taken]) -> dict[int, Bottle]:
    ids = sorted(part.bottle_id for part in taken)
    if len(set(ids)) != len(ids):
        raise rules.BathRefused("One bottle is named twice. Add the two amounts up.", field="taken")
    bottles = {bottle_id: store.bottle_or_raise(session, bottle_id, lock=True) for bottle_id in ids}
    for bottle in bottles.values():
        if bottle.product_id != product.id:
            raise rules.BathRefused(f"{bottle.code} holds {bottle.product.name}, not {product.name}.", field="taken")
    return bottles


def _mixing_lines(
    bath: Bath,
    product: Product,
    *,
    bottles: dict[int, Bottle],
    taken: Sequence[rules.Taken],
    water_ul: int,
    volume_ul: int,
) -> list[MovementLine]:
    unit = product.unit
    lines = [MovementLine(bottles[part.bottle_id].vessel, -part.amount, unit) for part in taken]
    if unit is Unit.MG:
        lines.append(MovementLine(Account.POWDER_DISSOLVED, sum(part.amount for part in taken), unit))
    return [*lines, MovementLine(Account.TAP, -water_ul), MovementLine(bath.vessel, volume_ul)]


def _short(refusal: LevelRefused, bottles: dict[int, Bottle]) -> Exception:
    bottle = next((bottle for bottle in bottles.values() if bottle.vessel_id == refusal.vessel_id), None)
    if bottle is None:
        return refusal
    return store_rules.BottleRefused(
        f"By the book {bottle.code} holds {show(refusal.level, refusal.unit)}, less than the "
        f"{show(-refusal.change, refusal.unit)} measured out of it. If that much really came out, enter what is left "
        "in it now (0 if it is empty) and the book is corrected; else take the rest from another bottle.",
        field="taken",
    )
