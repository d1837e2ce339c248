"""Replenishing: by a rate for an area, from a replenisher of its own strength and with a bleed; or with the same."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from labsys.baths import queries, rules, service, ways
from labsys.baths.making_up import make_up
from labsys.baths.models import Batch, Bath, Replenishing, Way
from labsys.duty.gate import require_not_stopped
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require
from labsys.products import queries as products
from labsys.products.hazards import hazards_of
from labsys.products.models import Product
from labsys.products.standing import check_may_mix
from labsys.quantities import show_volume
from labsys.waste import service as waste
from labsys.waste.models import WasteKind
from labsys.waste.rules import Poured


@dataclass(frozen=True)
class Bleed:
    """What is let off a tank before the replenisher goes in, and into which container."""

    container_id: int
    volume_ul: int


@act
def set_rate(
    act: Act, *, bath_id: int, product_id: int, water_parts_milli: int, rate_ul: int, rate_mm2: int, source: str
) -> Replenishing:
    """Say with what a replenished bath is replenished, how strong, and how much of it for an area; once a bath.

    Raises NotPermitted, NotFound or BathRefused.
    """
    require(act.actor, Permission.KEEP_BATHS)
    bath = queries.bath_with_life(act.session, bath_id, lock=True)
    rules.check_not_dumped(bath, at=act.now)
    replenisher = products.product_or_raise(act.session, product_id)
    if bath.way is not Way.REPLENISHED or bath.replenishing is not None:
        raise rules.BathRefused(f"{bath.name} {bath.code} has its rate already, or is not kept up by replenishing.")
    if why_not := why_no_replenisher(bath, replenisher, water_parts_milli):
        raise rules.BathRefused(why_not, field="product_id")
    bath.replenishing = Replenishing(
        product_id=replenisher.id,
        water_parts_milli=water_parts_milli,
        rate_ul=rate_ul,
        rate_mm2=rate_mm2,
        source=source,
        tank_ul=bath.vessel.level,
        said_at=act.now,
        said_by_id=act.actor.id,
    )
    act.session.flush()
    facts = {
        "bath": bath.code,
        "replenisher": replenisher.id,
        "dilution_milli": water_parts_milli,
        "rate": [rate_ul, rate_mm2],
    }
    act.tell("bath.rate_set", about=bath, facts=facts)
    return bath.replenishing


def why_no_replenisher(bath: Bath, replenisher: Product, water_parts_milli: int) -> str:
    """Why a product does not replenish a bath, in words; empty where it does.

    The label, the gate and the waste of a bath speak of the product it was mixed from. A replenisher that can do more
    to a person, or goes into other waste, would make them untrue.
    """
    if replenisher.kind is not bath.product.kind:
        return f"{replenisher.name} is of another kind than {bath.product.name}."
    if replenisher.waste_code != bath.product.waste_code:
        return f"{replenisher.name} goes into other waste, {replenisher.waste_code}, than {bath.product.name}."
    of_bath = hazards_of(bath.product, water_parts_milli=bath.water_parts_milli)
    of_replenisher = hazards_of(replenisher, water_parts_milli=water_parts_milli)
    if of_replenisher.is_not_known and not of_bath.is_not_known:
        return f"Nobody has stated what {replenisher.name} can do to a person."
    codes = {*of_replenisher.h_codes, *of_replenisher.euh_codes}
    if more := sorted(codes - {*of_bath.h_codes, *of_bath.euh_codes}):
        return (
            f"{replenisher.name} can do more to a person than the bath's label says ({', '.join(more)}). Mix the bath "
            "from it, so that label and gate say so."
        )
    return ""


@act
def replenish(
    act: Act,
    *,
    bath_id: int,
    working_ul: int,
    taken: Sequence[rules.Taken],
    water_ul: int,
    mixed_at: datetime,
    bleed: Bleed | None = None,
) -> Batch:
    """Add what was made up to a bath: its replenisher, after a bleed, where it has a rate; else more of the same.

    What the rate makes good counts against it no more; without a rate its capacity grows by what was added. It gets no
    younger. Raises NotPermitted, NotFound, BathRefused, BottleRefused, ProductRefused, NotCleared, LacksCompetence,
    Stopped or CompanyRefused.
    """
    require(act.actor, Permission.KEEP_BATHS)
    bath = queries.bath_with_life(act.session, bath_id, lock=True)
    rules.check_not_dumped(bath, at=mixed_at)
    ways.check_may_replenish(bath, working_ul=working_ul)
    product, water_parts_milli = replenisher_of(bath)
    require_not_stopped(act, handled=[(product, None), (product, water_parts_milli)])
    check_may_mix(products.standing(act.session, product, now=act.now))
    service.require_may_mix(act, product, mixed_at=mixed_at)
    if bleed is not None:
        _bleed(act, bath, bleed, at=mixed_at)
    batch = make_up(
        act,
        bath=bath,
        working_ul=working_ul,
        taken=taken,
        water_ul=water_ul,
        mixed_at=mixed_at,
        of=(product, water_parts_milli),
    )
    if (rate := bath.replenishing) is not None:
        rate.restored_mm2 += ways.restored_mm2(bath, added_ul=batch.volume_ul)
        act.session.flush()
    bled = {"bled_ul": bleed.volume_ul, "into": bleed.container_id} if bleed else {}
    act.tell("bath.replenished", about=batch, facts={**service.batch_facts(batch), **bled})
    return batch


def replenisher_of(bath: Bath) -> tuple[Product, int]:
    """What a bath is replenished with, and at which dilution."""
    if bath.replenishing is None:
        return bath.product, bath.water_parts_milli
    return bath.replenishing.product, bath.replenishing.water_parts_milli


def _bleed(act: Act, bath: Bath, bleed: Bleed, *, at: datetime) -> None:
    """Step: let some of a bath into a container, with its share of the silver that is in it."""
    level = bath.vessel.level
    if bleed.volume_ul > level:
        raise rules.BathRefused(
            f"{bath.name} {bath.code} holds {show_volume(level)}, less than the {show_volume(bleed.volume_ul)} "
            "bled off. Check both figures.",
            field="bleed",
        )
    low, high = (silver * bleed.volume_ul // level for silver in rules.silver_mg(bath=bath))
    poured = Poured(
        what=f"Bleed of {bath.name} {bath.code}",
        waste_code=bath.product.waste_code,
        volume_ul=bleed.volume_ul,
        silver_low_mg=low,
        silver_high_mg=high + (1 if high else 0),
        kind=WasteKind(bath.product.kind.value),
        product_id=bath.product_id,
        water_parts_milli=bath.water_parts_milli,
    )
    waste.pour_from(act, source=bath.vessel, container_id=bleed.container_id, poured=poured, poured_at=at)
