"""Commands as a stranger types them."""

import json
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
    "command", ["", "init", "serve", "verify", "mix", "demo", "migrate", "backup", "restore", "send-mail"]
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
        ("1+4", "25 L", 5000.0, 20000.0, "an industrial radiography guide: 25 L tank, 5 L and 20 L"),
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
        ("1+6", "2500 pints", "is not a unit used here"),
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


def test_init_makes_a_lab_and_a_link_for_its_manager(run, tmp_path: Path):
    result = run("init", *LAB)
    assert result.exit_code == 0, result.output
    assert "http://127.0.0.1:8000/welcome/" in result.output
    assert run("verify").exit_code == 0
    again = run("init", *LAB)
    assert again.exit_code == 1
    assert "holds a lab already" in again.stderr


@pytest.mark.parametrize(
    ("option", "value", "says"),
    [("--prefix", "k1", "two to four capital letters"), ("--timezone", "Mars/Base", "not a time zone")],
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
        connection.execute(text("UPDATE record_entries SET payload = '{}' WHERE number = 2"))
    engine.dispose()
    broken = run("verify")
    assert broken.exit_code == 1
    assert "Entry 2: its content was altered." in broken.stderr


def test_verify_finds_a_level_that_was_changed_behind_the_ledger(run):
    run("demo", "--no-serve", "--now", "2026-05-14T15:00")
    engine = create_engine(load_config().database_url)
    with engine.begin() as connection:
        vessel = connection.execute(text("SELECT min(id) FROM vessels WHERE level > 0")).scalar_one()
        connection.execute(text("UPDATE vessels SET level = level - 1 WHERE id = :id"), {"id": vessel})
    engine.dispose()
    broken = run("verify")
    assert broken.exit_code == 1
    assert f"level of vessel {vessel} " in broken.stderr


def test_demo_refuses_an_instance_that_holds_a_real_lab(run):
    run("init", *LAB)
    result = run("demo", "--no-serve")
    assert result.exit_code == 1
    assert "holds a real lab" in result.stderr
    assert run("verify").exit_code == 0


def test_demo_plays_once_writes_its_documents_and_tells_who_can_sign_in(run, tmp_path: Path):
    out = tmp_path / "out"
    first = run("demo", "--out", str(out), "--no-serve", "--now", "2026-05-14T15:00")
    assert first.exit_code == 0, first.output
    assert "Played" in first.output
    assert "joss@kelderwick.example" in first.output
    written = sorted(path.name for path in out.iterdir())
    assert "waste-log.pdf" in written
    assert any(name.startswith("label-KD-T") for name in written)
    second = run("demo", "--no-serve")
    assert "Found" in second.output
    assert run("verify").exit_code == 0


def test_the_same_instant_plays_the_same_story(run, tmp_path: Path):
    stories = []
    for _ in range(2):
        run("demo", "--fresh", "--no-serve", "--now", "2026-05-14T15:00")
        engine = create_engine(load_config().database_url)
        with engine.connect() as connection:
            joined = "postings JOIN movements ON movements.id = postings.movement_id"
            query = f"SELECT what, happened_at, vessel_id, account, amount FROM {joined} ORDER BY postings.id"
            stories.append(connection.execute(text(query)).all())
        engine.dispose()
    assert stories[0] == stories[1]


@pytest.mark.parametrize("now", ["2026-03-29T12:00", "2026-10-25T12:00", "2026-01-01T00:30"])
def test_the_demo_plays_across_clock_changes_and_new_year(run, now: str):
    assert run("demo", "--no-serve", "--now", now).exit_code == 0
    assert run("verify").exit_code == 0


def test_a_command_without_an_instance_says_what_to_do(run):
    result = run("verify")
    assert result.exit_code == 2
    assert "labsys init" in result.stderr
