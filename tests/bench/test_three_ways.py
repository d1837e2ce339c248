"""The plan, the bench and the command line give the same figures for the same mix: they ask the same functions."""

import json
import re

import pytest
from click.testing import CliRunner

from labsys.cli import main
from tests.bench.asking import answer_element, ask, numbers
from tests.planning.furnishing import add_film_process
from tests.support.pages import HTML, tree, words

pytestmark = pytest.mark.sqlite_only

TAPS = {"hot": "50", "cold": "8"}


@pytest.fixture
def planned(lab, member) -> str:
    """The developing step of a plan for a five-reel 2.5 L tank at 1+6, as words."""
    process = add_film_process(lab)
    address = {"process_id": process.id, "size": "120", "count": "5", "volume": "2500", **TAPS}
    page = tree(member.get("/plan", query_string=address).get_data(as_text=True))
    rows = [words(row) for row in page.iter(HTML + "tr")]
    return next(row for row in rows if "Develop" in row and "concentrate" in row)


@pytest.fixture
def json_of():
    def run(*arguments: str) -> dict[str, float]:
        result = CliRunner().invoke(main, [*arguments, "--json"])
        assert result.exit_code == 0, result.output
        return dict(json.loads(result.stdout))

    return run


def test_a_five_reel_tank_at_one_plus_six_is_mixed_alike(planned, member, json_of):
    """Common practice, no source: 357 mL of developer in 2.5 L."""
    printed = json_of("mix", "1+6", "2500ml")
    assert (round(printed["concentrate_ml"]), round(printed["water_ml"])) == (357, 2143)
    assert re.search(r"357 mL ?concentrate ?500 mL cylinder, mark 355 ?2143 mL ?water", planned)
    told = ask(member, "dilute", dilution="1+6", volume="2500 mL", kind="developer")
    assert told.index("357 mL concentrate") < told.index("2143 mL water")
    assert printed["cylinder"] == "500 mL"
    assert "500 mL cylinder to 355" in told
    assert f"± {100 * printed['relative_error']:.1f} % at worst" in told


def test_its_water_is_tempered_alike(planned, member, json_of):
    """Calculated: 2142.86 mL at 20 °C from 50 and 8 °C, with the concentrate at 20 °C, is 612.2 hot and 1530.6 cold."""
    printed = json_of(
        *("temper", "--target", "20", "--volume", "2500ml", "--hot", "50", "--cold", "8", "--concentrate", "1+6")
    )
    assert (printed["hot_ml"], printed["cold_ml"]) == (612.2, 1530.6)
    assert "612 mL hot and 1531 mL cold" in planned
    answer = answer_element(member, "temper", volume="2500ml", target="20", dilution="1+6", **TAPS)
    large = [numbers(words(one))[0] for one in answer.iter(HTML + "p") if one.get("class") == "amount"]
    assert large == [612, 1531, 357]


def test_water_alone_is_tempered_alike(member, json_of):
    """Calculated: 2500 mL at 20 °C from 50 and 8 °C is 2500 * 12/42 = 714.3 hot."""
    printed = json_of("temper", "--target", "20", "--volume", "2500ml", "--hot", "50", "--cold", "8")
    assert (printed["hot_ml"], printed["cold_ml"], printed["concentrate_ml"]) == (714.3, 1785.7, 0)
    told = ask(member, "temper", volume="2500ml", target="20", **TAPS)
    assert told.index("714 mL hot") < told.index("1786 mL cold")
