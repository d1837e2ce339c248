"""The ways of working of the demonstration: each has a plan, and a session sheet of one page."""

from dataclasses import replace

import pytest

from labsys.chemistry.sizes import Material, size_of
from labsys.demo.fixtures import read_fixtures
from labsys.demo.furnishing import enter_all
from labsys.demo.play import Play
from labsys.documents.service import issue_document
from labsys.documents.session_sheet import SESSION_SHEET
from labsys.planning.asked import AskedPlan
from labsys.planning.facts import Conditions
from labsys.processes import queries as processes
from labsys.web import asset_root
from tests.documents.issuing import PUBLIC
from tests.support.lab import START, SmallLab

pytestmark = pytest.mark.sqlite_only
FIXTURES = read_fixtures(asset_root() / "demo_fixtures")
NAMES = [process["name"] for file in ("processes", "ways") for process in FIXTURES.told[file]["process"]]
EVERYTHING_TO_SAY = Conditions(developer_celsius=22, room_celsius=18, cold_celsius=6, hot_celsius=55)


@pytest.fixture
def ways(lab: SmallLab) -> SmallLab:
    """The demonstration's store, processes, tanks and trays in the small lab, without a single bath."""
    lab.begin(furnish)
    return lab


def furnish(lab: SmallLab) -> None:
    play = Play(lab.session, FIXTURES, now=START, password="", cost=(1, 8, 1))
    play.ids = {"joss": lab.ids["technician"], "hana": lab.ids["technician"], "odile": lab.ids["safety adviser"]}
    play.at = lab.now
    for file in ("products", "processes", "ways"):
        enter_all(play, file)
    lab.now = play.at


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("conditions", [Conditions(), EVERYTHING_TO_SAY], ids=["nothing measured", "all measured"])
def test_every_way_of_working_has_a_plan_and_a_sheet_of_one_page(
    ways, client_as, monkeypatch, read_back, name, conditions
):
    monkeypatch.setattr("labsys.clock.now", lambda: ways.now)
    process = processes.process_by_name(ways.session, name)
    is_film = process.material is Material.FILM
    day = replace(conditions, developer_celsius=38.4) if "38 °C" in name and conditions.room_celsius else conditions
    asked = AskedPlan(process.id, size_of(key="135-36" if is_film else "8x10 in"), 5, conditions=day)
    page = client_as("member").get("/plan", query_string=dict(asked.address))
    assert page.status_code == 200
    assert "Issue the session sheet as PDF" in page.get_data(as_text=True)
    sheet = issue_document(ways.act("member"), SESSION_SHEET, asked, public_url=PUBLIC)
    assert len(read_back(sheet.content).pages) == 1


def test_dangers_of_the_air_stand_in_words_on_the_sheets_of_toning(ways, read_back):
    for name, told in (
        ("Selenium toning of prints", "Without extraction, not at all."),
        ("Sulfide toning of prints", "Only under the extraction hood or outdoors"),
    ):
        process = processes.process_by_name(ways.session, name)
        asked = AskedPlan(process.id, size_of(key="8x10 in"), 5)
        sheet = issue_document(ways.act("member"), SESSION_SHEET, asked, public_url=PUBLIC)
        assert told in read_back(sheet.content).text
