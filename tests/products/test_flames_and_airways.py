"""What burns and can catch fire: told where protection is told, on mixing page, plan, sheet and label."""

import pytest

from labsys.chemistry.care import SolutionKind
from labsys.chemistry.sizes import Material
from labsys.hazards.protective import AIRWAYS, FIRE
from labsys.processes.service import StepEntry
from labsys.products.sheet import StatedDilution, StatedIngredient
from tests.baths.conftest import plan
from tests.planning.furnishing import add_film_process
from tests.planning.looking import address
from tests.support.lab import SmallLab
from tests.support.pages import hidden, pdf_text, source, text

pytestmark = pytest.mark.sqlite_only

# CLP Annex VI, 607-002-00-6, from memory.
GLACIAL = StatedIngredient("acetic acid", "64-19-7", 990_000, 1_000_000, "Flam. Liq. 3 H226; Skin Corr. 1A H314")
EXTRACTION = "Extraction running, no flame or spark near it"


@pytest.fixture
def glacial(lab: SmallLab, monkeypatch):
    """Glacial acetic acid in a bottle, and a process for film that stops with it."""
    monkeypatch.setattr("labsys.clock.now", lambda: lab.now)
    product = lab.add_product(
        SolutionKind.STOP,
        name="Glacial acetic acid",
        h_codes="H226 H314",
        ingredients=[GLACIAL],
        dilutions=[StatedDilution(59_000, "film"), StatedDilution(0, "stock")],
        capacities=[],
        ages=[],
        ph_limit_milli=None,
    )
    lab.ids["product stop"] = product.id
    lab.add_bottle(SolutionKind.STOP, amount_ul=2_000_000)
    return product


def test_the_mixing_page_of_glacial_acid_asks_for_extraction_and_no_flame(lab: SmallLab, glacial, client_as):
    technician = client_as("technician")
    page = text(technician.get(plan(lab, "stop", dilution=59_000)))
    put_on = page.partition("Put on, before the bottle is opened:")[2].partition("Water first")[0]
    assert f"{EXTRACTION} (its vapour can catch fire)" in put_on
    assert "Long butyl or neoprene gloves" in put_on
    for caution in (FIRE, AIRWAYS):
        assert caution in page
    product = text(technician.get(f"/store/products/{glacial.id}"))
    for words in (EXTRACTION, FIRE, AIRWAYS):
        assert words in product


def test_the_plan_and_its_sheet_carry_it(lab: SmallLab, glacial, client_as):
    steps = [StepEntry(name="Stop", product_id=glacial.id, water_parts_milli=59_000, seconds=30)]
    process = add_film_process(lab, name="Stop alone", material=Material.FILM, steps=steps)
    member = client_as("member")
    page = member.get(address(process))
    sent = {"process_id": process.id, "size": "120", "count": 5, **hidden(source(page))}
    sheet = pdf_text(member.post("/documents/session-sheet", data=sent, follow_redirects=True).data)
    for told in (text(page), sheet):
        for words in (EXTRACTION, FIRE, AIRWAYS):
            assert words in told


def test_the_label_of_the_undiluted_acid_carries_it(lab: SmallLab, glacial, client_as):
    bath = lab.mix(SolutionKind.STOP, water_parts=0, working_ml=1_000)
    label = text(client_as("technician").get(f"/documents/bath-label/{bath.id}"))
    assert f"{EXTRACTION}: its vapour can catch fire" in label


def test_an_oxidising_powder_is_told_as_a_solid(lab: SmallLab, client_as):
    """H272 stands for liquids and solids alike (CLP Annex I Tables 2.13.2 and 2.14.2, from memory)."""
    crystals = StatedIngredient("potassium permanganate", "7722-64-7", 1_000_000, 1_000_000, "Ox. Sol. 2 H272")
    product = lab.add_product(
        SolutionKind.DEVELOPER,
        name="Permanganate",
        h_codes="H272 H302 H410",
        density_mg_per_ml=None,
        powder_mg_per_l=4_000,
        ingredients=[crystals],
        dilutions=[],
        capacities=[],
        ages=[],
        ph_limit_milli=None,
    )
    page = text(client_as("technician").get(f"/store/products/{product.id}"))
    assert "H272 is taken as Ox. Sol. 2" in page
    assert "Ox. Liq." not in page
