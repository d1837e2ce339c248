"""What the lab does not keep unless somebody answers for it, at the product form and on the product's page."""

import pytest

from labsys.database import db
from labsys.products.models import AcceptedRestriction, Product
from labsys.records.models import RecordEntry
from tests.support.lab import SmallLab
from tests.support.pages import send, source
from tests.support.store import product_fields

ADD = "/store/products/add"
REASON = "One tray for the carbon class of May; glove box, no drain."
DICHROMATE = {
    "name": "Sensitiser B",
    "ingredients-0-cas": "7778-50-9",
    "ingredients-0-name": "orange salt",
    "ingredients-0-classification": "Carc. 1B H350",
    "ingredients-0-specific_limits": "",
}


def entered(name: str) -> list[Product]:
    return db.session.query(Product).filter_by(name=name).all()


def test_no_mercury_thermometer_on_the_bench(lab: SmallLab, client_as):
    """Common practice, no source: one that breaks cannot be cleaned up in a darkroom."""
    name = "Mercury thermometer, 30 cm"
    answer = send(client_as("technician"), ADD, product_fields(name=name))
    page = source(answer)
    assert answer.status_code == 422
    for words in ("Mercury thermometers", "Regulation (EU) 847/2012", "Use a thermometer filled with dyed spirit"):
        assert words in page
    assert "Why it is kept all the same" not in page
    assert entered(name) == []


def test_an_ingredient_is_found_by_its_cas_number_and_kept_only_with_a_written_reason(lab: SmallLab, client_as):
    adviser = client_as("safety adviser")
    refused = send(adviser, ADD, product_fields() | DICHROMATE)
    assert refused.status_code == 422
    for words in ("Dichromates and other chromium(VI)", "REACH Annex XIV", "Why it is kept all the same"):
        assert words in source(refused)
    assert entered("Sensitiser B") == []
    taken = send(adviser, ADD, product_fields() | DICHROMATE | {"restricted_reason": REASON})
    assert taken.status_code == 303
    (product,) = entered("Sensitiser B")
    (accepted,) = product.accepted_restrictions
    assert (accepted.item, accepted.reason, accepted.accepted_by.name) == ("chromium(VI)", REASON, "Пётр Орлов")
    page = source(client_as("member").get(f"/store/products/{product.id}"))
    assert "Dichromates and other chromium(VI): restricted" in page
    assert REASON in page
    entry = db.session.query(RecordEntry).filter(RecordEntry.payload.like("%restriction_accepted%")).one()
    assert REASON in (entry.payload or "")


@pytest.mark.sqlite_only
def test_a_reason_from_somebody_who_may_not_confirm_is_none(lab: SmallLab, client_as):
    answer = send(client_as("technician"), ADD, product_fields() | DICHROMATE | {"restricted_reason": REASON})
    assert (answer.status_code, "Only who may confirm hazards" in source(answer)) == (422, True)
    assert db.session.query(AcceptedRestriction).count() == 0


@pytest.mark.sqlite_only
def test_what_was_accepted_stays_so_and_what_comes_in_by_a_change_is_asked_again(lab: SmallLab, client_as):
    adviser, technician = client_as("safety adviser"), client_as("technician")
    send(adviser, ADD, product_fields() | DICHROMATE | {"restricted_reason": REASON})
    (product,) = entered("Sensitiser B")
    change = f"/store/products/{product.id}/change"
    assert send(technician, change, product_fields() | DICHROMATE | {"supplier": "Others"}).status_code == 303
    mercury = {
        "ingredients-1-cas": "7487-94-7",
        "ingredients-1-name": "mercuric chloride",
        "ingredients-1-content": "1 %",
        "ingredients-1-classification": "",
    }
    refused = send(technician, change, product_fields() | DICHROMATE | mercury)
    assert (refused.status_code, "Mercury and its compounds" in source(refused)) == (422, True)


@pytest.mark.sqlite_only
def test_ferricyanide_is_no_cyanide(lab: SmallLab, client_as):
    fields = product_fields(name="Ferricyanide bleach") | {"ingredients-0-cas": "13746-66-2"}
    assert send(client_as("technician"), ADD, fields).status_code == 303
