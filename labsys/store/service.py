"""What people do with bottles and shelves: receive one, correct its level, name a shelf, put a bottle on it."""

from datetime import date, datetime

from labsys.database import DbSession
from labsys.ledger import service as ledger
from labsys.ledger.models import Account, VesselKind
from labsys.ledger.rules import Line
from labsys.people.models import Person
from labsys.people.permissions import Permission, require
from labsys.places.models import Room
from labsys.products import queries as products
from labsys.records import service as records
from labsys.records.acts import act
from labsys.records.errors import NotFound
from labsys.records.models import CodeKind
from labsys.store import queries, rules
from labsys.store.models import Bottle, BottlePlace, Shelf, ShelfKind


@act
def receive_bottle(
    session: DbSession,
    *,
    actor: Person,
    product_id: int,
    amount: int,
    lot: str,
    received_at: datetime,
    expires_on: date | None,
    now: datetime,
    shelf_id: int | None = None,
    submission_key: str | None = None,
) -> Bottle:
    """Put a full bottle from the supplier into the store. `amount` is in the product's unit, µL or mg.

    Raises NotPermitted, NotFound or BottleRefused.
    """
    require(actor, Permission.KEEP_STOCK)
    product = products.product_or_raise(session, product_id)
    rules.check_bottle(amount=amount, expires_on=expires_on, received_on=received_at.date())
    vessel = ledger.add_vessel(session, kind=VesselKind.BOTTLE, capacity=amount, unit=product.unit)
    ledger.move(
        session,
        what="delivery",
        lines=[Line(Account.SUPPLIER, -amount, product.unit), Line(vessel, amount, product.unit)],
        happened_at=received_at,
        recorded_at=now,
        recorded_by_id=actor.id,
    )
    bottle = Bottle(
        vessel=vessel,
        product=product,
        code=f"new {vessel.id}",
        lot=lot,
        received_at=received_at,
        recorded_at=now,
        expires_on=expires_on,
    )
    session.add(bottle)
    session.flush()
    bottle.code = records.give_code(session, kind=CodeKind.BOTTLE, row_id=bottle.id)
    facts = {"code": bottle.code, "product": product.id, "amount": amount, "unit": product.unit, "lot": lot}
    records.append(session, act="bottle.received", about=bottle, at=now, actor=actor, facts=facts)
    place(session, actor=actor, bottle=bottle, shelf_id=shelf_id, now=now)
    return bottle


@act
def correct_level(
    session: DbSession,
    *,
    actor: Person,
    bottle_id: int,
    found: int,
    found_at: datetime,
    now: datetime,
    submission_key: str | None = None,
) -> Bottle:
    """Set a bottle's level to what was found in it, in its own unit; the difference is put down as unexplained."""
    require(actor, Permission.KEEP_STOCK)
    bottle = queries.bottle_or_raise(session, bottle_id, lock=True)
    difference = set_level(session, actor=actor, bottle=bottle, found=found, found_at=found_at, now=now)
    if not difference:
        raise rules.BottleRefused("The book says the same. Nothing to correct.", field="found")
    facts = {"found": found, "difference": difference}
    records.append(session, act="bottle.level_corrected", about=bottle, at=now, actor=actor, facts=facts)
    return bottle


def set_level(
    session: DbSession, *, actor: Person, bottle: Bottle, found: int, found_at: datetime, now: datetime
) -> int:
    """Step: bring the book to what was found in a bottle. Returns found less book; zero writes nothing."""
    unit = bottle.vessel.unit
    difference = found - bottle.vessel.level
    if found > rules.MOST_OVER_NOMINAL * bottle.vessel.capacity:
        raise rules.BottleRefused(f"{bottle.code} does not hold that much even when full.", field="found")
    bottle.vessel.capacity = max(bottle.vessel.capacity, found)  # filled to the brim, it holds more than it says
    session.flush()
    if difference:
        ledger.move(
            session,
            what="level corrected",
            lines=[Line(bottle.vessel, difference, unit), Line(Account.UNEXPLAINED, -difference, unit)],
            happened_at=found_at,
            recorded_at=now,
            recorded_by_id=actor.id,
        )
    return difference


@act
def add_shelf(
    session: DbSession,
    *,
    actor: Person,
    name: str,
    kind: ShelfKind,
    room_id: int | None,
    now: datetime,
    submission_key: str | None = None,
) -> Shelf:
    """Name a storage place. Raises NotPermitted, NotFound or ShelfRefused."""
    require(actor, Permission.KEEP_STOCK)
    if queries.shelf_by_name(session, name) is not None:
        raise rules.ShelfRefused(f"There is a place called {name} already.", field="name")
    if room_id is not None and session.get(Room, room_id) is None:
        raise NotFound("room", room_id)
    shelf = Shelf(name=name, kind=kind, room_id=room_id)
    session.add(shelf)
    facts = {"name": name, "kind": kind, "room": room_id}
    records.append(session, act="shelf.added", about=shelf, at=now, actor=actor, facts=facts)
    return shelf


@act
def put_on_shelf(
    session: DbSession,
    *,
    actor: Person,
    bottle_id: int,
    shelf_id: int,
    now: datetime,
    submission_key: str | None = None,
) -> Bottle:
    """Say on which shelf a bottle stands. What clashes there is advised, never refused.

    Raises NotPermitted, NotFound, or ShelfRefused where it stands there already.
    """
    require(actor, Permission.KEEP_STOCK)
    bottle = queries.bottle_or_raise(session, bottle_id, lock=True)
    place(session, actor=actor, bottle=bottle, shelf_id=shelf_id, now=now)
    return bottle


def place(session: DbSession, *, actor: Person, bottle: Bottle, shelf_id: int | None, now: datetime) -> None:
    """Step: put a bottle on a shelf, from wherever it stood; None leaves it where it is."""
    if shelf_id is None:
        return
    shelf = queries.shelf_or_raise(session, shelf_id)
    stands = queries.place_of(session, bottle.id)
    if stands is None:
        stands = BottlePlace(bottle_id=bottle.id, shelf_id=shelf.id, placed_at=now, placed_by_id=actor.id)
        session.add(stands)
    elif stands.shelf_id == shelf.id:
        raise rules.ShelfRefused(f"{bottle.code} stands on {shelf.name} already.", field="shelf_id")
    stands.shelf_id, stands.placed_at, stands.placed_by_id = shelf.id, now, actor.id
    facts = {"bottle": bottle.code, "shelf": shelf.name}
    records.append(session, act="bottle.put_on_shelf", about=bottle, at=now, actor=actor, facts=facts)
