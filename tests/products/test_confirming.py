"""Confirming a product against its SDS: what is confirmed, by whom, and what it is no longer true of."""

import pytest

from labsys.database import db
from labsys.products.models import Confirmation, Product
from tests.support.lab import SmallLab
from tests.support.pages import hidden, hidden_field, send, source
from tests.support.store import add_waiting, product_fields


def confirmations(product: Product) -> int:
    return db.session.query(Confirmation).filter_by(product_id=product.id).count()


def test_confirming_says_exactly_what_is_confirmed_and_names_who_and_when(lab: SmallLab, client_as):
    product = add_waiting(lab, h_codes="H319")
    client = client_as("safety adviser")
    page = source(client.get(f"/store/products/{product.id}"))
    assert "the H-codes: H319;" in page
    assert "found right:" in page
    answer = send(client, f"/store/products/{product.id}/confirm", at=f"/store/products/{product.id}")
    assert (answer.status_code, answer.location) == (303, f"/store/products/{product.id}")
    page = source(client.get(answer.location))
    assert "Confirmed by Пётр Орлов on Tue 3 Mar 2026, 09:00, against the SDS of 1 May 2025." in page
    assert "/confirm" not in page


def test_confirming_twice_confirms_once(lab: SmallLab, client_as):
    product = add_waiting(lab)
    page, address = f"/store/products/{product.id}", f"/store/products/{product.id}/confirm"
    client = client_as("safety adviser")
    first, second = hidden(source(client.get(page))), hidden(source(client.get(page)))
    for carried, words in (
        (first, "Confirmed. Baths may be mixed from it."),
        (first, "Saved already"),
        (second, "These entries are confirmed already."),
    ):
        assert client.post(address, data=carried).location == page
        assert words in source(client.get(page))
        assert confirmations(product) == 1


def test_what_was_changed_while_being_read_is_not_confirmed(lab: SmallLab, client_as):
    product = add_waiting(lab)
    page = f"/store/products/{product.id}"
    adviser, technician = client_as("safety adviser"), client_as("technician")
    read = hidden(source(adviser.get(page)))
    assert send(technician, f"{page}/change", product_fields(name=product.name, h_codes="H317")).status_code == 303
    assert adviser.post(f"{page}/confirm", data=read).status_code == 303
    assert "Somebody changed these entries after you opened the page" in source(adviser.get(page))
    assert confirmations(product) == 0


@pytest.mark.sqlite_only
def test_a_product_without_the_date_of_its_sheet_cannot_be_confirmed(lab: SmallLab, client_as):
    product = add_waiting(lab, sds_date=None)
    page = f"/store/products/{product.id}"
    client = client_as("safety adviser")
    text = source(client.get(page))
    assert "The date of the SDS is missing." in text
    assert "/confirm" not in text
    other = hidden(source(client.get(f"/store/products/{add_waiting(lab, name='Another').id}")))
    client.post(f"{page}/confirm", data=other)
    assert "Enter the date of the SDS first" in source(client.get(page))
    assert confirmations(product) == 0


@pytest.mark.sqlite_only
def test_what_nobody_said_of_a_product_is_not_known_and_cannot_be_confirmed(lab: SmallLab, client_as):
    product = add_waiting(lab, h_codes="", ingredients=[])
    page, client = f"/store/products/{product.id}", client_as("safety adviser")
    told = source(client.get(page))
    assert "What the SDS classifies it as is missing." in told
    assert "What it can do is not known." in told
    assert "handled as if it could blind" in told
    assert "Goggles that close all round" in told
    other = hidden(source(client.get(f"/store/products/{add_waiting(lab, name='Another').id}")))
    client.post(f"{page}/confirm", data=other)
    assert "Say first what the SDS classifies it as" in source(client.get(page))
    assert confirmations(product) == 0
    technician = client_as("technician")
    typed = product_fields(name=product.name, h_codes="Not classified.")
    assert send(technician, f"{page}/change", typed).status_code == 303
    told = source(client.get(page))
    assert "What it can do is not known." not in told
    assert "Not classified." in told


@pytest.mark.sqlite_only
@pytest.mark.parametrize("role", ["member", "technician", "manager"])
def test_others_may_not_confirm(lab: SmallLab, client_as, role: str):
    product = add_waiting(lab)
    client = client_as(role)
    token = hidden_field(source(client.get("/store")), "csrf_token")
    fields = {"csrf_token": token, "submission_key": "a key long enough", "version": "1"}
    assert client.post(f"/store/products/{product.id}/confirm", data=fields).status_code == 403
    assert confirmations(product) == 0
