"""The demonstration lab: played in a checkout and from an installed wheel, on the days that are hard on calendars."""

import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from sqlalchemy import create_engine, text

from labsys.cli import main
from labsys.config import load_config

ROOT = Path(__file__).parents[2]
AUTUMN = "2026-10-25T12:00"  # the day on which the clocks go back
SPRING = "2026-03-29T12:00"  # and the one on which they go forward, three months after a new year

pytestmark = pytest.mark.slow

Run = Callable[..., Result]


@dataclass(frozen=True)
class Played:
    """A demonstration lab as it was first played: its folder, what was written, and what was said."""

    instance: Path
    out: Path
    result: Result


@pytest.fixture(scope="module")
def played(tmp_path_factory: pytest.TempPathFactory) -> Played:
    """The demonstration lab, played once for all tests here; each works on a copy."""
    folder = tmp_path_factory.mktemp("played")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("LABSYS_INSTANCE", str(folder / "instance"))
        arguments = ("demo", "--out", str(folder / "out"), "--no-serve", "--now", AUTUMN)
        result = CliRunner().invoke(main, arguments)
    return Played(folder / "instance", folder / "out", result)


@pytest.fixture
def demo(played: Played, tmp_path: Path) -> Played:
    """A copy of the demonstration lab where `run` finds it."""
    shutil.copytree(played.instance, tmp_path / "instance")
    return played


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """Run a command in an instance of its own."""
    monkeypatch.setenv("LABSYS_INSTANCE", str(tmp_path / "instance"))
    return lambda *arguments: CliRunner().invoke(main, arguments)


def test_demo_plays_once_writes_its_documents_and_tells_who_can_sign_in(run: Run, demo: Played):
    assert demo.result.exit_code == 0, demo.result.output
    assert "Played" in demo.result.output
    assert "joss@kelderwick.example" in demo.result.output
    written = sorted(path.name for path in demo.out.iterdir())
    assert "waste-log.pdf" in written
    assert any(name.startswith("label-KD-T") for name in written)
    second = run("demo", "--no-serve")
    assert "Found" in second.output
    assert run("verify").exit_code == 0


def test_verify_finds_a_level_that_was_changed_behind_the_ledger(run: Run, demo: Played):
    engine = create_engine(load_config().database_url)
    with engine.begin() as connection:
        vessel = connection.execute(text("SELECT min(id) FROM vessels WHERE level > 0")).scalar_one()
        connection.execute(text("UPDATE vessels SET level = level - 1 WHERE id = :id"), {"id": vessel})
    engine.dispose()
    broken = run("verify")
    assert broken.exit_code == 1
    assert f"level of vessel {vessel} " in broken.stderr


def test_the_demo_plays_anew_over_a_new_year_to_the_day_the_clocks_go_forward(run: Run, demo: Played):
    before = _postings(load_config().database_url)
    again = run("demo", "--fresh", "--no-serve", "--now", SPRING)
    assert again.exit_code == 0
    assert "Played" in again.output
    assert run("verify").exit_code == 0
    assert _postings(load_config().database_url) != before


def test_a_wheel_installed_into_an_empty_environment_plays_the_same_story(played: Played, tmp_path: Path):
    """Templates, styles, migrations and the demo travel in the wheel; the same instant plays the same story there."""

    def run(*command: object, **environment: str) -> str:
        result = subprocess.run(
            [str(part) for part in command],
            cwd=tmp_path,
            env={**os.environ, **environment},
            capture_output=True,
            text=True,
            check=False,
        )
        assert result.returncode == 0, result.stdout + result.stderr
        return result.stdout

    run(sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", tmp_path, ROOT)
    (wheel,) = tmp_path.glob("labsys-*.whl")
    run(sys.executable, "-m", "venv", "--without-pip", tmp_path / "venv")
    labsys = tmp_path / "venv/bin/labsys"
    pip = (sys.executable, "-m", "pip", "--python", tmp_path / "venv/bin/python", "--disable-pip-version-check")
    run(*pip, "install", "--quiet", "--require-hashes", "--requirement", ROOT / "requirements.lock")
    run(*pip, "install", "--quiet", "--no-deps", wheel)
    instance = {"LABSYS_INSTANCE": str(tmp_path / "instance")}
    told = run(labsys, "demo", "--out", tmp_path / "out", "--no-serve", "--now", AUTUMN, **instance)
    assert "Played the demonstration lab." in told
    assert (tmp_path / "out" / "waste-log.pdf").read_bytes().startswith(b"%PDF-")
    assert "The record holds" in run(labsys, "verify", **instance)
    (database,) = (tmp_path / "instance").glob("*.sqlite3")
    (ours,) = played.instance.glob("*.sqlite3")
    assert _postings(f"sqlite:///{database}") == _postings(f"sqlite:///{ours}")


def _postings(address: str) -> list[tuple]:
    engine = create_engine(address)
    with engine.connect() as connection:
        joined = "postings JOIN movements ON movements.id = postings.movement_id"
        query = f"SELECT what, happened_at, vessel_id, account, amount FROM {joined} ORDER BY postings.id"
        rows = [tuple(row) for row in connection.execute(text(query))]
    engine.dispose()
    assert rows
    return rows
