"""Interim approvals and the lab's rule about the SDS, from the page they are given on to where somebody mixes."""

import re

import pytest

from labsys.baths.models import Bath
from labsys.chemistry.care import SolutionKind
from labsys.database import db
from labsys.products import service
from labsys.products.models import InterimApproval, Product, StoreRule
from labsys.products.rules import ProductRefused
from labsys.records import queries as records
from labsys.records.models import RecordEntry
from tests.support.lab import SmallLab, product_entry
from tests.support.pages import send, source
from tests.support.safety import add_sheet

REASON = "The sheet is on its way; same ingredients as before."


def waiting(lab: SmallLab) -> Product:
    product = lab.add_product(SolutionKind.FIXER, confirmed=False, name="Slow fixer concentrate")
    lab.ids["product fixer"] = product.id
    return product


def approve(client, product: Product, *, last_day: str = "2026-03-20", reason: str = REASON):
    return send(client, f"/store/products/{product.id}/approve-interim", {"last_day": last_day, "reason": reason})


def words_of(answer) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", source(answer)))


def mix(lab: SmallLab) -> Bath:
    return lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=1_000)


def test_under_an_interim_approval_a_bath_is_mixed_and_every_page_says_so(lab: SmallLab, client_as):
    product = waiting(lab)
    with pytest.raises(ProductRefused, match="Nobody has confirmed"):
        mix(lab)
    assert approve(client_as("safety adviser"), product).status_code == 303
    told = "Interim approval until 20 Mar 2026 by Пётр Орлов: The sheet is on its way"
    technician = client_as("technician")
    process = lab.add_process()
    lab.add_bottle(SolutionKind.FIXER)
    for page in (
        f"/store/products/{product.id}",
        "/store",
        f"/store/bottles/receive?product_id={product.id}",
        "/baths/mix",
        f"/baths/mix?product_id={product.id}",
        f"/plan?process_id={process.id}&size=120&count=2",
    ):
        assert told in words_of(technician.get(page)), page
    lab.now = lab.now.replace(day=3)
    assert mix(lab).product_id == product.id
    entry = db.session.query(RecordEntry).filter(RecordEntry.payload.like("%product.approved_interim%")).one()
    assert '"last_day":"2026-03-20"' in (entry.payload or "")
    assert records.find_fault(db.session) is None


@pytest.mark.sqlite_only
def test_after_its_last_day_nothing_is_mixed_any_more(lab: SmallLab, client_as):
    product = waiting(lab)
    approve(client_as("safety adviser"), product)
    lab.now = lab.now.replace(day=20, hour=20)
    mix(lab)
    lab.now = lab.now.replace(day=21, hour=1)
    with pytest.raises(ProductRefused, match=r"ended on 20 Mar 2026\. Nobody has confirmed"):
        mix(lab)


@pytest.mark.sqlite_only
def test_a_change_of_the_entries_ends_it(lab: SmallLab, client_as):
    product = waiting(lab)
    approve(client_as("safety adviser"), product)
    lab.now = lab.now.replace(day=3)
    entry = product_entry(SolutionKind.FIXER, name="Slow fixer concentrate", h_codes="H319")
    service.change_product(lab.act("technician"), product_id=product.id, sheet=entry)
    with pytest.raises(ProductRefused, match="Nobody has confirmed"):
        mix(lab)


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("last_day", "reason", "message"),
    [
        ("2026-04-04", REASON, "At most 31 days: 3 Apr 2026 is the last day it may run to."),
        ("2026-03-02", REASON, "The last day has gone by"),
        ("", REASON, "Enter the last day"),
        ("2026-02-30", REASON, "write a day of the calendar"),
        ("2026-03-20", "  ", "Write down the reason"),
        ("2026-03-20", "x" * 301, "Use at most 300 characters."),
    ],
)
def test_a_bad_approval_is_refused(lab: SmallLab, client_as, last_day: str, reason: str, message: str):
    product = waiting(lab)
    answer = approve(client_as("safety adviser"), product, last_day=last_day, reason=reason)
    assert (answer.status_code, message in source(answer)) == (422, True)
    assert db.session.query(InterimApproval).count() == 0


@pytest.mark.sqlite_only
def test_what_is_confirmed_needs_none(lab: SmallLab, client_as):
    product = db.session.get_one(Product, lab.ids["product fixer"])
    assert "no interim approval is needed" in source(approve(client_as("safety adviser"), product))

    # The lab's rule


def test_where_the_lab_chose_so_nothing_is_mixed_without_a_current_sds(lab: SmallLab, client_as):
    mix(lab)
    manager = client_as("manager")
    page = "/store/products"
    assert "It is shown; baths may be mixed all the same." in words_of(manager.get(page))
    assert send(manager, "/store/sds-rule", {"sds_rule": "blocks"}, at=page).location == page
    assert "Nothing is mixed from it until there is one." in words_of(manager.get(page))
    with pytest.raises(ProductRefused, match="without a current SDS"):
        mix(lab)
    bottle = lab.add_bottle(SolutionKind.FIXER)
    technician = client_as("technician")
    for address in (f"/store/products/{lab.ids['product fixer']}", f"/store/bottles/{bottle.id}", "/baths/mix"):
        assert "nothing is mixed from Rapid fixer concentrate" in words_of(technician.get(address))
    add_sheet(lab, lab.ids["product fixer"])
    mix(lab)
    send(manager, "/store/sds-rule", {"sds_rule": "shown"}, at=page)
    assert db.session.query(StoreRule).count() == 1


@pytest.mark.sqlite_only
def test_the_rule_is_one_of_the_two(lab: SmallLab, client_as):
    adviser = client_as("safety adviser")
    answer = send(adviser, "/store/sds-rule", {"sds_rule": "perhaps"}, at="/store/products")
    assert "Choose one of the two" in source(adviser.get(answer.location))
    assert db.session.query(StoreRule).count() == 0
