"""An installed copy works like a checkout: templates, styles, migrations and the demo travel in the wheel."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.mark.slow
def test_a_wheel_installed_into_an_empty_environment_plays_the_demo(tmp_path: Path):
    def run(*command: object, **environment: str) -> str:
        result = subprocess.run(
            [str(part) for part in command],
            cwd=tmp_path,
            env={**os.environ, **environment},
            capture_output=True,
            text=True,
            timeout=300,
            check=False,
        )
        assert result.returncode == 0, result.stdout + result.stderr
        return result.stdout

    run(sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", tmp_path, ROOT)
    (wheel,) = tmp_path.glob("labsys-*.whl")
    run(sys.executable, "-m", "venv", tmp_path / "venv")
    pip = (tmp_path / "venv/bin/python", "-m", "pip", "--disable-pip-version-check", "install", "--quiet")
    run(*pip, "--require-hashes", "--requirement", ROOT / "requirements.lock")
    run(*pip, "--no-deps", wheel)
    told = run(
        tmp_path / "venv/bin/labsys",
        *("demo", "--out", tmp_path / "out", "--no-serve"),
        LABSYS_INSTANCE=str(tmp_path / "instance"),
    )
    assert "Played the demonstration lab." in told
    assert (tmp_path / "out" / "waste-log.pdf").read_bytes().startswith(b"%PDF-")
    assert "The record holds" in run(tmp_path / "venv/bin/labsys", "verify", LABSYS_INSTANCE=str(tmp_path / "instance"))
