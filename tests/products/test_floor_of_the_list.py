"""An ingredient entered milder than the reference list: its stricter classes stand on every page, paper and command."""

import json

import pytest
from click.testing import CliRunner

from labsys.chemistry.care import SolutionKind
from labsys.cli import main
from labsys.database import db
from labsys.products.models import Product
from labsys.products.sheet import StatedDilution, StatedIngredient
from tests.planning.furnishing import add_film_process, step_at_20
from tests.planning.looking import address
from tests.support.lab import SmallLab
from tests.support.pages import hidden, pdf_text, send, source, text
from tests.support.store import product_fields

pytestmark = pytest.mark.sqlite_only

CD3, METOL, SULFIDE = "25646-71-3", "55-55-0", "1313-82-2"
# EU Annex VI 612-129-00-5 (Skin Sens. 1, Acute Tox. 4 *) and the row kept above it: Skin Sens. 1A, Acute Tox. 3
MILD = "Acute Tox. 4 H302; Skin Sens. 1 H317; Aquatic Acute 1 H400; Aquatic Chronic 1 H410"
ALLERGY = "May cause an allergic skin reaction."


def words(told: str) -> str:
    return " ".join(told.split())


@pytest.mark.parametrize("classes", [MILD, "Acute Tox. 4 H302", "not classified"])
def test_a_colour_agent_entered_milder_is_worked_as_the_extreme_sensitiser_it_is(lab, client_as, monkeypatch, classes):
    """3 % at 1+9 is 0.3 %: Skin Sens. 1 classifies from 1 %, 1A from 0.1 % (CLP Annex I Table 3.4.5, from memory)."""
    monkeypatch.setattr("labsys.clock.now", lambda: lab.now)
    agent = StatedIngredient("the colour agent", CD3, 30_000, 30_000, classes)
    product = lab.add_product(
        SolutionKind.DEVELOPER,
        name="Colour developer",
        h_codes="not classified",
        density_mg_per_ml=998,
        ph_low_milli=10_000,
        ph_high_milli=10_000,
        ingredients=[agent],
        dilutions=[StatedDilution(9_000, "film")],
    )
    lab.ids["product developer"] = product.id
    bath = lab.mix(SolutionKind.DEVELOPER, water_parts=9, working_ml=1_000)
    step = step_at_20("Develop", product_id=product.id, water_parts_milli=9_000, seconds=195)
    planned = address(add_film_process(lab, steps=[step]))
    member = client_as("member")
    page = words(text(member.get(f"/store/products/{product.id}")))
    working = page.partition("The working, line by line")[2]
    assert "Skin Sens. 1A H317" in working
    assert "Kept stricter for protection:" in working
    assert "extreme sensitisers in animal tests" in working
    assert "The stricter is calculated with." in working
    technician = client_as("technician")
    for path in (f"/baths/{bath.id}", f"/documents/bath-label/{bath.id}"):
        assert ALLERGY in words(text(technician.get(path))), path
    sent = {"process_id": step_process(planned), "size": "120", "count": 2, **hidden(source(member.get(planned)))}
    sheet = pdf_text(member.post("/documents/session-sheet", data=sent, follow_redirects=True).data)
    assert "allerg" in sheet.partition("Develop")[2].casefold()


def step_process(planned: str) -> str:
    return planned.partition("process_id=")[2].partition("&")[0]


def composition(tmp_path, cas: str, percent: float, classes: str, *options: str) -> dict:
    file = tmp_path / "mixture.toml"
    file.write_text(
        f'nation = "EU"\nph = 9\n[[ingredient]]\ncas = "{cas}"\npercent = {percent}\nclasses = "{classes}"\n'
    )
    answer = CliRunner().invoke(main, ["hazards", str(file), "--json", *options])
    assert answer.exit_code == 0, answer.output
    return json.loads(answer.output)


@pytest.mark.parametrize(
    ("cas", "percent", "classes", "gives", "reason"),
    [
        (CD3, 0.3, "Skin Sens. 1 H317", "Skin Sens. 1A H317", "Kept stricter for protection: Acute Tox. 3 H301"),
        (METOL, 2, "not classified", "Skin Sens. 1 H317", "Entered below the published list: Acute Tox. 4 H302"),
        # EUH031 stands in no later edition: kept, with its source
        (
            SULFIDE,
            20,
            "Acute Tox. 3 H311; Acute Tox. 4 H302; Skin Corr. 1B H314",
            "Skin Corr. 1B H314",
            "EUH031 (EUH031",
        ),
    ],
)
def test_the_command_lets_the_stricter_stand_and_says_from_where(tmp_path, cas, percent, classes, gives, reason):
    told = composition(tmp_path, cas, percent, classes)
    assert gives in told["classes"]
    assert any(reason in line for line in told["reasons"]), told["reasons"]


def test_a_sheet_that_is_stricter_or_off_the_list_is_left_as_it_is(tmp_path):
    quinol = "Acute Tox. 3 H301; Eye Dam. 1 H318; Skin Sens. 1A H317; Muta. 2 H341; Carc. 2 H351; Aquatic Acute 1 H400"
    stricter = composition(tmp_path, "123-31-9", 4, quinol)
    assert "Skin Sens. 1A H317" in stricter["classes"]
    assert not any("Reference list" in line for line in stricter["reasons"])
    # no harmonised entry: the supplier of potassium bromide knows better than what many notify
    assert composition(tmp_path, "7758-02-3", 20, "not classified")["classes"] == []


def test_a_minimum_classification_is_marked_in_the_working_of_the_product_and_of_the_command(
    lab: SmallLab, client_as, tmp_path
):
    mark = (
        "metol: Acute Tox. 4 H302 *, STOT RE 2 H373 *. Where there are worse data, in the SDS or elsewhere, they count."
    )
    fields = product_fields() | {"name": "Metol liquid"}
    classes = "Acute Tox. 4 H302; Skin Sens. 1 H317; STOT RE 2 H373; Aquatic Acute 1 H400; Aquatic Chronic 1 H410"
    row = {"cas": METOL, "name": "metol", "content": "2 %", "classification": classes}
    fields |= {f"ingredients-0-{name}": told for name, told in row.items()}
    assert send(client_as("technician"), "/store/products/add", fields).status_code == 303
    product = db.session.query(Product).filter_by(name="Metol liquid").one()
    page = words(text(client_as("member").get(f"/store/products/{product.id}")))
    as_supplied, _, diluted = page.partition("The working, line by line")
    for working in (as_supplied, diluted):
        assert mark in working
    told = composition(tmp_path, METOL, 2, classes)
    assert any(mark.partition(": ")[2] in line for line in told["reasons"])
