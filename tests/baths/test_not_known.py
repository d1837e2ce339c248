"""A bath whose keeping time nobody said is "not known" on every page and paper that speaks of it, never plenty."""

from datetime import timedelta

import pytest

from labsys.baths import queries
from labsys.baths.models import Bath, Place
from labsys.chemistry.bath_rules import HOLDING_NAMES, Holding
from labsys.chemistry.care import SolutionKind
from labsys.products import service as product_service
from labsys.products.models import Product
from labsys.products.sheet import StatedAge
from tests.baths.conftest import plan
from tests.planning.furnishing import add_film_process
from tests.planning.looking import address
from tests.support.lab import SOURCE, SmallLab
from tests.support.pages import form_of, hidden, pdf_text, press, send, source, text

ADD = "/baths/lines/add"
NO_TANK = "Not known: no keeping time is set for a tank with a floating lid"


def mix(lab: SmallLab, place: Place = Place.FIXER, **changes) -> Bath:
    return lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500, place=place, **changes)


@pytest.fixture
def month_old(lab: SmallLab) -> Bath:
    """A fixer a month old in a tank; its data sheet says only how long it keeps in a tray."""
    product = lab.session.get_one(Product, lab.ids["product fixer"])
    product.ages = [rule for rule in product.ages if rule.holding is Holding.TRAY]
    lab.session.commit()
    bath = mix(lab)
    lab.tick(days=30)
    return bath


def test_a_fixer_a_month_old_is_never_plenty_wherever_it_is_spoken_of(lab, technician, member, month_old):
    process = add_film_process(lab)
    line = f"/baths/lines/{lab.film_line_id}"
    planned = address(process, count=2)
    places = ("/", "/baths", line, f"{line}/log", f"/baths/{month_old.id}", planned)
    for path in (*places, f"/documents/bath-label/{month_old.id}", f"/c/{month_old.code}"):
        page = text(technician.get(path, follow_redirects=True))
        assert NO_TANK in page, path
        assert "Plenty" not in page, path
    assert "Whether it takes this load is not known" in text(member.get(planned))
    assert "Set a keeping time for a tank with a floating lid on the product's page." in text(member.get(line))
    sent = hidden(source(member.get(planned))) | {"process_id": process.id, "size": "120", "count": 2}
    sheet = pdf_text(member.post("/documents/session-sheet", data=sent, follow_redirects=True).data)
    label = pdf_text(press_label(technician, month_old))
    for paper in (sheet, label):
        assert NO_TANK in paper
        assert "Plenty" not in paper
    assert "not known: no keeping time set" in label
    assert "Takes when fresh" in label


def press_label(technician, bath: Bath) -> bytes:
    path = f"/documents/bath-label/{bath.id}"
    return technician.post(path, data=hidden(source(technician.get(path))), follow_redirects=True).data


def test_work_still_goes_through_it_and_counts(lab, technician, month_old):
    lab.log(25)
    page = text(technician.get(f"/baths/{month_old.id}"))
    assert "Of what is known, the limit: area. 25 of 50 rolls." in page
    lab.log(13)  # calculated: 38 of 50 leave 24 %
    page = text(technician.get(f"/baths/{month_old.id}"))
    assert "Near its end: how much it still takes is not known, for no keeping time is set" in page
    lab.log(12)
    assert "Exhausted: do not use" in text(technician.get(f"/baths/{month_old.id}"))


HELD = [
    (Holding.FULL_BOTTLE, 3_000_000, Holding.PART_FULL_BOTTLE),  # 2.5 L of 3 L is no full bottle
    (Holding.FULL_BOTTLE, 2_500_000, Holding.FULL_BOTTLE),
    (Holding.PART_FULL_BOTTLE, 2_500_000, Holding.PART_FULL_BOTTLE),
    (Holding.OPEN_TANK, 3_000_000, Holding.OPEN_TANK),
]


@pytest.mark.sqlite_only
@pytest.mark.parametrize(("holding", "capacity_ul", "counts_as"), HELD)
def test_a_keeping_time_holds_for_what_the_bath_stands_in_and_nothing_else(
    lab, technician, holding, capacity_ul, counts_as
):
    bath = mix(lab, holding=holding, capacity_ul=capacity_ul)
    address = f"/baths/{bath.id}"
    assert f"Not known: no keeping time is set for {HOLDING_NAMES[counts_as]}" in text(technician.get(address))
    product = lab.session.get_one(Product, lab.ids["product fixer"])
    state_age(lab, product, StatedAge(counts_as, 48, SOURCE))
    assert "Plenty: about 50 rolls" in text(technician.get(address))
    lab.tick(hours=49)
    assert "Exhausted: do not use" in text(technician.get(address))
    assert "Limit: age. 49 of 48 hours." in text(technician.get(address))


def state_age(lab: SmallLab, product: Product, age: StatedAge) -> None:
    product_service.state_age(lab.session, product_id=product.id, age=age)
    lab.session.commit()


@pytest.mark.sqlite_only
def test_an_age_counts_where_no_capacity_is_set(lab, technician):
    """Calculated: 46 of 60 days leave 23 %."""
    product = lab.session.get_one(Product, lab.ids["product fixer"])
    product.capacities = []
    lab.session.commit()
    bath = mix(lab)
    for days, state in (
        (1, "Not known: no capacity is set"),
        (46, "Near its end: how much it still takes"),
        (60, "Ex"),
    ):
        lab.now = bath.mixed_at + timedelta(days=days)
        assert state in text(technician.get(f"/baths/{bath.id}"))


# Laying out a line


def line_fields(process_id: int, **changes):
    return {"name": "New line", "work": "film", "holding": "open_tank", "process_id": process_id, **changes}


def test_what_a_line_stands_in_is_asked_and_how_long_things_keep_there(lab, technician):
    process = add_film_process(lab)
    assert "Choose what its baths stand in" in text(send(technician, ADD, name="New line", work="film", process_id="0"))
    asked = send(technician, ADD, line_fields(process.id))
    assert asked.status_code == 200
    assert queries.line_by_name(lab.session, "New line") is None
    page = source(asked)
    for name in ("PQ liquid concentrate", "Acetic stop concentrate", "Rapid fixer concentrate"):
        assert name in page
    rows = {
        field.get("name"): field.get("value", "")
        for field in form_of(page).iter()
        if (field.get("name") or "").endswith("product_id")
    }
    fixer = next(
        name for name, value in rows.items() if name != "process_id" and value == str(lab.ids["product fixer"])
    ).removesuffix("product_id")
    typed = {**line_fields(process.id), **rows, f"{fixer}keeps": "3", f"{fixer}unit": "days"}
    refused = technician.post(ADD, data={**hidden(page), **typed})
    assert refused.status_code == 422
    assert "Say where this keeping time is given" in text(refused)
    assert technician.post(ADD, data={**hidden(page), **typed, f"{fixer}source": SOURCE}).status_code == 303
    line = queries.line_by_name(lab.session, "New line")
    assert line.holding is Holding.OPEN_TANK
    product = lab.session.get_one(Product, lab.ids["product fixer"], populate_existing=True)
    told = {rule.holding: (rule.hours, rule.source) for rule in product.ages}
    assert told[Holding.OPEN_TANK] == (72, SOURCE)
    assert product.confirmation is not None  # of the data sheet: nothing to confirm anew
    lab.add_bottle(SolutionKind.FIXER)
    mixing = source(technician.get(f"/baths/mix?product_id={product.id}&line_id={line.id}"))
    assert "open_tank" in checked(mixing)


def checked(page: str) -> set[str]:
    return {field.get("value", "") for field in form_of(page).iter() if field.get("checked") is not None}


@pytest.mark.sqlite_only
def test_a_line_whose_products_keep_there_is_laid_out_at_once(lab, technician):
    process = add_film_process(lab)
    assert send(technician, ADD, line_fields(process.id, holding="tank")).status_code == 303


@pytest.mark.sqlite_only
def test_mixing_says_that_no_keeping_time_is_set(lab, technician):
    lab.add_bottle(SolutionKind.FIXER)
    page = text(technician.get(plan(lab, "fixer", holding="open_tank")))
    assert "No keeping time is set for Rapid fixer concentrate in a tank without a lid" in page
    assert "No keeping time" not in text(technician.get(plan(lab, "fixer")))


# Two baths


def test_a_rotated_pair_without_its_second_bath_says_so_until_one_stands_there(lab, technician, member):
    mix(lab)
    second = mix(lab, Place.SECOND_FIXER)
    lab.log(50)
    line = f"/baths/lines/{lab.film_line_id}"
    assert press(technician, f"{line}/rotate", at=line).status_code == 303
    says = "Not known: it took the first place of two and no second bath stands behind it"
    for path in ("/", "/baths", line, f"{line}/log", f"/baths/{second.id}", f"/documents/bath-label/{second.id}"):
        assert says in text(technician.get(path)), path
    assert "Mix a second fixer and put it in service behind this one." in text(member.get(line))
    assert "Mix a second fixer" in text(technician.get("/"))
    mix(lab, Place.SECOND_FIXER)
    for path in ("/baths", line, f"{line}/log", f"/baths/{second.id}"):
        page = text(technician.get(path))
        assert says not in page, path
        assert "Plenty: about 50 rolls of 120" in page, path
