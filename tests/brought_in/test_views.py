from datetime import timedelta

import pytest

from labsys import clock
from labsys.brought_in.models import Declaration
from tests.support.guests import NO, YES, decide, declare
from tests.support.pages import queries_of, send, source, text

pytestmark = pytest.mark.sqlite_only

FORM = {
    "name": "Selenium toner",
    "supplier": "Made-up Supplies",
    "h_codes": "H302 H373",
    "ingredients": "sodium selenite, 10102-18-8",
    "amount": "250 mL",
    "task": "Toning my prints",
    "process_id": "0",
    "first_on": "2026-03-09",
    "last_on": "2026-03-10",
    "waste_code": "09 01 05*",
}


def test_a_declaration_goes_from_the_form_to_its_page(lab, client_as):
    client = client_as("member")
    answer = send(client, "/brought-in/declare", **FORM)
    made = lab.session.query(Declaration).one()
    assert answer.headers["Location"] == f"/brought-in/{made.id}"
    page = source(client.get(answer.headers["Location"]))
    for told in ("Waits for a decision", "250 mL", "H302 Harmful if swallowed", "Toning my prints", "09 01 05*"):
        assert told in page
    assert "Here it must not meet" in page
    assert f"/brought-in/{made.id}/decide" not in page


@pytest.mark.parametrize(
    ("typed", "on_page", "on_label"),
    [
        ("", "What it can do is not known: no H-codes were given.", "What it can do is not known"),
        ("Not classified.", "The SDS says: not classified.", "Its SDS gives no hazard statements."),
    ],
)
def test_what_the_sds_does_not_say_is_not_known_and_not_harmless(lab, client_as, typed, on_page, on_label):
    answer = send(client_as("member"), "/brought-in/declare", **{**FORM, "h_codes": typed})
    made = lab.session.query(Declaration).one()
    assert on_page in text(client_as("member").get(answer.headers["Location"]))
    decide(lab, made, YES)
    assert on_label in text(client_as("technician").get(f"/documents/guest-label/{made.id}"))


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"name": " "}, "Name the product or substance."),
        ({"h_codes": "H999"}, "H999 is not a hazard statement."),
        ({"ingredients": "sodium selenite, 10102-18-9"}, "10102-18-9 is not a CAS number"),
        ({"amount": "250"}, "with its unit"),
        ({"last_on": "2026-03-01"}, "The last day comes before the first."),
        ({"first_on": "soon"}, "Write the day as year-month-day"),
    ],
)
def test_a_declaration_that_cannot_be_read_keeps_what_was_typed(lab, client_as, fields, message):
    answer = send(client_as("member"), "/brought-in/declare", **{**FORM, **fields})
    assert answer.status_code == 422
    assert message in source(answer)
    assert "Toning my prints" in source(answer)
    assert lab.session.query(Declaration).count() == 0


def test_what_waits_or_was_refused_is_seen_by_its_owner_and_by_those_who_decide_or_oversee(lab, client_as):
    waiting, refused = declare(lab, name="Waiting powder"), decide(lab, declare(lab, name="Refused powder"), NO)
    for role, sees in (
        ("member", True),
        ("technician", True),
        ("safety adviser", True),
        ("manager", True),
        ("instructor", False),
    ):
        client = client_as(role)
        listed = source(client.get("/brought-in"))
        for one in (waiting, refused):
            assert client.get(f"/brought-in/{one.id}").status_code == (200 if sees else 403), role
            assert (one.name in listed) is sees


def test_the_code_on_a_guest_bottle_leads_everybody_to_what_is_in_it(lab, client_as):
    made = decide(lab, declare(lab), YES)
    client = client_as("instructor")
    assert client.get(f"/c/{made.code}").headers["Location"] == f"/brought-in/{made.id}"
    page = source(client.get(f"/brought-in/{made.id}"))
    assert "not to be used by others" in page
    assert "In the fume hood only" in page


def test_the_decision_is_made_with_advice_in_sight_and_a_yes_needs_the_sds(lab, client_as):
    made = declare(lab)
    client = client_as("technician")
    assert f"/brought-in/{made.id}/decide" in source(client.get("/"))
    path = f"/brought-in/{made.id}/decide"
    assert "Here it must not meet" in source(client.get(path))
    answer = send(client, path, answer="yes", conditions="In the hood")
    assert answer.status_code == 422
    assert "Look at its SDS first" in source(answer)
    assert "In the hood" in source(answer)
    assert send(client, path, answer="yes", sds_shown="y").status_code == 303
    assert f"/brought-in/{made.id}/decide" not in source(client.get("/"))


def test_a_bottle_past_its_last_day_is_due_until_it_is_gone(lab, client_as):
    day = clock.now().date()
    days = {"first_on": day - timedelta(days=5), "last_on": day - timedelta(days=2)}
    made = decide(lab, declare(lab, **days), YES)
    client = client_as("technician")
    assert "A guest bottle past its last day" in source(client.get("/"))
    assert "A guest bottle past its last day" not in source(client_as("member").get("/"))
    assert "past its last day" in source(client.get("/brought-in"))
    assert send(client_as("member"), f"/brought-in/{made.id}/end", ending="taken home").status_code == 303
    assert "A guest bottle past its last day" not in source(client.get("/"))


def test_what_is_disposed_of_names_its_container_and_leads_to_the_pour(lab, client_as):
    made, container = decide(lab, declare(lab), YES), lab.open_container()
    client, path = client_as("member"), f"/brought-in/{made.id}/end"
    wrong = made.code
    for typed, message in (
        ("", "Enter the label of the container it went to."),
        (wrong, "is not on a waste container here"),
        ("AS-W0001", "A code here looks like"),
    ):
        answer = send(client, path, ending="disposed of here", container=typed)
        assert answer.status_code == 422
        assert message in source(answer)
    sent = send(client, path, ending="disposed of here", container=container.label.lower().replace("-", " "))
    page = source(client.get(sent.headers["Location"]))
    assert container.label in page
    assert f"/waste/containers/{container.id}/pour" in page


def test_the_label_is_shown_as_a_page_and_issued_as_a_pdf(lab, client_as):
    made = decide(lab, declare(lab), YES)
    client, path = client_as("technician"), f"/documents/guest-label/{made.id}"
    page = source(client.get(path))
    for told in ("Łukasz Żak", "Danger", "H314", "Front desk 01632 960000", "Not to be used by others."):
        assert told in page
    answer = send(client, path)
    assert client.get(answer.headers["Location"]).mimetype == "application/pdf"
    assert client.get(f"/documents/guest-label/{declare(lab).id}").headers["Location"].startswith("/brought-in/")


def test_the_list_costs_the_same_however_long_and_goes_on_by_key(lab, client_as):
    client = client_as("technician")

    assert "Nothing declared yet" in source(client.get("/brought-in"))
    first = declare(lab, name="The very first").id
    for _ in range(10):
        declare(lab)
    few = queries_of(client, "/brought-in")
    for _ in range(11):
        declare(lab, role="technician")
    assert queries_of(client, "/brought-in") == few <= 20
    page = source(client.get("/brought-in"))
    assert "The very first" not in page
    assert "The very first" in source(client.get(f"/brought-in?before={first + 2}"))
    assert queries_of(client, f"/brought-in/{first}") <= 20
