"""What people do with shelves: name one, and say on which a bottle stands."""

from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require
from labsys.places.models import Room
from labsys.records.errors import NotFound
from labsys.stock import queries, rules, shelf_queries
from labsys.stock.models import Bottle
from labsys.stock.shelf_models import BottlePlace, Shelf, ShelfKind


@act
def add_shelf(act: Act, *, name: str, kind: ShelfKind, room_id: int | None) -> Shelf:
    """Name a storage place. Raises NotPermitted, NotFound or ShelfRefused."""
    require(act.actor, Permission.KEEP_STOCK)
    if shelf_queries.shelf_by_name(act.session, name) is not None:
        raise rules.ShelfRefused(f"There is a place called {name} already.", field="name")
    if room_id is not None and act.session.get(Room, room_id) is None:
        raise NotFound("room", room_id)
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
    shelf = shelf_queries.shelf_or_raise(act.session, shelf_id)
    stands = shelf_queries.place_of(act.session, bottle.id)
    if stands is None:
        stands = BottlePlace(bottle_id=bottle.id, shelf_id=shelf.id, placed_at=act.now, placed_by_id=act.actor.id)
        act.session.add(stands)
    elif stands.shelf_id == shelf.id:
        raise rules.ShelfRefused(f"{bottle.code} stands on {shelf.name} already.", field="shelf_id")
    stands.shelf_id, stands.placed_at, stands.placed_by_id = shelf.id, act.now, act.actor.id
    facts = {"bottle": bottle.code, "shelf": shelf.name}
    act.tell("bottle.put_on_shelf", about=bottle, facts=facts)
