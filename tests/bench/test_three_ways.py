"""The plan, the bench and the command line give the same figures for the same mix: they ask the same functions."""

import json
import re

import pytest
import sqlalchemy
from click.testing import CliRunner

from labsys.bench.cylinders import NOT_LOOKED_UP, OWN_CYLINDERS
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.measuring import CylinderClass
from labsys.cli import main
from labsys.config import load_config
from tests.bench.asking import amounts, answer_element, ask, numbers
from tests.bench.test_views import KNOWN
from tests.planning.furnishing import add_film_process
from tests.support.pages import HTML, tree, words

pytestmark = pytest.mark.sqlite_only

TAPS = {"hot": "50", "cold": "8"}
TEMPER = ("--target", "20", "--volume", "2500ml", "--hot", "50", "--cold", "8")


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


COMMAND = [(key, typed) for key, typed, *_ in KNOWN]


@pytest.mark.parametrize(("key", "typed"), COMMAND)
def test_every_sum_of_the_page_is_the_same_on_the_command_line(member, json_of, key, typed):
    printed = json_of("bench", key, *(f"{name}={value}" for name, value in typed.items()))
    assert [figure["amount"] for figure in printed["figures"]] == amounts(member, key, **typed)


def test_mix_in_words_says_what_the_page_says(member):
    result = CliRunner().invoke(main, ["mix", "1+6", "2500ml"])
    assert result.output.startswith("357 mL concentrate Fill the 500 mL cylinder to 355 mL.\n2143 mL water Fill")
    formulas = [line for line in result.output.splitlines() if line.startswith(("Concentrate =", "Water ="))]
    told = ask(member, "dilute", dilution="1+6", volume="2500ml", kind="developer")
    assert all(line in told for line in formulas)
    assert len(formulas) == 2
    assert "No measuring cylinders are entered" not in result.output
    assert NOT_LOOKED_UP in result.output


@pytest.fixture
def in_the_lab(lab, tmp_path, monkeypatch):
    """Commands run in the instance of the lab, which owns one cylinder for fixer that nobody else would choose."""
    file = lab.session.execute(sqlalchemy.text("PRAGMA database_list")).one()[2]
    instance = {"LABSYS_INSTANCE": str(tmp_path / "lab"), "LABSYS_DATABASE_URL": f"sqlite:///{file}"}
    load_config(instance, create=True)
    for name, value in instance.items():
        monkeypatch.setenv(name, value)
    lab.add_cylinder(300, 50_000, CylinderClass.UNMARKED, SolutionKind.FIXER)


IN_THE_LAB = [
    ("dilute", {"dilution": "1+4", "volume": "1500 mL", "kind": "fixer"}),
    ("dilute", {"dilution": "1+49", "volume": "600 mL", "kind": "developer"}),
    ("temper", {"volume": "2500 mL", "target": "20", **TAPS}),
]


@pytest.mark.parametrize(("key", "typed"), IN_THE_LAB)
def test_in_a_lab_the_command_measures_with_its_cylinders_and_says_the_same_as_the_page(in_the_lab, member, key, typed):
    told = ask(member, key, **typed)
    result = CliRunner().invoke(main, ["bench", key, *(f"{name}={value}" for name, value in typed.items())])
    lines = [line for line in result.stdout.splitlines() if not line.startswith("Source: ")]
    assert OWN_CYLINDERS in lines
    assert len(lines) > 4
    assert [line for line in lines if line not in told] == []


def test_in_a_lab_the_short_commands_measure_with_its_cylinders_too(in_the_lab, member, json_of):
    without_source = [
        line
        for arguments in (["mix", "1+49", "600ml"], ["temper", *TEMPER])
        for line in CliRunner().invoke(main, arguments).stdout.splitlines()
        if not line.startswith("Source: ")
    ]
    mixed = ask(member, "dilute", dilution="1+49", volume="600ml", kind="developer")
    tempered = ask(member, "temper", volume="2500ml", target="20", **TAPS)
    assert [line for line in without_source if line not in mixed + tempered] == []
    assert json_of("mix", "1+49", "600ml")["cylinders"] == OWN_CYLINDERS
    assert json_of("temper", *TEMPER)["cylinders"] == OWN_CYLINDERS
    off = json_of("mix", "1+49", "600ml")["relative_error"]
    assert f"Strength ± {100 * off:.1f} % at worst" in mixed


def test_a_lab_that_cannot_be_read_is_none_to_ask(monkeypatch, tmp_path):
    instance = {"LABSYS_INSTANCE": str(tmp_path / "empty")}
    load_config(instance, create=True)
    monkeypatch.setenv("LABSYS_INSTANCE", instance["LABSYS_INSTANCE"])
    result = CliRunner().invoke(main, ["mix", "1+6", "2500ml"])
    assert result.exit_code == 0
    assert NOT_LOOKED_UP in result.output
    assert [file.name for file in (tmp_path / "empty").iterdir()] == ["secret_key"]  # nothing was made by asking


def test_too_little_to_measure_is_worked_out_on_both(member, json_of):
    """Calculated: 100 / 1000 = 0.1 mL."""
    assert json_of("mix", "1+999", "100 mL")["concentrate_ml"] == 0.1
    assert amounts(member, "dilute", dilution="1+999", volume="100 mL")[0] == "0.1 mL"


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["lottery", "a=1"], "is no question of the bench"),
        (["dilute", "1+6"], "write it as FIELD=VALUE"),
        (["dilute", "soup=1"], "There is no soup here"),
        (["dilute", "dilution=1:4", "volume=1 L"], "has two meanings"),
        (["temper", "volume=1 L", "target=68", "hot=50", "cold=8"], "68 °F is 20 °C"),
    ],
)
def test_what_cannot_be_asked_is_said_in_one_line(arguments, says):
    result = CliRunner().invoke(main, ["bench", *arguments])
    assert result.exit_code == 2
    assert says in result.stderr
    assert result.stderr.count("\n") == 1


def test_the_questions_and_their_fields_are_listed():
    assert "wash: " in CliRunner().invoke(main, ["bench"]).output
    assert "dilution: Dilution" in CliRunner().invoke(main, ["bench", "dilute"]).output
