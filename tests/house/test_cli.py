"""Commands as a stranger types them."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from sqlalchemy import create_engine, text

from labsys.cli import main
from labsys.config import load_config

LAB = (
    *("--name", "Alder Street Darkroom", "--prefix", "AS", "--timezone", "Europe/London", "--nation", "England"),
    *("--manager-name", "Μαρία Ιωάννου", "--manager-email", "manager@example.org"),
)


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch):
    """Run a command in an instance of its own."""
    monkeypatch.setenv("LABSYS_INSTANCE", str(tmp_path / "instance"))

    def command(*arguments: str) -> Result:
        return CliRunner().invoke(main, arguments)

    return command


@pytest.mark.parametrize(
    "command",
    [
        "",
        "init",
        "serve",
        "verify",
        "bench",
        "mix",
        "temper",
        "hazards",
        "demo",
        "migrate",
        "backup",
        "restore",
        "send-mail",
        "run-jobs",
    ],
)
def test_every_command_explains_itself(run, command: str):
    result = run(*command.split(), "--help")
    assert result.exit_code == 0
    assert len(result.output) > 100


# Common practice, no source: five rolls of 120 at 500 mL a roll are 2.5 L.
@pytest.mark.parametrize(
    ("dilution", "volume", "concentrate_ml", "water_ml", "source"),
    [
        ("1+6", "2500ml", 357.143, 2142.857, "common practice, no source: 357 mL in 2.5 L"),
        ("1+4", "2.5 L", 500.0, 2000.0, "common practice, no source: 500 mL in 2.5 L"),
        ("1+19", "1 l", 50.0, 950.0, "common practice, no source: 50 mL per litre"),
        ("1+19", "2500 mL", 125.0, 2375.0, "common practice, no source: 125 mL in 2.5 L"),
        ("10 ml/L", "2.5L", 25.0, 2475.0, "common practice, no source: 25 mL wetting agent in 2.5 L"),
        ("1+4", "25 L", 5000.0, 20000.0, "calculated: 25 L tank, 5 L and 20 L"),
    ],
)
def test_mix_works_out_what_to_measure(run, dilution, volume, concentrate_ml, water_ml, source):
    result = run("mix", dilution, volume, "--json")
    assert result.exit_code == 0, result.output
    mixed = json.loads(result.output)
    assert set(mixed) == {"concentrate_ml", "water_ml", "working_ml", "cylinder", "relative_error"}
    assert mixed["concentrate_ml"] == pytest.approx(concentrate_ml, abs=0.0006)
    assert mixed["water_ml"] == pytest.approx(water_ml, abs=0.0006)
    assert mixed["working_ml"] == pytest.approx(concentrate_ml + water_ml, abs=0.002)


@pytest.mark.parametrize(
    ("dilution", "volume", "says"),
    [
        ("1:4", "2.5 L", "1+4"),
        ("1+6", "2500", "Write the unit"),
        ("1+6", "-2 L", "above zero"),
        ("1+6", "nan L", "Write a number"),
        ("1+6", "2500 pints", "US or imperial?"),
        ("1+100000", "1 L", "1000"),
        ("one to six", "1 L", "one to six"),
    ],
)
def test_mix_says_in_one_line_what_it_cannot_read(run, dilution, volume, says):
    result = run("mix", "--json", "--", dilution, volume)
    assert result.exit_code == 2
    assert says in result.stderr
    assert result.stderr.count("\n") == 1
    assert result.stdout == ""


@pytest.mark.parametrize(
    ("target", "hot", "cold", "hot_ml", "cold_ml", "source"),
    [
        ("20", "50", "8", 714.3, 1785.7, "calculated from 2500 * 12/42"),
        ("20", "50", "20", 0, 2500, "calculated: the cold tap is at the target"),
        ("20,5", "60", "15", 305.6, 2194.4, "calculated from 2500 * 5.5/45"),
    ],
)
def test_temper_works_out_hot_and_cold_water(run, target, hot, cold, hot_ml, cold_ml, source):
    result = run("temper", "--target", target, "--volume", "2500ml", "--hot", hot, "--cold", cold, "--json")
    assert result.exit_code == 0, result.output
    tempered = json.loads(result.output)
    assert (tempered["hot_ml"], tempered["cold_ml"]) == (hot_ml, cold_ml), source
    assert set(tempered) == {
        *("hot_ml", "cold_ml", "concentrate_ml", "water_ml", "water_celsius"),
        *("target_celsius", "error_celsius", "warnings"),
    }


def test_temper_in_words_counts_the_concentrate_in_and_doubts_winter_water(run):
    """Calculated: 2142.86 mL of water at 20 °C from 50 and 4 °C."""
    taps = ("--hot", "50", "--cold", "4")
    result = run("temper", "--target", "20", "--volume", "2500ml", *taps, "--concentrate", "1+6")
    assert "745 mL hot, at 50 °C\n1398 mL cold, at 4 °C\n357 mL concentrate, at 20 °C" in result.output
    assert "Mains water at 4 °C" in result.output


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"--target": "68"}, "looks like °F: 68 °F is 20 °C"),
        ({"--hot": "122"}, "looks like °F: 122 °F is 50 °C"),
        ({"--target": "nan"}, "--target: “nan” is not a number"),
        ({"--target": "inf"}, "is not a number"),
        ({"--target": "55"}, "from 8.0 to 50.0 °C"),
        ({"--target": "7"}, "from 8.0 to 50.0 °C"),
        ({"--hot": "8"}, "Hot tap is 8 °C; it must be above 8 °C"),
        ({"--cold": "-3"}, "Cold tap is -3 °C"),
        ({"--volume": "2500"}, "Write the unit"),
        ({"--volume": "0 ml"}, "above zero"),
        ({"--concentrate": "1:6"}, "1+6"),
        ({"--concentrate": "1+100000"}, "1000"),
        ({"--room": "70"}, "70 °F is 21.1 °C"),
    ],
)
def test_temper_says_in_one_line_what_it_cannot_work_out(run, changed, says):
    options = {"--target": "20", "--volume": "2500ml", "--hot": "50", "--cold": "8"} | changed
    result = run("temper", "--json", *(word for option in options.items() for word in option))
    assert result.exit_code == 2
    assert says in result.stderr
    assert result.stderr.count("\n") == 1
    assert result.stdout == ""


def test_init_makes_a_lab_and_a_link_for_its_manager(run, tmp_path: Path):
    result = run("init", *LAB)
    assert result.exit_code == 0, result.output
    assert "http://127.0.0.1:8000/welcome/" in result.output
    assert run("verify").exit_code == 0
    again = run("init", *LAB)
    assert again.exit_code == 1
    assert "holds a lab already" in again.stderr


def test_init_takes_every_answer_as_an_option(run, tmp_path: Path):
    told = {
        "--nation": "Wales",
        "--address": "3 Alder Street",
        "--paper": "letter",
        "--emergency": "Front desk 01632 960000",
        "--public-url": "https://lab.example.org/",
    }
    result = run("init", *LAB, *(word for option in told.items() for word in option))
    assert result.exit_code == 0, result.output
    assert "https://lab.example.org/welcome/" in result.output
    assert "If people will not reach the lab at https://lab.example.org: set public_url in" in result.output
    assert load_config().public_url == "https://lab.example.org"
    engine = create_engine(load_config().database_url)
    with engine.connect() as connection:
        row = connection.execute(text("SELECT nation, address, paper_size, emergency, timezone FROM lab")).one()
    engine.dispose()
    assert tuple(row) == ("Wales", "3 Alder Street", "Letter", "Front desk 01632 960000", "Europe/London")


def test_init_names_the_options_that_are_missing_where_nobody_can_be_asked(run, tmp_path: Path):
    result = run("init", "--name", "Alder Street Darkroom", "--manager-name", "Aino")
    assert result.exit_code == 2
    assert "Give --prefix, --manager-email as well" in result.stderr
    assert not (tmp_path / "instance").exists()


@pytest.mark.skipif(sys.platform == "win32", reason="no terminal of this kind there")
def test_init_at_a_terminal_asks_for_what_is_missing_and_nothing_else(run, tmp_path: Path):
    ours, theirs = os.openpty()
    command = [sys.executable, "-c", "from labsys.cli import main; main()", "init", *LAB[:2], *LAB[8:]]
    os.write(ours, b"AS\n")
    begun = subprocess.run(command, stdin=theirs, capture_output=True, text=True, check=False)
    os.close(theirs)
    os.close(ours)
    assert begun.returncode == 0, begun.stderr
    assert begun.stdout.startswith("Prefix of its codes, 2 to 4 capital letters: Alder Street Darkroom is set up")


def test_a_public_address_that_contradicts_the_settings_is_refused(run, monkeypatch: pytest.MonkeyPatch):
    monkeypatch.setenv("LABSYS_PUBLIC_URL", "https://one.example.org")
    result = run("init", *LAB, "--public-url", "https://two.example.org")
    assert result.exit_code == 2
    assert "the settings say https://one.example.org" in result.stderr
    assert run("init", *LAB, "--public-url", "https://one.example.org").exit_code == 0


def test_a_public_address_is_added_to_the_settings_that_stand_there(run, tmp_path: Path):
    (tmp_path / "instance").mkdir()
    settings = tmp_path / "instance" / "labsys.toml"
    settings.write_text('log_level = "ERROR"')
    assert run("init", *LAB, "--public-url", "https://lab.example.org").exit_code == 0
    assert settings.read_text() == 'log_level = "ERROR"\npublic_url = "https://lab.example.org"\n'
    assert run("init", *LAB, "--public-url", "lab").exit_code == 2


@pytest.mark.parametrize(
    ("option", "value", "says"),
    [
        ("--name", " ", "Give the lab its name"),
        ("--prefix", "k1", "two to four capital letters"),
        ("--timezone", "Mars/Base", "not a time zone"),
        ("--nation", "Ontario", "Known: England, Wales, Scotland, Northern Ireland. For a lab elsewhere: another"),
        ("--manager-email", "maria at example", "not an e-mail address"),
        ("--manager-name", " ", "Enter the person's name"),
    ],
)
def test_init_refuses_what_cannot_be_used(run, option, value, says):
    arguments = list(LAB)
    arguments[arguments.index(option) + 1] = value
    result = run("init", *arguments)
    assert result.exit_code == 1
    assert says in result.stderr


def test_verify_names_the_first_broken_entry_and_knows_a_head_on_paper(run):
    run("init", *LAB)
    whole = run("verify")
    head = whole.output.split("head ")[1].split(".")[0]
    assert run("verify", "--head", head).exit_code == 0
    assert run("verify", "--head", head[:-1] + ("0" if head[-1] != "0" else "1")).exit_code == 1
    assert run("verify", "--head", "99:aaaaaaaa").exit_code == 1
    assert run("verify", "--head", "paper").exit_code == 2
    engine = create_engine(load_config().database_url)
    with engine.begin() as connection:
        connection.execute(text("DROP TRIGGER record_entries_no_update"))
        connection.execute(text("UPDATE record_entries SET payload = '{}' WHERE number = 1"))
    engine.dispose()
    broken = run("verify")
    assert broken.exit_code == 1
    assert "Entry 1: its content was altered." in broken.stderr


def test_demo_refuses_an_instance_that_holds_a_real_lab(run):
    run("init", *LAB)
    result = run("demo", "--no-serve")
    assert result.exit_code == 1
    assert "holds a real lab" in result.stderr
    assert run("verify").exit_code == 0


def test_a_command_without_an_instance_says_what_to_do(run):
    result = run("verify")
    assert result.exit_code == 2
    assert "labsys init" in result.stderr
