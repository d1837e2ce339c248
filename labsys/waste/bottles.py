"""Throwing a bottle away: what was in it goes into a container, or it is said how it left. The book explains all."""

from datetime import datetime

from labsys.competences import gate as competences
from labsys.competences.asked import TO_HAND_OVER
from labsys.ledger import service as ledger
from labsys.ledger.models import Account, Movement, Unit
from labsys.ledger.rules import MovementLine
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require
from labsys.records.queries import get_or_raise
from labsys.store import queries as store
from labsys.store.counting import set_level
from labsys.store.models import Bottle, BottleLeft, QuarantineEnd, Reason, WayOut
from labsys.store.quarantine import end_quarantine
from labsys.waste import service, sewer
from labsys.waste.models import WasteKind
from labsys.waste.rules import Poured, WasteRefused
from labsys.waste.sewer_rules import Readings

_ACCOUNT_OF = {
    WayOut.CARRIER: Account.CARRIER,
    WayOut.SUPPLIER: Account.SUPPLIER,
    WayOut.GIVEN: Account.GIVEN,
    WayOut.SPILLED: Account.SPILLED,
}
_ASKED = {
    WayOut.CARRIER: "Write the carrier and the consignment note code.",
    WayOut.SUPPLIER: "Write to whom it went back, and why.",
    WayOut.GIVEN: "Write to whom it was given, with its SDS.",
    WayOut.SPILLED: "Write where it was spilled and what was done.",
}


def as_poured(bottle: Bottle, *, amount: int) -> Poured:
    """What is in a bottle as what is poured away of it: undiluted."""
    product = bottle.product
    kind = WasteKind(product.kind.value)
    return Poured(
        f"{product.name} {bottle.code}, undiluted", product.waste_code, amount, kind=kind, product_id=product.id
    )


@act
def throw_away(
    act: Act,
    *,
    bottle_id: int,
    way: WayOut,
    amount: int,
    left_at: datetime,
    container_id: int | None = None,
    note: str = "",
    is_done: bool = False,
    readings: Readings = sewer.NOT_MEASURED,
) -> BottleLeft:
    """Say how all that was in a bottle left the store, by the amount really seen, in the bottle's unit.

    What the book knew of beyond that goes down as seen when it left. A quarantine ends with it. What should not go into
    a container or down the drain is stopped, as with any pour. Raises NotPermitted, NotFound, BottleRefused, Stopped,
    NotToSewer, WasteRefused or LacksCompetence.
    """
    require(act.actor, Permission.KEEP_STOCK)
    bottle = store.bottle_or_raise(act.session, bottle_id, lock=True)
    _check(bottle, way=way, amount=amount, note=note, left_at=left_at)
    set_level(act, bottle=bottle, found=amount, found_at=left_at, reason=Reason.AT_LEAVING)
    facts = {"code": bottle.code, "way": way, "amount": amount, "note": note}
    act.tell("bottle.left", about=bottle, facts=facts)
    movement = _moved(
        act,
        bottle,
        way=way,
        amount=amount,
        left_at=left_at,
        container_id=container_id,
        is_done=is_done,
        readings=readings,
    )
    if quarantine := store.quarantine_of(act.session, bottle.id):
        end_quarantine(act, quarantine, ending=QuarantineEnd.LEFT)
    left = BottleLeft(
        bottle_id=bottle.id,
        movement_id=movement.id,
        way=way,
        amount=amount,
        note=note,
        left_at=left_at,
        recorded_at=act.now,
        recorded_by_id=act.actor.id,
    )
    act.session.add(left)
    act.session.flush()
    return left


def _check(bottle: Bottle, *, way: WayOut, amount: int, note: str, left_at: datetime) -> None:
    if not bottle.vessel.level:
        raise WasteRefused(f"{bottle.code} is empty by the book. Set its level right first.", field="amount")
    if not amount:
        raise WasteRefused("Enter what was in it. A bottle found empty is set right by its level.", field="amount")
    if left_at < bottle.received_at:
        raise WasteRefused(f"{bottle.code} had not come by then. Check the day and the time.", field="left_at")
    if bottle.vessel.unit is Unit.MG and way in (WayOut.CONTAINER, WayOut.SEWER):
        raise WasteRefused(
            "A powder is not poured away: it leaves in its packet, with the carrier or back to the supplier.",
            field="way",
        )
    if way in _ASKED and not note.strip():
        raise WasteRefused(_ASKED[way], field="note")


def _moved(
    act: Act,
    bottle: Bottle,
    *,
    way: WayOut,
    amount: int,
    left_at: datetime,
    container_id: int | None,
    is_done: bool,
    readings: Readings,
) -> Movement:
    """Move what is in a bottle to where it went."""
    vessel, poured = bottle.vessel, as_poured(bottle, amount=amount)
    if way is WayOut.CONTAINER:
        if container_id is None:
            raise WasteRefused("Choose the container it went into.", field="way")
        pour = service.pour_from(
            act, source=vessel, container_id=container_id, poured=poured, poured_at=left_at, is_done=is_done
        )
        act.tell("waste.poured", about=pour, facts=service.pour_facts(pour))
        return get_or_raise(act.session, Movement, pour.movement_id, "movement")
    if way is WayOut.SEWER:
        made = sewer.discharge_from(
            act, source=vessel, poured=poured, discharged_at=left_at, readings=readings, is_done=is_done
        )
        act.tell("discharge.recorded", about=made, facts=sewer.discharge_facts(made))
        return get_or_raise(act.session, Movement, made.movement_id, "movement")
    if way is WayOut.CARRIER:
        competences.require(act, TO_HAND_OVER, happened_at=left_at)
    lines = [MovementLine(vessel, -amount, vessel.unit), MovementLine(_ACCOUNT_OF[way], amount, vessel.unit)]
    return ledger.move(act, what="bottle left", lines=lines, happened_at=left_at)
