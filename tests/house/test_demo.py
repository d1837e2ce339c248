"""The demonstration lab: played from an installed wheel and anew in a checkout, on days that are hard on calendars."""

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
    said: str


@pytest.fixture(scope="module")
def played(tmp_path_factory: pytest.TempPathFactory) -> Played:
    """The demonstration lab, played once for all tests here by a wheel in an empty environment; each works on a copy.

    Templates, styles, migrations and the demonstration travel in the wheel.
    """
    folder = tmp_path_factory.mktemp("played")

    def run(*command: object, **environment: str) -> str:
        result = subprocess.run(
            [str(part) for part in command],
            cwd=folder,
            env={**os.environ, **environment},
            capture_output=True,
            text=True,
            check=False,
        )
        assert result.returncode == 0, result.stdout + result.stderr
        return result.stdout

    run(sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", folder, ROOT)
    (wheel,) = folder.glob("labsys-*.whl")
    run(sys.executable, "-m", "venv", "--without-pip", folder / "venv")
    labsys = folder / "venv/bin/labsys"
    pip = (sys.executable, "-m", "pip", "--python", folder / "venv/bin/python", "--disable-pip-version-check")
    run(*pip, "install", "--quiet", "--require-hashes", "--requirement", ROOT / "requirements.lock")
    run(*pip, "install", "--quiet", "--no-deps", wheel)
    instance = {"LABSYS_INSTANCE": str(folder / "instance")}
    said = run(labsys, "demo", "--out", folder / "out", "--no-serve", "--now", AUTUMN, **instance)
    assert "The record holds" in run(labsys, "verify", **instance)
    return Played(folder / "instance", folder / "out", said)


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


def test_a_wheel_plays_it_once_writes_its_documents_and_tells_who_can_sign_in(run: Run, demo: Played):
    assert "Played the demonstration lab." in demo.said
    assert "joss@kelderwick.example" in demo.said
    written = sorted(path.name for path in demo.out.iterdir())
    assert (demo.out / "waste-log.pdf").read_bytes().startswith(b"%PDF-")
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


def _postings(address: str) -> list[tuple]:
    engine = create_engine(address)
    with engine.connect() as connection:
        joined = "postings JOIN movements ON movements.id = postings.movement_id"
        query = f"SELECT what, happened_at, vessel_id, account, amount FROM {joined} ORDER BY postings.id"
        rows = [tuple(row) for row in connection.execute(text(query))]
    engine.dispose()
    assert rows
    return rows
