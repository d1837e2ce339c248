"""What people do with bottles and shelves: receive one, correct its level, name a shelf, put a bottle on it."""

from datetime import date, datetime

from labsys.ledger import service as ledger
from labsys.ledger.models import Account, Vessel, VesselKind
from labsys.ledger.queries import movements_of
from labsys.ledger.rules import MovementLine
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require
from labsys.places.models import Room
from labsys.products import queries as products
from labsys.records import service as records
from labsys.records.models import CodeKind
from labsys.records.queries import get_or_raise
from labsys.records.rules import what_changed
from labsys.store import queries, rules
from labsys.store.models import Bottle, BottlePlace, Shelf, ShelfKind

DELIVERY, TAKEN_BACK = "delivery", "delivery put right"
_DELIVERIES = (DELIVERY, TAKEN_BACK)


@act
def receive_bottle(
    act: Act, *, product_id: int, amount: int, noted: rules.Noted, shelf_id: int | None = None
) -> Bottle:
    """Put a full bottle from the supplier into the store. `amount` is in the product's unit, µL or mg.

    Raises NotPermitted, NotFound or BottleRefused.
    """
    require(act.actor, Permission.KEEP_STOCK)
    product = products.product_or_raise(act.session, product_id)
    rules.check_bottle(amount=amount, noted=noted)
    vessel = ledger.add_vessel(act.session, kind=VesselKind.BOTTLE, capacity=amount, unit=product.unit)
    _deliver(act, vessel, amount=amount, received_at=noted.received_at)
    bottle = Bottle(vessel=vessel, product=product, code=f"new {vessel.id}", recorded_at=act.now, **vars(noted))
    act.session.add(bottle)
    act.session.flush()
    bottle.code = records.give_code(act.session, kind=CodeKind.BOTTLE, row_id=bottle.id)
    facts = {"code": bottle.code, "product": product.id, "amount": amount, "unit": product.unit, "lot": noted.lot}
    act.tell("bottle.received", about=bottle, facts=facts)
    place(act, bottle=bottle, shelf_id=shelf_id)
    return bottle


@act
def correct_bottle(act: Act, *, bottle_id: int, noted: rules.Noted) -> Bottle:
    """Put right what was noted of a bottle; what was and what is now go on the record.

    Where it came at another time, the ledger takes its delivery back and has it anew. Raises NotPermitted, NotFound or
    BottleRefused.
    """
    require(act.actor, Permission.KEEP_STOCK)
    bottle = queries.bottle_or_raise(act.session, bottle_id, lock=True)
    rules.check_bottle(amount=bottle.vessel.capacity, noted=noted)
    before = _noted(bottle)
    if noted.received_at != bottle.received_at:
        _deliver_anew(act, bottle, received_at=noted.received_at)
    for name, told in vars(noted).items():
        setattr(bottle, name, told)
    facts = what_changed(before, _noted(bottle))
    if facts:
        act.tell("bottle.corrected", about=bottle, facts=facts)
    return bottle


def _noted(bottle: Bottle) -> dict[str, str | None]:
    told = {name: getattr(bottle, name) for name in rules.NOTED}
    return {name: value.isoformat() if isinstance(value, date) else value for name, value in told.items()}


def _deliver_anew(act: Act, bottle: Bottle, *, received_at: datetime) -> None:
    vessel, moved = bottle.vessel, movements_of(act.session, bottle.vessel_id)
    taken_at = [movement.happened_at for movement in moved if movement.what not in _DELIVERIES]
    rules.check_received(received_at, first_moved_at=min(taken_at, default=None))
    delivery = next(movement for movement in reversed(moved) if movement.what == DELIVERY)
    amount = sum(posting.amount for posting in delivery.postings if posting.vessel_id == vessel.id)
    vessel.capacity += amount  # holds both deliveries until the earlier one is taken back
    act.session.flush()
    _deliver(act, vessel, amount=amount, received_at=received_at)
    ledger.reverse(act, movement=delivery, what=TAKEN_BACK)
    vessel.capacity -= amount


def _deliver(act: Act, vessel: Vessel, *, amount: int, received_at: datetime) -> None:
    ledger.move(
        act,
        what=DELIVERY,
        lines=[MovementLine(Account.SUPPLIER, -amount, vessel.unit), MovementLine(vessel, amount, vessel.unit)],
        happened_at=received_at,
    )


@act
def correct_level(act: Act, *, bottle_id: int, found: int, found_at: datetime) -> Bottle:
    """Set a bottle's level to what was found in it, in its own unit; the difference is put down as unexplained."""
    require(act.actor, Permission.KEEP_STOCK)
    bottle = queries.bottle_or_raise(act.session, bottle_id, lock=True)
    difference = set_level(act, bottle=bottle, found=found, found_at=found_at)
    if not difference:
        raise rules.BottleRefused("The book says the same. Nothing to correct.", field="found")
    facts = {"found": found, "difference": difference}
    act.tell("bottle.level_corrected", about=bottle, facts=facts)
    return bottle


def set_level(act: Act, *, bottle: Bottle, found: int, found_at: datetime) -> int:
    """Step: bring the book to what was found in a bottle. Returns found less book; zero writes nothing."""
    unit = bottle.vessel.unit
    difference = found - bottle.vessel.level
    if found > rules.MOST_OVER_NOMINAL * bottle.vessel.capacity:
        raise rules.BottleRefused(f"{bottle.code} does not hold that much even when full.", field="found")
    bottle.vessel.capacity = max(bottle.vessel.capacity, found)  # filled to the brim, it holds more than it says
    act.session.flush()
    if difference:
        ledger.move(
            act,
            what="level corrected",
            lines=[MovementLine(bottle.vessel, difference, unit), MovementLine(Account.UNEXPLAINED, -difference, unit)],
            happened_at=found_at,
        )
    return difference


@act
def add_shelf(act: Act, *, name: str, kind: ShelfKind, room_id: int | None) -> Shelf:
    """Name a storage place. Raises NotPermitted, NotFound or ShelfRefused."""
    require(act.actor, Permission.KEEP_STOCK)
    if queries.shelf_by_name(act.session, name) is not None:
        raise rules.ShelfRefused(f"There is a place called {name} already.", field="name")
    if room_id is not None:
        get_or_raise(act.session, Room, room_id, "room")
    shelf = Shelf(name=name, kind=kind, room_id=room_id)
    act.session.add(shelf)
    facts = {"name": name, "kind": kind, "room": room_id}
    act.tell("shelf.added", about=shelf, facts=facts)
    return shelf


@act
def put_on_shelf(act: Act, *, bottle_id: int, shelf_id: int) -> Bottle:
    """Say on which shelf a bottle stands. What clashes there is advised, never refused.

    Raises NotPermitted, NotFound, or ShelfRefused where it stands there already.
    """
    require(act.actor, Permission.KEEP_STOCK)
    bottle = queries.bottle_or_raise(act.session, bottle_id, lock=True)
    place(act, bottle=bottle, shelf_id=shelf_id)
    return bottle


def place(act: Act, *, bottle: Bottle, shelf_id: int | None) -> None:
    """Step: put a bottle on a shelf, from wherever it stood; None leaves it where it is."""
    if shelf_id is None:
        return
    shelf = queries.shelf_or_raise(act.session, shelf_id)
    stands = queries.place_of(act.session, bottle.id)
    if stands is None:
        stands = BottlePlace(bottle_id=bottle.id, shelf_id=shelf.id, placed_at=act.now, placed_by_id=act.actor.id)
        act.session.add(stands)
    elif stands.shelf_id == shelf.id:
        raise rules.ShelfRefused(f"{bottle.code} stands on {shelf.name} already.", field="shelf_id")
    stands.shelf_id, stands.placed_at, stands.placed_by_id = shelf.id, act.now, act.actor.id
    facts = {"bottle": bottle.code, "shelf": shelf.name}
    act.tell("bottle.put_on_shelf", about=bottle, facts=facts)
