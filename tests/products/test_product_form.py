"""Entering and changing a product: what is kept, and how bad input is met."""

from dataclasses import replace

import pytest

from labsys.chemistry.bath_rules import Holding
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.sizes import area_of_units_mm2
from labsys.database import db
from labsys.hazards.substances import all_substances
from labsys.products import reference, rules, service
from labsys.products.models import Product
from labsys.products.rules import EntriesMoved
from labsys.products.sheet import CapacityMeasure, StatedDilution
from labsys.quantities import MG_PER_G
from tests.support.lab import SmallLab, product_entry
from tests.support.pages import hidden, send, source
from tests.support.store import product_fields

ADD = "/store/products/add"


def the_product(name: str = "Citric stop concentrate") -> Product:
    return db.session.query(Product).filter_by(name=name).one()


def how_many() -> int:
    return db.session.query(Product).count()


def test_a_product_typed_from_its_sheets_is_kept_as_typed(lab: SmallLab, client_as):
    answer = send(client_as("technician"), ADD, product_fields())
    product = the_product()
    assert (answer.status_code, answer.location) == (303, f"/store/products/{product.id}")
    assert (product.kind, product.h_codes, product.density_mg_per_ml) == (SolutionKind.STOP, "H314 H335", 1_050)
    assert (product.ph_limit_milli, product.powder_mg_per_l) == (5_800, None)
    (acid,) = product.ingredients
    assert (acid.cas, acid.low_ppm, acid.high_ppm) == ("64-19-7", 0, 399_999)
    assert acid.classification == "Flam. Liq. 3 H226; Skin Corr. 1A H314"
    assert acid.specific_limits == "Skin Corr. 1B H314: 25<=C<90"
    (capacity,) = product.capacities
    assert (capacity.water_parts_milli, capacity.measure) == (19_000, CapacityMeasure.AREA)
    assert capacity.per_litre == round(12.5 * area_of_units_mm2(units=1))
    (age,) = product.ages
    assert (age.holding, age.hours, age.source) == (Holding.TRAY, 72, "data sheet, page 2")
    assert product.confirmation is None


@pytest.mark.sqlite_only
def test_rows_left_empty_are_ignored(lab: SmallLab, client_as):
    rows = ("ingredients-", "dilutions-", "capacities-", "ages-")
    fields = {name: text for name, text in product_fields().items() if not name.startswith(rows)}
    assert send(client_as("technician"), ADD, fields).status_code == 303
    product = the_product()
    assert [*product.ingredients, *product.dilutions, *product.capacities, *product.ages] == []


@pytest.mark.sqlite_only
def test_a_powder_is_counted_by_mass(lab: SmallLab, client_as):
    send(client_as("technician"), ADD, product_fields(powder="97.5 g", density=""))
    assert the_product().powder_mg_per_l == 97_500 == round(97.5 * MG_PER_G)


BAD_INPUT = [  # what is typed, and what the page says about it
    ({"ingredients-0-cas": "64-19-8"}, "64-19-8 is not a CAS number: its last digit does not fit the others"),
    ({"ingredients-0-content": "20-120 %"}, "nothing holds more than 100 %"),
    ({"ingredients-0-content": "10-5 %"}, "typed backwards"),
    ({"ingredients-0-content": "-5 %"}, "write a figure or a range"),
    ({"ingredients-0-classification": "Skin Corr. 1D H314"}, "Before H314 stands Skin Corr. 1, Skin Corr. 1A, Skin"),
    ({"ingredients-0-classification": "Skin Corr. 1B"}, "“Skin Corr. 1B” has no H-code behind it"),
    ({"ingredients-0-specific_limits": "more than a quarter"}, "is not a specific limit"),
    ({"ingredients-0-m_acute": "-10"}, "M-factor, acute: write a number above zero"),
    ({"h_codes": "H314 H999"}, "H999 is not a hazard statement"),
    ({"h_codes": "P280"}, "P280 is not a hazard statement"),
    ({"h_codes": "EUH208"}, "EUH208 names a sensitiser", {"ingredients-0-"}),
    ({"dilutions-0-dilution": "1:4"}, "can be read two ways: 1+4 (20 % concentrate) or 1+3 (25 % concentrate)"),
    ({"dilutions-0-dilution": "1+5000"}, "1+5000 is weaker than any photographic solution"),
    ({"dilutions-0-use": ""}, "Say what this dilution is for"),
    ({"dilutions-1-dilution": "1 + 19", "dilutions-1-use": "film and paper"}, "A row above says the same"),
    ({"capacities-0-dilution": "1+9"}, "1+9 is not among the dilutions"),
    ({"capacities-0-source": ""}, "Say where this capacity is given"),
    ({"capacities-0-material": ""}, "Choose the material"),
    ({"capacities-0-per_litre": "-12"}, "A litre takes: write a number above zero"),
    ({"capacities-0-per_litre": "0"}, "A litre takes: that must be above zero"),
    ({"capacities-0-measure": "pieces"}, "Pieces are counted whole"),
    ({"ages-0-keeps": ""}, "Enter how many hours or days it keeps"),
    ({"ages-0-source": ""}, "Say where this keeping time is given"),
    ({"ages-1-holding": "tray", "ages-1-keeps": "5", "ages-1-source": "x"}, "A row above says the same"),
    ({"ingredients-1-name": "water"}, "Enter its CAS number"),
    ({"density": "-1.05"}, "Density: write a figure, or a range such as 10-11"),
    ({"density": "1050"}, "Density: it lies between 0.5 and 5"),
    ({"density": "1.25-1.2"}, "Density: the range is typed backwards"),
    ({"density": "> 1.2"}, "Density: give both ends of the range"),
    ({"ph": "alkaline"}, "pH as supplied: write a figure, or a range"),
    ({"ph": "14.5"}, "pH as supplied: it lies between 0 and 14"),
    ({"ph": "nan"}, "pH as supplied: write a figure"),
    ({"dilutions-0-ph": "12-11"}, "pH as used: the range is typed backwards"),
    ({"flash_point": "warm"}, "Flash point: write a number, without a unit"),
    ({"flash_point": "-300"}, "Flash point: that must be at least -100 and at most 500"),
    ({"viscosity": "-2"}, "Kinematic viscosity at 40 °C: write a number above zero"),
    ({"unknown_toxicity": "120"}, "Share of unknown acute toxicity: that must be above zero and at most 100"),
    ({"ingredients-0-ate_oral": "-481"}, "ATE, swallowed: write a number above zero"),
    ({"ingredients-0-ate_vapour": "0"}, "ATE, inhaled as a vapour: that must be above zero"),
    ({"ingredients-0-ate_dust_mist": "0.0001"}, "ATE, inhaled as dust or mist: use fewer decimals"),
    ({"powder": "97"}, "Write the unit too"),
    ({"ph_limit": "14"}, "at most 13"),
    ({"sds_date": "2027-01-01"}, "not a day on which this sheet can have been issued"),
    ({"sds_date": "2025-02-30"}, "write a day of the calendar"),
    ({"name": "   "}, "Name the product"),
    ({"name": "x" * 121}, "Use at most 120 characters."),
    ({"kind": ""}, "Choose what it is"),
    ({"kind": "soup"}, "Choose what is on the list"),
    ({"waste_code": ""}, "Choose the waste code"),
    ({"name": "Acetic stop concentrate"}, "Acetic stop concentrate is in the store&#39;s list already"),
]


@pytest.mark.sqlite_only
def test_bad_input_is_named_kept_on_the_page_and_never_saved(lab: SmallLab, client_as):
    client = client_as("technician")
    carried = hidden(source(client.get(ADD)))
    before = how_many()
    for changes, message, *left_out in BAD_INPUT:
        fields = product_fields() | changes
        for start in left_out[0] if left_out else ():
            fields = {name: text for name, text in fields.items() if not name.startswith(start)}
        answer = client.post(ADD, data=carried | fields)
        page = source(answer)
        assert answer.status_code == 422, changes
        assert message in page, (changes, message)
        assert "Made-up Supplies" in page, changes
        assert how_many() == before, changes


@pytest.mark.sqlite_only
def test_the_summary_of_errors_leads_to_the_field_inside_its_row(lab: SmallLab, client_as):
    page = source(send(client_as("technician"), ADD, product_fields() | {"dilutions-0-dilution": "1:4"}))
    assert '<a href="#dilutions-0-dilution">' in page
    assert 'value="1:4"' in page


@pytest.mark.sqlite_only
@pytest.mark.parametrize("name", ["Βραδύ στερεωτικό", "Utrwalacz błyskawiczny ŻÓŁĆ", "Проявитель «зимний» <b>"])
def test_names_in_other_scripts_come_back_as_they_were_typed(lab: SmallLab, client_as, name: str):
    client = client_as("technician")
    answer = send(client, ADD, product_fields(name=name, supplier="Ελένη & Łukasz"))
    assert the_product(name).supplier == "Ελένη & Łukasz"
    page = source(client.get(answer.location))
    assert name.replace("<", "&lt;").replace(">", "&gt;") in page
    assert "Ελένη &amp; Łukasz" in page


def test_a_form_sent_twice_adds_one_product(lab: SmallLab, client_as):
    client = client_as("technician")
    carried = hidden(source(client.get(ADD)))
    before = how_many()
    first = client.post(ADD, data=carried | product_fields())
    second = client.post(ADD, data=carried | product_fields())
    assert (second.status_code, second.location) == (303, first.location)
    assert how_many() == before + 1


@pytest.mark.sqlite_only
def test_the_reference_list_fills_what_is_empty_and_saves_nothing(lab: SmallLab, client_as):
    client = client_as("technician")
    before = how_many()
    rows = {"ingredients-0-name": "", "ingredients-0-classification": "", "ingredients-1-name": "Hydroquinone"}
    answer = send(client, ADD, product_fields() | rows | {"fill_in": "yes"})
    page = source(answer)
    assert answer.status_code == 200
    assert "Filled in from the reference list, not saved yet: acetic acid" in page
    assert "Compare each with section 3 of the SDS" in page
    assert "Flam. Liq. 3 H226; Skin Corr. 1A H314" in page  # CLP Annex VI, 607-002-00-6, from memory
    assert 'value="123-31-9"' in page  # hydroquinone, found by its name
    assert "Skin Corr. 1B; H314: 25 % ≤ C &lt; 90 %" in page  # what was typed stays
    # EH40/2005, Table 1, from memory
    assert 'value="25 mg/m³ over 8 hours, 50 mg/m³ over 15 minutes (EH40/2005, remembered)"' in page
    assert 'value="0.5 mg/m³ over 8 hours (EH40/2005, remembered)"' in page
    assert how_many() == before


@pytest.mark.sqlite_only
def test_what_the_reference_list_fills_in_can_be_saved_as_it_stands(lab: SmallLab, client_as):

    for known in all_substances():
        texts = reference._reference_texts(known)
        assert rules.plain_classes(texts["classification"]) == texts["classification"], known.name
        assert rules.plain_limits(texts["specific_limits"]) == texts["specific_limits"], known.name


def test_a_change_begins_from_what_was_typed_and_waits_to_be_confirmed_again(lab: SmallLab, client_as):
    product_id = lab.ids["product stop"]
    address = f"/store/products/{product_id}/change"
    client = client_as("technician")
    page = source(client.get(address))
    for words in ('value="30–40 %"', 'value="1+19"', 'value="20"', 'value="5.8"', "Skin Corr. 1A H314"):
        assert words in page
    answer = send(client, address, product_fields(name="Acetic stop concentrate"))
    assert (answer.status_code, answer.location) == (303, f"/store/products/{product_id}")
    product = db.session.get_one(Product, product_id, populate_existing=True)
    assert (product.version, product.confirmation) == (2, None)
    assert "they were changed since" in source(client.get(answer.location))


def test_a_change_of_what_only_the_data_sheet_says_keeps_the_confirmation(lab: SmallLab, client_as):
    product_id = lab.ids["product stop"]
    before = db.session.get_one(Product, product_id)
    entry = product_entry(SolutionKind.STOP)
    longer = [replace(one, hours=one.hours + 24) for one in entry.ages]
    changed = service.change_product(
        lab.act("technician"),
        product_id=product_id,
        sheet=replace(entry, ages=longer, dilutions=[*entry.dilutions, StatedDilution(9_000, "paper")]),
        edition=before.edition,
    )
    assert (changed.version, changed.edition, changed.confirmation is not None) == (1, 2, True)
    with pytest.raises(EntriesMoved):
        service.change_product(lab.act("technician"), product_id=product_id, sheet=entry, edition=1)


def test_two_people_changing_one_product_do_not_overwrite_each_other(lab: SmallLab, client_as):
    address = f"/store/products/{lab.ids['product stop']}/change"
    one, other = client_as("technician"), client_as("manager")
    slow = hidden(source(one.get(address)))
    send(other, address, product_fields(name="Acetic stop concentrate", density="1.06"))
    answer = one.post(address, data=slow | product_fields(name="Acetic stop concentrate", density="1.07"))
    assert answer.status_code == 422
    assert "Somebody changed these entries after you opened the page" in source(answer)
    assert the_product("Acetic stop concentrate").density_mg_per_ml == 1_060


@pytest.mark.sqlite_only
def test_a_liquid_with_bottles_cannot_become_a_powder(lab: SmallLab, client_as):
    lab.add_bottle(SolutionKind.STOP)
    address = f"/store/products/{lab.ids['product stop']}/change"
    answer = send(client_as("technician"), address, product_fields(name="Acetic stop concentrate", powder="97 g"))
    assert answer.status_code == 422
    assert "register the powder or the liquid as another product" in source(answer)


@pytest.mark.sqlite_only
@pytest.mark.parametrize("role", ["member", "instructor"])
def test_only_those_who_keep_the_store_or_confirm_may_add_or_change(lab: SmallLab, client_as, role: str):
    client = client_as(role)
    for address in (ADD, f"/store/products/{lab.ids['product stop']}/change", "/store/bottles/receive"):
        assert client.get(address).status_code == 403
