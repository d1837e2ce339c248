"""What people do with shelves: name one, and say on which a bottle stands."""

from datetime import datetime

from labsys.database import DbSession
from labsys.people.models import Person
from labsys.people.permissions import Permission, require
from labsys.places.models import Room
from labsys.records import service as records
from labsys.records.acts import act
from labsys.records.errors import NotFound
from labsys.stock import queries, rules, shelf_queries
from labsys.stock.models import Bottle
from labsys.stock.shelf_models import BottlePlace, Shelf, ShelfKind


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
    if shelf_queries.shelf_by_name(session, name) is not None:
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
    shelf = shelf_queries.shelf_or_raise(session, shelf_id)
    stands = shelf_queries.place_of(session, bottle.id)
    if stands is None:
        stands = BottlePlace(bottle_id=bottle.id, shelf_id=shelf.id, placed_at=now, placed_by_id=actor.id)
        session.add(stands)
    elif stands.shelf_id == shelf.id:
        raise rules.ShelfRefused(f"{bottle.code} stands on {shelf.name} already.", field="shelf_id")
    stands.shelf_id, stands.placed_at, stands.placed_by_id = shelf.id, now, actor.id
    facts = {"bottle": bottle.code, "shelf": shelf.name}
    records.append(session, act="bottle.put_on_shelf", about=bottle, at=now, actor=actor, facts=facts)
