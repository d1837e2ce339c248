"""What people do with bottles and shelves: receive one or a case, say how long it keeps, put it on a shelf."""

from datetime import date, datetime

from labsys.database import DbSession
from labsys.ledger import service as ledger
from labsys.ledger.models import Account, Vessel, VesselKind
from labsys.ledger.queries import movements_of
from labsys.ledger.rules import MovementLine
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require, require_any
from labsys.places.models import Room
from labsys.products import queries as products
from labsys.products.models import Product
from labsys.records import service as records
from labsys.records.models import CodeKind
from labsys.records.queries import get_or_raise, zone
from labsys.records.rules import what_changed
from labsys.store import queries, rules
from labsys.store.models import Bottle, BottlePlace, Shelf, ShelfKind, ShelfLife

DELIVERY, TAKEN_BACK = "delivery", "delivery put right"
_DELIVERIES = (DELIVERY, TAKEN_BACK)


@act
def receive_bottle(
    act: Act, *, product_id: int, amount: int, noted: rules.Noted, shelf_id: int | None = None
) -> Bottle:
    """Put a full bottle from the supplier into the store. `amount` is in the product's unit, µL or mg.

    Raises NotPermitted, NotFound or BottleRefused.
    """
    (bottle,) = _receive(act, product_id=product_id, amount=amount, noted=noted, shelf_id=shelf_id, bottles=1)
    return bottle


@act
def receive_case(
    act: Act, *, product_id: int, amount: int, noted: rules.Noted, shelf_id: int | None = None, bottles: int
) -> list[Bottle]:
    """Put a case of equal full bottles into the store, each with a code of its own, as `receive_bottle` does one."""
    return _receive(act, product_id=product_id, amount=amount, noted=noted, shelf_id=shelf_id, bottles=bottles)


def _receive(
    act: Act, *, product_id: int, amount: int, noted: rules.Noted, shelf_id: int | None, bottles: int
) -> list[Bottle]:
    require(act.actor, Permission.KEEP_STOCK)
    product = products.product_or_raise(act.session, product_id)
    rules.check_case(bottles=bottles)
    rules.check_bottle(amount=amount, noted=noted)
    return [
        add_bottle(act, product=product, amount=amount, noted=noted, shelf_id=shelf_id, source=Account.SUPPLIER)
        for _ in range(bottles)
    ]


def add_bottle(
    act: Act, *, product: Product, amount: int, noted: rules.Noted, source: Account, shelf_id: int | None = None
) -> Bottle:
    """Step: a bottle of a product that came from somewhere, with its code and its last good day."""
    vessel = ledger.add_vessel(act.session, kind=VesselKind.BOTTLE, capacity=amount, unit=product.unit)
    _deliver(act, vessel, amount=amount, received_at=noted.received_at, source=source)
    bottle = Bottle(vessel=vessel, product=product, code=f"new {vessel.id}", recorded_at=act.now, **vars(noted))
    act.session.add(bottle)
    settle_last_day(act.session, bottle)
    act.session.flush()
    bottle.code = records.give_code(act.session, kind=CodeKind.BOTTLE, row_id=bottle.id)
    facts = {"code": bottle.code, "product": product.id, "amount": amount, "unit": product.unit, "lot": noted.lot}
    act.tell("bottle.received", about=bottle, facts=facts)
    place(act, bottle=bottle, shelf_id=shelf_id)
    return bottle


def settle_last_day(session: DbSession, bottle: Bottle) -> None:
    """Step: work out anew until when a bottle is good, after its dates or its product's keeping changed."""
    bottle.lapses_on = rules.last_good_day(
        expires_on=bottle.expires_on,
        received_at=bottle.received_at,
        opened_at=bottle.opened_at,
        life=queries.shelf_life(session, bottle.product.id),
        zone=zone(session),
    )


def open_bottle(session: DbSession, bottle: Bottle, *, at: datetime) -> None:
    """Step: something was taken out of a bottle; from the first time on it keeps as an open one."""
    bottle.opened_at = bottle.opened_at or at
    settle_last_day(session, bottle)


@act
def state_shelf_life(
    act: Act, *, product_id: int, unopened_days: int | None, opened_days: int | None, source: str
) -> ShelfLife:
    """Say how long a product keeps closed and once opened; every bottle of it goes by that from now on.

    Raises NotPermitted, NotFound or BottleRefused.
    """
    require_any(act.actor, Permission.KEEP_STOCK, Permission.CONFIRM_PRODUCT)
    product = products.product_or_raise(act.session, product_id)
    if unopened_days is None and opened_days is None:
        raise rules.BottleRefused("Enter how long it keeps closed, opened, or both.", field="opened")
    life = queries.shelf_life(act.session, product_id) or ShelfLife(product_id=product_id)
    life.unopened_days, life.opened_days, life.source = unopened_days, opened_days, source
    life.stated_at, life.stated_by_id = act.now, act.actor.id
    act.session.add(life)
    act.session.flush()
    for bottle in queries.all_bottles_of(act.session, product_id):
        settle_last_day(act.session, bottle)
    facts = {"unopened_days": unopened_days, "opened_days": opened_days, "source": source}
    act.tell("product.keeping_stated", about=product, facts=facts)
    return life


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
    settle_last_day(act.session, bottle)
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
    source = next(posting.account for posting in delivery.postings if posting.account is not None)
    _deliver(act, vessel, amount=amount, received_at=received_at, source=source)
    ledger.reverse(act, movement=delivery, what=TAKEN_BACK)
    vessel.capacity -= amount


def _deliver(act: Act, vessel: Vessel, *, amount: int, received_at: datetime, source: Account) -> None:
    ledger.move(
        act,
        what=DELIVERY,
        lines=[MovementLine(source, -amount, vessel.unit), MovementLine(vessel, amount, vessel.unit)],
        happened_at=received_at,
    )


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
