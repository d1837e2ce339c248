"""What people do with baths: lay out a line, mix, put in service, replenish, dump. Their tests: `testing.py`."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from types import MappingProxyType
from typing import Any, NotRequired, TypedDict, Unpack

from sqlalchemy import update

from labsys.baths import queries, rules, ways
from labsys.baths.making_up import draw_up, make_up, season
from labsys.baths.models import Batch, Bath, BathLine, Place, Replenishing, Way, Work
from labsys.chemistry.bath_rules import Holding
from labsys.competences import gate as competences
from labsys.competences.asked import of_mixing_at
from labsys.competences.models import Competence
from labsys.database import DbSession
from labsys.duty.gate import require_not_stopped
from labsys.inductions import gate as inductions
from labsys.ledger import service as ledger
from labsys.ledger.models import Account, VesselKind
from labsys.ledger.rules import MovementLine
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require, require_any
from labsys.products import queries as products
from labsys.products import service as product_service
from labsys.products.models import Product
from labsys.products.sheet import StatedAge
from labsys.products.standing import check_may_mix
from labsys.records import service as records
from labsys.records.models import CodeKind
from labsys.waste import service as waste
from labsys.waste import sewer
from labsys.waste.models import WasteKind
from labsys.waste.rules import Poured
from labsys.waste.sewer_rules import Readings


@act
def add_line(
    act: Act,
    *,
    name: str,
    work: Work,
    process_id: int | None,
    holding: Holding | None = None,
    keeping: Mapping[int, StatedAge] = MappingProxyType({}),
) -> BathLine:
    """Lay out a line of baths and give it its code.

    `holding` is what its baths stand in; `keeping` adds to products, by their ids, how long they keep in it.
    Raises NotPermitted, BathRefused or ProductRefused.
    """
    require(act.actor, Permission.KEEP_BATHS)
    if keeping:
        require_any(act.actor, Permission.KEEP_STOCK, Permission.CONFIRM_PRODUCT)
    if queries.line_by_name(act.session, name) is not None:
        raise rules.BathRefused(f"There is a line called {name} already.", field="name")
    line = BathLine(name=name, work=work, holding=holding, process_id=process_id, code=f"new {name}"[:20])
    act.session.add(line)
    act.session.flush()
    line.code = records.give_code(act.session, kind=CodeKind.LINE, row_id=line.id)
    for product_id, age in sorted(keeping.items()):
        product_service.state_age(act.session, product_id=product_id, age=age)
    facts = {
        "name": name,
        "code": line.code,
        "work": work,
        "holding": holding,
        "keeping": [[product_id, age.hours, age.source] for product_id, age in sorted(keeping.items())],
    }
    act.tell("line.added", about=line, facts=facts)
    return line


class Mixing(TypedDict):
    """All that is told of a bath that is mixed: what `mix` takes."""

    product_id: int
    water_parts_milli: int
    line_id: int
    place: Place
    name: str
    holding: Holding
    capacity_ul: int
    working_ul: int
    taken: Sequence[rules.Taken]
    water_ul: int
    in_service: bool
    mixed_at: datetime
    is_as_planned: NotRequired[bool]
    way: NotRequired[Way]
    drawn: NotRequired[ways.Drawn | None]
    rate_of: NotRequired[Replenishing | None]
    seasoned: NotRequired[ways.Seasoned | None]
    label_waits: NotRequired[bool]


@act
def mix_bath(act: Act, **mixing: Unpack[Mixing]) -> Bath:
    """Mix a bath from bottles and the tap. Raises NotPermitted, and what `mix` raises."""
    require(act.actor, Permission.KEEP_BATHS)
    return mix(act, **mixing)


def mix(
    act: Act,
    *,
    product_id: int,
    water_parts_milli: int,
    line_id: int,
    place: Place,
    name: str,
    holding: Holding,
    capacity_ul: int,
    working_ul: int,
    taken: Sequence[rules.Taken],
    water_ul: int,
    in_service: bool,
    mixed_at: datetime,
    is_as_planned: bool = False,
    label_waits: bool = False,
    way: Way = Way.SHARED,
    drawn: ways.Drawn | None = None,
    rate_of: Replenishing | None = None,
    seasoned: ways.Seasoned | None = None,
) -> Bath:
    """Step: mix a bath from bottles and the tap, by the amounts really measured out; its label may wait to be printed.

    `drawn` is what came out of a stock solution in place of bottles, `rate_of` how it is replenished, as another was,
    `seasoned` what goes in of the bath before.
    Put in service, it takes its place in the line from the bath that was there. Raises NotFound, BathRefused,
    BottleRefused, ProductRefused, NotCleared, LacksCompetence or CompanyRefused.
    """
    product = products.product_or_raise(act.session, product_id)
    rules.check_is_a_bath(product.kind)
    require_not_stopped(act, handled=[(product, None), (product, water_parts_milli)])
    line = queries.line_or_raise(act.session, line_id, lock=True)
    ways.check_belongs(place, work=line.work)
    ways.check_way(
        way, in_service=in_service, is_powder=product.powder_mg_per_l is not None, is_drawn=drawn is not None
    )
    check_may_mix(products.standing(act.session, product, now=act.now))
    require_may_mix(act, product, mixed_at=mixed_at, is_drawn=drawn is not None)
    vessel = ledger.add_vessel(act.session, kind=VesselKind.BATH, capacity=capacity_ul)
    bath = Bath(
        code=f"new {vessel.id}",
        name=name,
        vessel=vessel,
        product=product,
        water_parts_milli=water_parts_milli,
        holding=holding,
        way=way,
        line=line,
        place=place,
        mixed_at=mixed_at,
        recorded_at=act.now,
        mixed_by_id=act.actor.id,
        made_up_ul=0,
    )
    act.session.add(bath)
    act.session.flush()
    how: Any = {"working_ul": working_ul, "water_ul": water_ul, "mixed_at": mixed_at, "is_as_planned": is_as_planned}
    batch = draw_up(act, bath=bath, drawn=drawn, **how) if drawn else make_up(act, bath=bath, taken=taken, **how)
    if seasoned is not None:
        season(act, bath, seasoned, at=mixed_at)
    if rate_of is not None and way is Way.REPLENISHED:
        bath.replenishing = rate_again(act, rate_of, tank_ul=bath.vessel.level)
    if in_service:
        take_place(act.session, bath=bath, at=mixed_at)
    bath.code = records.give_code(act.session, kind=CodeKind.BATH, row_id=bath.id)
    if label_waits:
        records.await_label(act.session, bath.code, since=mixed_at)
    facts = {"code": bath.code, "product": product.id, "dilution_milli": water_parts_milli, **batch_facts(batch)}
    act.tell("bath.mixed", about=bath, facts=facts)
    return bath


@act
def put_in_service(act: Act, *, bath_id: int) -> Bath:
    """Put a spare in service; the bath it takes over from waits to be dumped. Raises NotPermitted or BathRefused."""
    require(act.actor, Permission.KEEP_BATHS)
    bath = queries.bath_with_life(act.session, bath_id, lock=True)
    if bath.is_stock:
        raise rules.BathRefused(f"{bath.name} {bath.code} is a stock solution: draw a working bath from it.")
    if not bath.is_spare:
        raise rules.BathRefused(f"{bath.name} {bath.code} is not a spare.")
    replaced = take_place(act.session, bath=bath, at=act.now)
    facts = {"code": bath.code, "replaces": [old.code for old in replaced]}
    act.tell("bath.put_in_service", about=bath, facts=facts)
    return bath


@act
def dump_bath(
    act: Act,
    *,
    bath_id: int,
    container_id: int | None,
    volume_ul: int,
    dumped_at: datetime,
    is_done: bool = False,
    readings: Readings = sewer.NOT_MEASURED,
) -> Bath:
    """Dump a bath into a container or to the foul sewer. Raises NotPermitted, NotFound, and what `dump` raises."""
    require(act.actor, Permission.KEEP_BATHS)
    bath = queries.bath_with_life(act.session, bath_id, lock=True)
    return dump(
        act,
        bath,
        container_id=container_id,
        volume_ul=volume_ul,
        dumped_at=dumped_at,
        is_done=is_done,
        readings=readings,
    )


def dump(
    act: Act,
    bath: Bath,
    *,
    container_id: int | None,
    volume_ul: int,
    dumped_at: datetime,
    is_done: bool = False,
    readings: Readings = sewer.NOT_MEASURED,
) -> Bath:
    """Step: dump a bath, or to the foul sewer where `container_id` is None, by the volume really poured.

    What the book knew of beyond that was carried out on film and paper as far as it can have been, or is unexplained.
    The wrong container, and the sewer without a consent or beyond its limits, are stopped; `is_done` says that it was
    poured there already, which is recorded and flagged.

    Raises BathRefused, Stopped, NotToSewer or WasteRefused.
    """
    rules.check_not_dumped(bath, at=dumped_at)
    low, high = rules.silver_mg(bath=bath)
    poured = Poured(
        what=f"{bath.name} {bath.code}",
        waste_code=bath.product.waste_code,
        volume_ul=volume_ul,
        silver_low_mg=low,
        silver_high_mg=high,
        kind=WasteKind(bath.product.kind.value),
        product_id=bath.product_id,
        water_parts_milli=bath.water_parts_milli,
    )
    lost = rules.losses(level_ul=bath.vessel.level, poured_ul=volume_ul, load=bath.used)
    lines = [
        MovementLine(Account.CARRIED_OUT, lost.carried_out_ul),
        MovementLine(Account.UNEXPLAINED, lost.unexplained_ul),
    ]
    discharge = None
    if container_id is None:
        discharge = sewer.discharge_from(
            act,
            source=bath.vessel,
            poured=poured,
            discharged_at=dumped_at,
            readings=readings,
            losses=lines,
            is_done=is_done,
        )
        facts: dict[str, object] = {"into": "foul sewer", **sewer.discharge_facts(discharge)}
    else:
        pour = waste.pour_from(
            act,
            source=bath.vessel,
            container_id=container_id,
            poured=poured,
            poured_at=dumped_at,
            losses=lines,
            is_done=is_done,
        )
        facts = {"into": waste.pour_facts(pour)}
    dumped = act.session.execute(
        update(Bath).where(Bath.id == bath.id, Bath.dumped_at.is_(None)).values(dumped_at=dumped_at).returning(Bath.id)
    )
    if dumped.first() is None:
        raise rules.BathRefused(f"{bath.name} {bath.code} was dumped by somebody else just now.")
    act.session.refresh(bath)
    records.label_settled(act.session, [bath.code])
    facts |= {"volume_ul": volume_ul, "carried_out_ul": lost.carried_out_ul, "unexplained_ul": lost.unexplained_ul}
    act.tell("bath.dumped", about=bath, facts=facts)
    if discharge is not None and discharge.wrong_because:
        act.tell("discharge.recorded", about=discharge, facts=sewer.discharge_facts(discharge))
    return bath


@act
def undo_mixing(act: Act, *, bath_id: int) -> Bath:
    """Take back the entry of a bath that was never mixed: everything goes back to its bottles.

    Raises NotPermitted, or BathRefused once the bath was used, tested, replenished or dumped.
    """
    require(act.actor, Permission.KEEP_BATHS)
    bath = queries.bath_with_life(act.session, bath_id, lock=True)
    rules.check_not_dumped(bath, at=act.now)
    if queries.has_history(act.session, bath_id):
        raise rules.BathRefused(f"{bath.name} {bath.code} was used or tested since. Dump it instead.")
    (batch,) = bath.batches
    ledger.reverse(act, movement=queries.movement_or_raise(act.session, batch.movement_id), what="mixing undone")
    if bath.seasoning is not None:
        movement = queries.movement_or_raise(act.session, bath.seasoning.movement_id)
        ledger.reverse(act, movement=movement, what="seasoning undone")
    bath.dumped_at = act.now
    records.label_settled(act.session, [bath.code])
    act.tell("bath.mixing_undone", about=bath, facts={"code": bath.code})
    return bath


def require_may_mix(act: Act, product: Product, *, mixed_at: datetime, is_drawn: bool = False) -> None:
    """Step: raise NotCleared or LacksCompetence unless whoever acts holds what handling the product asks for.

    Drawn from its solution, a powder is not weighed out.
    """
    inductions.require_clear(act, person=act.actor, subjects=[inductions.mixing_of(product)], at=mixed_at)
    asked = of_mixing_at(act.session, product, at=mixed_at)
    if is_drawn:
        asked = [each for each in asked if each.competence is not Competence.POWDERS]
    competences.require(act, asked, happened_at=mixed_at)


def rate_again(act: Act, rate: Replenishing, *, tank_ul: int) -> Replenishing:
    """Step: how a bath is replenished, for another like it."""
    same = {name: getattr(rate, name) for name in ("product_id", "water_parts_milli", "rate_ul", "rate_mm2", "source")}
    return Replenishing(**same, tank_ul=tank_ul, restored_mm2=0, said_at=act.now, said_by_id=act.actor.id)


def take_place(session: DbSession, *, bath: Bath, at: datetime) -> list[Bath]:
    """Step: a bath goes in service, and whatever stood in its place goes out."""
    replaced = queries.in_service_at_place(session, line_id=bath.line_id, place=bath.place, lock=True)
    for old in replaced:
        old.out_of_service_at = at
    bath.in_service_at = at
    session.flush()
    return replaced


def batch_facts(batch: Batch) -> dict[str, object]:
    return {
        "volume_ul": batch.volume_ul,
        "strength_ppm": batch.strength_ppm,
        "parts": [[part.bottle_id, part.amount] for part in batch.parts],
        **({"stock": [batch.stock_part.stock_id, batch.stock_part.amount_ul]} if batch.stock_part else {}),
        **({"as_planned": True} if batch.is_as_planned else {}),
    }
