"""What the published lists say, as people meet it: by nation, with edition and date, found by the usual short name."""

from collections.abc import Callable

import pytest
from flask.testing import FlaskClient

from labsys.chemistry.care import SolutionKind
from labsys.products.sheet import StatedDilution, StatedIngredient
from tests.support.lab import SmallLab
from tests.support.pages import fill_in, page_at, send, text

pytestmark = pytest.mark.sqlite_only

ClientAs = Callable[..., FlaskClient]
AGENT = "4-(N-ethyl-N-2-hydroxyethyl)-2-methylphenylenediamine sulfate"
BORIC = StatedIngredient("boric acid", "10043-35-3", 2_000, 2_000, "Repr. 1B H360FD")
BORAX = StatedIngredient("borax", "1303-96-4", 2_000, 2_000, "Repr. 1B H360FD")
ANHYDROUS = StatedIngredient("disodium tetraborate", "1330-43-4", 2_000, 2_000, "Repr. 1B H360FD")
METABORATE = StatedIngredient("sodium metaborate", "7775-19-1", 2_000, 2_000, "Repr. 1B H360FD")


def move_to(client_as: ClientAs, nation: str) -> None:
    """The lab manager chooses another nation on the page of the lab's settings."""
    assert fill_in(client_as("manager"), "/lab", nation=nation).status_code == 303


def read(client: FlaskClient, path: str) -> str:
    """The words of a page, without its marks."""
    return " ".join(text(client.get(path)).split())


@pytest.mark.parametrize(("typed", "name"), [("CD-4", AGENT), ("cd4", AGENT), ("hypo", "sodium thiosulfate")])
def test_a_substance_is_found_by_its_usual_short_name(member: FlaskClient, typed: str, name: str):
    page = page_at(member, f"/find?q={typed}")
    assert "Substances" in page
    assert name in page
    assert "/register/substances/" in page


def test_the_register_finds_a_product_by_the_short_name_of_what_is_in_it(lab: SmallLab, member: FlaskClient):
    agent = StatedIngredient(AGENT, "25646-77-9", 10_000, 30_000, "Acute Tox. 3 H301; Skin Sens. 1A H317")
    lab.add_product(SolutionKind.DEVELOPER, name="The colour developer", ingredients=[agent])
    assert "The colour developer" in page_at(member, "/register?q=CD-4")
    assert "The colour developer" not in page_at(member, "/register?q=CD-3")


def test_the_page_of_a_substance_shows_both_lists_and_which_holds(
    lab: SmallLab, member: FlaskClient, client_as: ClientAs
):
    def told() -> str:
        return read(member, "/register/substances/1303-96-4")

    assert "GB holds here" in told()
    for words in ("Note 11", "005-011-00-4, ATP20 (32023R1435), 2025-02-01", "005-011-01-1, 8th version, 2026-05-19"):
        assert words in told()
    assert "Kept above the list Eye Irrit. 2 H319" in told()
    move_to(client_as, "Northern Ireland")
    assert "EU holds here" in told()


@pytest.mark.parametrize(
    ("cas", "said"),
    [
        ("7758-98-7", ("029-004-00-0", "ICSC 0751 (October 2001)", "Acute Tox. 4 H302 *", "Eye Dam. 1 H318")),
        ("1330-43-4", ("005-011-00-4", "ICSC 1229 (April 2014)", "Repr. 1B H360FD", "STOT SE 3 H335")),
    ],
)
def test_the_anhydrous_salts_are_on_file_and_say_what_is_remembered(member: FlaskClient, cas: str, said: tuple[str]):
    told = read(member, f"/register/substances/{cas}")
    for words in (*said, "from memory"):
        assert words in told


def test_a_minimum_classification_and_what_stays_stricter_are_said(member: FlaskClient):
    told = read(member, "/register/substances/25646-77-9")
    assert "4-(N-ethyl-N-2-hydroxyethyl)-2-methylphenylenediamine sulfate 25646-77-9" in told
    assert "Acute Tox. 3 H301 *" in told
    assert "A minimum classification: where there are worse data, they count." in told
    assert "Skin Sens. 1A H317" in told
    assert "extreme sensitisers in animal tests" in told
    sulfide = read(member, "/register/substances/1313-82-2")
    assert "Kept above the list EUH031" in sulfide
    assert "not read in this list" in told


def test_a_limit_in_the_air_says_that_it_is_remembered_and_where_sources_disagree(member: FlaskClient):
    told = read(member, "/register/substances/7778-50-9")
    assert "EH40/2005, 4th edition, Table 1, 2020, remembered" in told
    assert "In doubt: sources disagree" in told


def test_values_filled_in_say_that_a_classification_is_a_minimum(lab: SmallLab, client_as: ClientAs):
    fields = {"ingredients-0-name": "metol", "ingredients-0-content": "1 %", "fill_in": "yes"}
    page = send(client_as("technician"), "/store/products/add", fields).get_data(as_text=True)
    assert "Acute Tox. 4 H302 is a minimum classification: where the SDS has worse, that counts." in page


@pytest.mark.parametrize("second", [BORAX, ANHYDROUS, METABORATE], ids=lambda each: each.name)
def test_boron_compounds_are_added_up_under_the_eu_and_not_under_gb(lab: SmallLab, client_as: ClientAs, second):
    """Note 11: 0.2 % + 0.2 % reach 0.3 % together (Regulations (EU) 2023/1434 and 1435); in GB each stays below."""
    product = lab.add_product(
        SolutionKind.FIXER,
        name="Hardener",
        ingredients=[BORIC, second],
        dilutions=[StatedDilution(0, "as it is")],
        density_mg_per_ml=1_000,
    )
    member, address = client_as("member"), f"/store/products/{product.id}"
    assert "damage fertility" not in page_at(member, address)
    move_to(client_as, "Northern Ireland")
    assert "May damage fertility" in page_at(member, address)
    assert "together (Note 11, EU)" in page_at(member, address)


def test_a_stream_may_be_of_any_code_of_the_governments_list(lab: SmallLab, client_as: ClientAs):
    page = page_at(client_as("technician"), "/waste/streams/add")
    assert "16 09 01* permanganates, for example potassium permanganate" in page
    assert "Not hazardous only where an assessment has ruled that out: a mirror entry" in page
    assert "Contains public sector information licensed under the Open Government Licence v3.0." in page


def test_a_product_says_what_kind_of_entry_its_waste_code_is(lab: SmallLab, member: FlaskClient):
    stop = lab.ids["product stop"] if "product stop" in lab.ids else lab.add_product(SolutionKind.STOP).id
    assert "ruled that out: a mirror entry" in page_at(member, f"/store/products/{stop}")
