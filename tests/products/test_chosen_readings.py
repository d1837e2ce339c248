"""Where two careful people may differ: both readings are shown, one is chosen with a reason, and the label follows."""

from datetime import date
from typing import Any

import pytest

from labsys.chemistry.care import SolutionKind
from labsys.database import db
from labsys.documents.bath_label import BATH_LABEL, OfBath
from labsys.documents.occasion import occasion_of
from labsys.products import queries, service
from labsys.products.hazards import hazards_of
from labsys.products.models import HazardChoice, Product
from labsys.products.sheet import StatedDilution, StatedIngredient
from tests.support.lab import HYDROQUINONE, SOURCE, SmallLab, product_entry
from tests.support.pages import send, source

# 5 % hydroquinone at 1+3 by volume, density 1.2 g/mL, is 1.43 % by mass: over the 1 % of a phenol alone, under the
# 3 % of the sum (CLP Annex I Tables 3.3.3 and 3.3.4, from memory; calculated from the masses).
STRONG = {"dilutions": [StatedDilution(3_000, "high contrast"), StatedDilution(6_000, "film")]}


@pytest.fixture
def developer(lab: SmallLab) -> Product:
    made = lab.add_product(SolutionKind.DEVELOPER, name="Strong developer", ingredients=[HYDROQUINONE], **STRONG)
    lab.ids["product developer"] = made.id
    return made


def h_codes(product_id: int, *, water_parts: int = 3) -> tuple[str, ...]:
    db.session.expire_all()
    product = queries.product_or_raise(db.session, product_id)
    return hazards_of(product, water_parts_milli=water_parts * 1_000).h_codes


def choose(client: Any, product: Product, **typed: str) -> Any:
    fields = {"reading": "0-calculated", "reason": "The supplier tested this very dilution.", **typed}
    return send(client, f"/store/products/{product.id}/readings/3000", fields)


def test_the_choice_is_what_the_label_says_from_then_on(lab: SmallLab, client_as, developer: Product):
    assert "H318" not in h_codes(developer.id)
    bath = lab.mix(SolutionKind.DEVELOPER, water_parts=3, working_ml=1_000)
    assert any("serious eye irritation" in text for text in _label(lab, bath.id).statements)
    assert choose(client_as("safety adviser"), developer, reading="0-alternative").status_code == 303
    assert "H318" in h_codes(developer.id)
    assert any("serious eye damage" in text for text in _label(lab, bath.id).statements)
    page = source(client_as("member").get(f"/store/products/{developer.id}"))
    assert "chosen by Пётр Орлов" in page
    assert "The supplier tested this very dilution." in page
    assert choose(client_as("safety adviser"), developer).status_code == 303
    assert "H318" not in h_codes(developer.id)
    assert db.session.query(HazardChoice).count() == 2


def _label(lab: SmallLab, bath_id: int) -> Any:
    lab.session.expire_all()
    technician, address = lab.person("technician"), "https://lab.example.org"
    occasion = occasion_of(lab.session, person=technician, now=lab.now, public_url=address)
    return BATH_LABEL.collect(lab.session, OfBath(bath_id), occasion)


@pytest.mark.sqlite_only
def test_both_readings_stand_on_the_page_with_the_working_of_each_dilution(
    lab: SmallLab, client_as, developer: Product
):
    page = source(client_as("member").get(f"/store/products/{developer.id}"))
    for words in (
        "Hazards of 1+3, with the working",
        "Hazards of 1+6, with the working",
        "Calculated: an estimate; the SDS wins for what is in the bottle.",
        "Two careful people may differ here.",
        "The other reading: Eye Dam. 1 H318",
        "that may act below the summed limits",
        "the usual reading of the rule, until somebody chooses and says why",
    ):
        assert words in page
    assert "Choose which reading stands" not in page
    assert "Choose which reading stands" in source(client_as("safety adviser").get(f"/store/products/{developer.id}"))


@pytest.mark.sqlite_only
def test_another_version_or_dilution_is_another_question(lab: SmallLab, client_as, developer: Product):
    choose(client_as("safety adviser"), developer, reading="0-alternative")
    assert "H318" in h_codes(developer.id)
    entry = product_entry(
        SolutionKind.DEVELOPER, name="Strong developer", ingredients=[HYDROQUINONE], **STRONG, sds_date=date(2026, 2, 2)
    )
    lab.now = lab.now.replace(day=3)
    service.change_product(lab.act("technician"), product_id=developer.id, sheet=entry)
    assert "H318" not in h_codes(developer.id)


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("typed", "message"),
    [
        ({"reason": " "}, "Write down why this reading stands"),
        ({"reason": "x" * 301}, "Use at most 300 characters."),
        ({"reading": ""}, "Choose one of the readings"),
        ({"reading": "7-calculated"}, "Choose what is on the list"),
    ],
)
def test_a_choice_without_reading_or_reason_is_refused(
    lab: SmallLab, client_as, developer: Product, typed: dict[str, str], message: str
):
    answer = choose(client_as("safety adviser"), developer, **typed)
    assert (answer.status_code, message in source(answer)) == (422, True)
    assert db.session.query(HazardChoice).count() == 0


@pytest.mark.sqlite_only
def test_where_the_rules_agree_there_is_nothing_to_choose(lab: SmallLab, client_as, developer: Product):
    page = source(client_as("safety adviser").get(f"/store/products/{developer.id}/readings/6000"))
    assert "There is one reading only" in page


@pytest.mark.sqlite_only
def test_values_of_the_reference_list_are_marked_until_somebody_confirms(lab: SmallLab, client_as):
    client = client_as("technician")
    fields = {"ingredients-0-cas": "7757-83-7", "ingredients-0-content": "3-5 %", "fill_in": "yes"}
    page = source(send(client, "/store/products/add", fields))
    assert "To be confirmed against the SDS: as on the reference list, confidence" in page
    sulfite = StatedIngredient("sodium sulfite", "7757-83-7", 30_000, 50_000, "EUH031")
    waiting = lab.add_product(SolutionKind.FIXER, confirmed=False, name="Slow fixer", ingredients=[sulfite])
    assert "reference value" in source(client.get(f"/store/products/{waiting.id}"))
    done = lab.add_product(SolutionKind.FIXER, name="Quick fixer", ingredients=[sulfite])
    assert "reference value" not in source(client.get(f"/store/products/{done.id}"))
    assert SOURCE in source(client.get(f"/store/products/{done.id}"))
