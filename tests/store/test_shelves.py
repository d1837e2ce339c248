"""Shelves: where bottles stand, and what should not stand together."""

import pytest

from labsys.chemistry.care import SolutionKind
from labsys.database import db
from labsys.products.models import Product
from labsys.store.clashes import INSTEAD, clashes_among
from labsys.store.models import BottlePlace, Shelf
from tests.support.lab import SmallLab
from tests.support.pages import queries_of, send, source
from tests.support.safety import put_on_shelf

# Acid breaks thiosulfate down, sulfur dioxide comes off: standard chemistry, from memory.
BREAKS_DOWN = "Acid breaks thiosulfate down"


def test_a_place_is_named_and_a_bottle_received_onto_it(lab: SmallLab, client_as):
    lab.add_places()
    technician = client_as("technician")
    answer = send(technician, "/store/shelves", {"name": "Shelf 2", "kind": "shelf", "room_id": "1"})
    assert answer.location == "/store/shelves"
    shelf = db.session.query(Shelf).one()
    assert (shelf.name, shelf.room.name) == ("Shelf 2", "Wet room")
    receive = f"/store/bottles/receive?product_id={lab.ids['product fixer']}"
    got = send(technician, receive, {"amount": "1 L", "shelf_id": str(shelf.id)})
    assert "Shelf 2" in source(technician.get(got.location))


@pytest.mark.sqlite_only
def test_what_clashes_is_advised_not_refused_and_shown_until_it_is_moved(lab: SmallLab, client_as):
    fixer, stop = lab.add_bottle(SolutionKind.FIXER), lab.add_bottle(SolutionKind.STOP)
    put_on_shelf(lab, fixer)
    away = put_on_shelf(lab, name="Shelf 9")
    technician = client_as("technician")
    page = f"/store/bottles/{stop.id}/shelf"
    assert BREAKS_DOWN in source(technician.get(page))
    answer = send(technician, page, {"shelf_id": "1"})
    assert answer.status_code == 303
    pages = ("/store/shelves", f"/store/bottles/{fixer.id}", f"/store/bottles/{stop.id}")
    for one in pages:
        shown = source(client_as("member").get(one))
        assert BREAKS_DOWN in shown, one
        assert INSTEAD in shown, one
    send(technician, page, {"shelf_id": str(away.id)})
    for one in pages:
        assert BREAKS_DOWN not in source(technician.get(one)), one
    assert db.session.query(BottlePlace).count() == 2


@pytest.mark.sqlite_only
def test_an_empty_bottle_clashes_with_nothing(lab: SmallLab, client_as):
    fixer, stop = lab.add_bottle(SolutionKind.FIXER), lab.add_bottle(SolutionKind.STOP)
    put_on_shelf(lab, fixer, stop)
    technician = client_as("technician")
    send(technician, f"/store/bottles/{stop.id}/level", {"is_empty": "y", "reason": "nobody knows"})
    for one in ("/store/shelves", f"/store/bottles/{fixer.id}", f"/store/bottles/{stop.id}"):
        assert BREAKS_DOWN not in source(technician.get(one)), one


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("typed", "message"),
    [
        ({"name": " ", "kind": "shelf"}, "Name the place"),
        ({"name": "Shelf 1", "kind": "shelf"}, "There is a place called Shelf 1 already"),
        ({"name": "x" * 61, "kind": "shelf"}, "Use at most 60 characters."),
        ({"name": "Shelf 2", "kind": "hole"}, "Choose what is on the list"),
        ({"name": "Shelf 2", "kind": "shelf", "room_id": "99"}, "Choose what is on the list"),
    ],
)
def test_a_bad_place_is_refused(lab: SmallLab, client_as, typed: dict[str, str], message: str):
    put_on_shelf(lab)
    answer = send(client_as("technician"), "/store/shelves", typed)
    assert (answer.status_code, message in source(answer)) == (422, True)
    assert db.session.query(Shelf).count() == 1


@pytest.mark.sqlite_only
def test_a_bottle_that_stands_there_already_is_not_moved(lab: SmallLab, client_as):
    fixer = lab.add_bottle(SolutionKind.FIXER)
    put_on_shelf(lab, fixer)
    answer = send(client_as("technician"), f"/store/bottles/{fixer.id}/shelf", {"shelf_id": "1"})
    assert (answer.status_code, "stands on Shelf 1 already" in source(answer)) == (422, True)


@pytest.mark.sqlite_only
def test_each_pair_of_products_is_named_once_however_many_bottles_stand_there(lab: SmallLab):
    products = [db.session.get_one(Product, lab.ids[f"product {kind}"]) for kind in ("fixer", "stop", "fixer")]
    assert [clash.gas for clash in clashes_among(products)] == ["sulfur dioxide"]
    assert clashes_among(products[:1] * 3) == ()


@pytest.mark.sqlite_only
def test_the_pages_cost_the_same_queries_however_much_stands_there(lab: SmallLab, client_as):
    client = client_as("technician")

    def more(name: str) -> None:
        put_on_shelf(lab, lab.add_bottle(SolutionKind.FIXER), lab.add_bottle(SolutionKind.STOP), name=name)
        lab.add_bottle(SolutionKind.DEVELOPER)

    more("Shelf 1")
    pages = (
        "/store/shelves",
        "/store/bottles/1",
        "/store/bottles/1/shelf",
        f"/store/products/{lab.ids['product stop']}",
    )
    before = [queries_of(client, page) for page in pages]
    for number in range(2, 5):
        more(f"Shelf {number}")
    assert [queries_of(client, page) for page in pages] == before
    assert max(before) <= 20, before
