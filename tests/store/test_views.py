"""The pages of the chemical store: what they say, and what receiving, correcting and listing do."""

import json
from datetime import UTC, date, datetime, timedelta

import pytest
from sqlalchemy import select

from labsys.baths import service as baths
from labsys.chemistry.care import SolutionKind
from labsys.database import db
from labsys.ledger import queries as ledger
from labsys.ledger.models import Account
from labsys.people import service as people
from labsys.people.acts import Act
from labsys.people.models import Role
from labsys.quantities import UL_PER_L, UL_PER_ML
from labsys.records.models import RecordEntry
from labsys.store import service
from labsys.store.models import Bottle
from labsys.store.rules import Noted
from tests.support.lab import START, SmallLab
from tests.support.pages import hidden, links, queries_of, send, source
from tests.support.store import NOW, a_process, add_waiting

WHY = {"reason": "nobody knows"}
ROLES = ("member", "instructor", "technician", "safety adviser", "manager")


def add_bottle(lab: SmallLab, *, expires_on: date | None = None, kind: str = "fixer", amount: int = UL_PER_L) -> Bottle:
    return service.receive_bottle(
        Act(lab.session, by=lab.person("technician"), now=START),
        product_id=lab.ids[f"product {kind}"],
        amount=amount,
        noted=Noted(received_at=START, expires_on=expires_on),
    )


# The store


@pytest.mark.sqlite_only
def test_the_store_says_level_opening_and_date_of_each_bottle_in_words(lab: SmallLab, client_as):
    for expires_on in (date(2026, 3, 2), date(2026, 3, 13), date(2027, 3, 1), None):
        add_bottle(lab, expires_on=expires_on)
    page = source(client_as("member").get("/store"))
    assert "1 L of 1 L. Past its date since 2 Mar 2026. Nobody knows how good it still is." in page
    for words in ("Use before 13 Mar 2026: 10 days left.", "Use before 1 Mar 2027.", "No date on it.", "Not opened."):
        assert words in page


@pytest.mark.sqlite_only
def test_the_store_names_what_waits_to_be_confirmed(lab: SmallLab, client_as):
    client = client_as("member")
    assert "nothing may be mixed" not in source(client.get("/store"))
    waiting = add_waiting(lab)
    page = source(client.get("/store"))
    assert "Waiting for confirmation: nothing may be mixed from this product." in page
    assert f"/store/products/{waiting.id}" in links(page)


@pytest.mark.sqlite_only
def test_an_empty_bottle_is_no_longer_on_the_shelf_but_keeps_its_page(lab: SmallLab, client_as):
    bottle = add_bottle(lab)
    client = client_as("technician")
    send(client, f"/store/bottles/{bottle.id}/level", {"is_empty": "y", "reason": "nobody knows"})
    assert bottle.code not in source(client.get("/store"))
    assert "empty" in source(client.get(f"/store/bottles/{bottle.id}"))


def test_list_pages_cost_the_same_queries_whatever_their_length(lab: SmallLab, client_as):
    client = client_as("technician")
    add_bottle(lab)
    a_process(lab)
    addresses = ("/store", "/store/products", "/store/cylinders", "/processes", "/store/bottles/receive")
    before = {address: queries_of(client, address) for address in addresses}
    for number in range(4):
        add_bottle(lab, kind=("developer", "fixer")[number % 2])
        add_waiting(lab, name=f"Fixer {number}")
    after = {address: queries_of(client, address) for address in addresses}
    assert after == before
    assert max(after.values()) <= 20

    # A product


@pytest.mark.sqlite_only
def test_a_product_page_shows_hazards_entries_and_sources(lab: SmallLab, client_as):
    page = source(client_as("member").get(f"/store/products/{lab.ids['product developer']}"))
    for words in (
        "Danger",
        "Hazard pictogram: corrosion (GHS05)",
        "May cause an allergic skin reaction.",
        "Goggles that close all round",
        "In the eyes: rinse at once, lids held apart, 20 minutes",
        "comes first: where it asks for more, do more",
        "123-31-9",
        "3–5 %",
        "M-factor acute 10",
        "A litre at 1+6 takes 10 pieces of any size of film.",
        "Keeps 30 days in a tank with a floating lid.",
        "a data sheet made up for the tests",
        "09 01 01* water-based developer and activator solutions",
        "Confirmed by Пётр Орлов",
        "against the SDS of 1 May 2025",
    ):
        assert words in page, words


@pytest.mark.sqlite_only
@pytest.mark.parametrize("role", ROLES)
def test_a_waiting_product_tells_everybody_who_may_confirm_it(lab: SmallLab, client_as, role: str):
    product = add_waiting(lab)
    page = source(client_as(role).get(f"/store/products/{product.id}"))
    assert "Waiting for confirmation" in page
    assert "Who may confirm: Пётр Орлов." in page
    assert (f'action="/store/products/{product.id}/confirm"' in page) == (role == "safety adviser")


@pytest.mark.sqlite_only
def test_without_a_safety_adviser_the_page_names_the_manager_who_stands_in(lab: SmallLab, client_as):
    product = add_waiting(lab)
    people.change_roles(lab.act("manager"), person_id=lab.ids["safety adviser"], roles=[Role.MEMBER])
    page = source(client_as("technician").get(f"/store/products/{product.id}"))
    assert "Who may confirm: Μαρία Ιωάννου." in page


@pytest.mark.sqlite_only
@pytest.mark.parametrize("address", ["/store/products/999", "/store/bottles/999", "/processes/999"])
def test_what_is_not_there_is_not_found(lab: SmallLab, client_as, address: str):
    assert client_as("technician").get(address).status_code == 404

    # Bottles


def receive_address(lab: SmallLab, kind: str = "fixer") -> str:
    return f"/store/bottles/receive?product_id={lab.ids[f'product {kind}']}"


def test_a_bottle_is_received_full_and_its_code_is_told(lab: SmallLab, client_as):
    client = client_as("technician")
    answer = send(client, receive_address(lab), {"amount": "2,5 L", "lot": "Παρτίδα 7", "expires_on": "2027-01-31"})
    bottle = db.session.query(Bottle).one()
    assert (answer.status_code, answer.location) == (303, f"/store/bottles/{bottle.id}")
    assert (bottle.vessel.level, bottle.vessel.capacity) == (2_500 * UL_PER_ML, 2_500 * UL_PER_ML)
    assert (bottle.lot, bottle.expires_on, bottle.received_at) == ("Παρτίδα 7", date(2027, 1, 31), NOW)
    page = source(client.get(answer.location))
    assert f"Write {bottle.code} on the bottle." in page
    assert "Παρτίδα 7" in page


def test_a_bottle_sent_twice_is_received_once(lab: SmallLab, client_as):
    client = client_as("technician")
    address = receive_address(lab)
    carried = hidden(source(client.get(address)))
    first, second = (client.post(address, data={**carried, "amount": "1 L"}) for _ in range(2))
    assert first.location == second.location
    assert db.session.query(Bottle).count() == 1


@pytest.mark.sqlite_only
def test_a_powder_is_received_by_mass(lab: SmallLab, client_as):
    product = add_waiting(lab, powder_mg_per_l=97_000)
    client = client_as("technician")
    address = f"/store/bottles/receive?product_id={product.id}"
    assert send(client, address, {"amount": "1 L"}).status_code == 422
    answer = send(client, address, {"amount": "1.5 kg"})
    page = source(client.get(answer.location))
    assert "1.5 kg of 1.5 kg" in page
    assert "drawing-graduate" not in page  # a graduate measures liquids
    assert "1.5 kg of 1.5 kg" in source(client.get("/store"))


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"amount": ""}, "Enter what is in it"),
        ({"amount": "-1 L"}, "Enter an amount above zero."),
        ({"amount": "0 L"}, "Enter an amount above zero."),
        ({"amount": "500"}, "Write the unit too"),
        ({"amount": "1 L", "expires_on": "2026-03-01"}, "It was past its date when it arrived."),
        ({"amount": "1 L", "expires_on": "31.02.2027"}, "write a day of the calendar"),
        ({"amount": "1 L", "received_at": "2026-04-01T10:00"}, "That is in the future."),
        ({"amount": "1 L", "lot": "L" * 61}, "Use at most 60 characters."),
    ],
)
def test_a_bottle_that_makes_no_sense_is_refused_with_what_was_typed(lab, client_as, fields, message):
    answer = send(client_as("technician"), receive_address(lab), fields)
    page = source(answer)
    assert answer.status_code == 422
    assert message in page
    assert f'value="{fields["amount"]}"' in page
    assert db.session.query(Bottle).count() == 0


@pytest.mark.sqlite_only
def test_receiving_without_a_product_asks_which(lab: SmallLab, client_as):
    page = source(client_as("technician").get("/store/bottles/receive"))
    assert receive_address(lab) in links(page)


def test_a_bottle_page_leads_to_the_baths_it_went_into(lab: SmallLab, client_as):
    bath = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500)
    bottle = bath.batches[0].parts[0].bottle
    page = source(client_as("technician").get(f"/store/bottles/{bottle.id}"))
    assert f"/baths/{bath.id}" in links(page)
    assert bath.code in page
    assert "500 mL" in page  # 1+4: a fifth of 2.5 L
    assert "Opened" in page


@pytest.mark.sqlite_only
def test_a_mixing_taken_back_is_not_where_a_bottle_went(lab: SmallLab, client_as):
    bath = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500)
    bottle = bath.batches[0].parts[0].bottle
    baths.undo_mixing(lab.act("technician"), bath_id=bath.id)
    page = source(client_as("technician").get(f"/store/bottles/{bottle.id}"))
    assert "No bath was mixed from it yet." in page
    assert "1 L of 1 L" in page


@pytest.mark.sqlite_only
def test_a_bottle_of_a_waiting_product_says_so_and_offers_no_mixing(lab: SmallLab, client_as):
    lab.ids["product waiting"] = add_waiting(lab).id
    bottle = add_bottle(lab, kind="waiting")
    page = source(client_as("technician").get(f"/store/bottles/{bottle.id}"))
    assert "Waiting for confirmation" in page
    assert "Mix a bath from it" not in page


def test_a_level_is_corrected_to_what_was_found(lab: SmallLab, client_as):
    bottle = add_bottle(lab)
    answer = send(client_as("technician"), f"/store/bottles/{bottle.id}/level", {"found": "640", **WHY})
    assert (answer.status_code, answer.location) == (303, f"/store/bottles/{bottle.id}")
    db.session.refresh(bottle.vessel)
    assert bottle.vessel.level == 640 * UL_PER_ML


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"found": ""}, "Write what is left in it, or tick that it is empty."),
        ({"found": "-5"}, "Enter an amount above zero."),
        ({"found": "2 L", "reason": "nobody knows"}, "does not hold that much even when full."),
        ({"found": "1 L"}, "The book says the same. Nothing to correct."),
        ({"found": "500", "is_empty": "y"}, "Either tick that it is empty, or write what is left."),
    ],
)
def test_a_level_that_cannot_be_is_refused(lab: SmallLab, client_as, fields, message):
    bottle = add_bottle(lab)
    answer = send(client_as("technician"), f"/store/bottles/{bottle.id}/level", fields)
    assert answer.status_code == 422
    assert message in source(answer)
    db.session.refresh(bottle.vessel)
    assert bottle.vessel.level == UL_PER_L


# A bottle put right


def noted(bottle: Bottle, **changes: str) -> dict[str, str]:
    """What the form shows of a bottle of these tests, and what is typed over it."""
    return {"lot": "", "expires_on": "", "received_at": "2026-03-02T09:00", **changes}


def test_lot_and_date_are_put_right_and_the_record_keeps_what_was(lab: SmallLab, client_as):
    bottle = add_bottle(lab)
    client, page = client_as("technician"), f"/store/bottles/{bottle.id}"
    assert f"{page}/correct" in links(source(client.get(page)))
    answer = send(client, f"{page}/correct", noted(bottle, lot="7714-β", expires_on="2027-03-01"))
    assert (answer.status_code, answer.location) == (303, page)
    shown = source(client.get(page))
    assert "7714-β" in shown
    assert "Use before 1 Mar 2027." in shown
    told = newest_told(lab)
    assert told["act"] == "bottle.corrected"
    assert told["facts"] == {
        "before": {"lot": "", "expires_on": None},
        "after": {"lot": "7714-β", "expires_on": "2027-03-01"},
    }
    db.session.refresh(bottle)
    assert bottle.received_at == START  # to the very instant, though the form shows minutes


@pytest.mark.sqlite_only
def test_a_bottle_sent_twice_or_unchanged_is_entered_once(lab: SmallLab, client_as):
    bottle, client = add_bottle(lab), client_as("technician")
    page = f"/store/bottles/{bottle.id}/correct"
    sent = {**hidden(source(client.get(page))), **noted(bottle, lot="7714")}
    answers = [client.post(page, data=sent) for _ in range(2)]
    assert [(answer.status_code, answer.location) for answer in answers] == [(303, f"/store/bottles/{bottle.id}")] * 2
    entered = newest_told(lab)
    send(client, page, noted(bottle, lot="7714"))
    assert newest_told(lab) == entered


def test_a_bottle_that_came_another_day_is_delivered_then_in_the_ledger(lab: SmallLab, client_as):
    """Half of it is taken meanwhile: the level stays, and each day's balance is as if it had been right at once."""
    bottle = add_bottle(lab)
    client, page = client_as("technician"), f"/store/bottles/{bottle.id}/correct"
    send(client, f"/store/bottles/{bottle.id}/level", {"found": "500", **WHY, "found_at": "2026-03-02T16:00"})
    for received in ("2026-02-25T09:30", "2026-02-27T10:00"):
        assert send(client, page, noted(bottle, received_at=received)).status_code == 303
        db.session.refresh(bottle.vessel)
        assert (bottle.vessel.level, bottle.vessel.capacity) == (500 * UL_PER_ML, UL_PER_L)
    assert ledger.wrong_levels(db.session) == []
    assert ledger.unbalanced_movements(db.session) == []
    came = {
        day: ledger.balances(
            db.session, start=datetime(2026, 2, day, tzinfo=UTC), end=datetime(2026, 2, day + 1, tzinfo=UTC)
        )[bottle.vessel.unit].accounts.get(Account.SUPPLIER, 0)
        for day in (25, 26, 27)
    }
    assert came == {25: 0, 26: 0, 27: -UL_PER_L}
    now = ledger.balances(db.session, start=START - timedelta(days=90), end=NOW)[bottle.vessel.unit]
    assert now.difference == 0


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"lot": "x" * 61}, "60"),
        ({"expires_on": "31 March"}, "write a day of the calendar"),
        ({"expires_on": "2026-03-01"}, "It was past its date when it arrived."),
        ({"received_at": ""}, "Enter when it came into the store."),
        ({"received_at": "2026-03-02T11:00"}, "Something was taken from it before that."),
        ({"received_at": "2026-12-02T11:00"}, "That is in the future."),
    ],
)
def test_what_cannot_be_of_a_bottle_is_refused(lab: SmallLab, client_as, fields, message):
    bottle, client = add_bottle(lab), client_as("technician")
    send(client, f"/store/bottles/{bottle.id}/level", {"found": "500", **WHY, "found_at": "2026-03-02T10:00"})
    entered = newest_told(lab)
    answer = send(client, f"/store/bottles/{bottle.id}/correct", noted(bottle, **fields))
    assert answer.status_code == 422
    assert message in source(answer)
    assert newest_told(lab) == entered


@pytest.mark.sqlite_only
def test_only_who_keeps_the_store_puts_a_bottle_right(lab: SmallLab, client_as):
    page = f"/store/bottles/{add_bottle(lab).id}"
    assert f"{page}/correct" not in links(source(client_as("member").get(page)))
    assert client_as("member").get(f"{page}/correct").status_code == 403


def newest_told(lab: SmallLab) -> dict[str, object]:
    lab.session.rollback()
    entry = lab.session.execute(select(RecordEntry).order_by(RecordEntry.number.desc()).limit(1)).scalar_one()
    return json.loads(entry.payload)
