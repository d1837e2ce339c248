"""Measures a lab after three months and after ten years of a busy life, and prints what came out as tables.

    .venv/bin/python -m benchmarks [--folder FOLDER] [--short] [--only TEXT] [--json FILE]

The filled labs stay in the folder and are used again; each is measured on a copy, which is thrown away.
"""

import argparse
import json
import shutil
import tempfile
from dataclasses import asdict, dataclass
from pathlib import Path

import flask_migrate

from benchmarks import bare, pages, served, verify
from benchmarks.filling import TEN_YEARS, THREE_MONTHS, filled, opened
from benchmarks.visits import visits
from labsys.database import db

_SHORT = ((5, 0.05), (20, 0.05))
_LONG = ((THREE_MONTHS, 1.0), (TEN_YEARS, 1.0))


@dataclass(frozen=True)
class Outcome:
    """All that was measured of one lab."""

    days: int
    pages: list[pages.Measured]
    served: list[served.Served]
    verified: verify.Verified | None


def run(path: Path, *, days: int, only: str = "", with_load: bool = True, with_verify: bool = True) -> Outcome:
    """Measure a copy of the lab in a file."""
    with tempfile.TemporaryDirectory(dir=path.parent) as folder:
        copy = Path(folder) / "lab.sqlite3"
        shutil.copy(path, copy)
        with opened(copy) as app:
            with app.app_context():
                flask_migrate.upgrade()  # it may have been filled before the newest
                with db.engine.begin() as connection:
                    connection.exec_driver_sql(bare.SCRATCH)
                wanted = [visit for visit in visits() if only.lower() in visit.name.lower()]
            asked = {visit: pages.take_down(app, visit) for visit in wanted}
            measured = [pages.measure(app, visit, page) for visit, page in asked.items()]
            under_load = {visit: page for visit, page in asked.items() if visit.is_served} if with_load else {}
            loads = served.measure(app, copy, under_load) if under_load else []
            with app.app_context():
                verified = verify.measure(copy) if with_verify else None
    return Outcome(days, measured, loads, verified)


def show(outcomes: list[Outcome]) -> None:
    """Print one table each of pages, of pages under load, and of verifying; one group of columns a lab."""
    print("\nIn one process: ms by the clock, median (least-most), and by the processor: ours / bare page = times it")
    print("Last columns: the last lab's processor time over the first's, statements asked, size.")
    for rows in zip(*(outcome.pages for outcome in outcomes), strict=True):
        cells = [
            f"{one.ours.median:7.1f} ({one.ours.least:.1f}-{one.ours.most:.1f})  {one.ours.processor:.1f} /"
            f" {one.bare.processor:.2f} = x{one.ours.processor / one.bare.processor:.1f}"
            for one in rows
        ]
        first, last = rows[0], rows[-1]
        grown = f"x{last.ours.processor / first.ours.processor:.2f}"
        size = f"{last.statements} q {last.size / 1000:.0f} kB"
        print(f"{first.name:<22}" + "".join(f"{cell:<46}" for cell in cells) + f"{grown:<8}{size}")
    print("\nServed, eight at once: requests a second, p50 and p99 ms / of the bare page = share of its requests")
    for loads in zip(*(outcome.served for outcome in outcomes), strict=True):
        cells = [
            f"{one.ours.a_second:6.0f} {one.ours.p50_ms:6.0f} {one.ours.p99_ms:6.0f} / {one.bare.a_second:.0f}"
            f" {one.bare.p50_ms:.0f} {one.bare.p99_ms:.0f} = 1/{one.bare.a_second / one.ours.a_second:.1f}"
            + (f" ({one.ours.refused} refused)" if one.ours.refused else "")
            for one in loads
        ]
        print(f"{loads[0].name:<22}" + "".join(f"{cell:<48}" for cell in cells))
    for outcome in outcomes:
        if found := outcome.verified:
            print(
                f"\nVerify after {outcome.days} days: {found.entries:,} entries in {found.ours_s:.2f} s, bare loop "
                f"{found.bare_s:.2f} s = x{found.ours_s / found.bare_s:.1f}; the ledger {found.ledger_s:.2f} s"
            )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--folder", type=Path, default=Path(tempfile.gettempdir()) / "labsys-bench")
    parser.add_argument("--short", action="store_true", help="two small labs, to see that it runs")
    parser.add_argument("--only", default="", metavar="TEXT", help="only pages whose name has this in it")
    parser.add_argument("--no-load", action="store_true", help="leave out the served pages")
    parser.add_argument("--no-verify", action="store_true", help="leave out verifying")
    parser.add_argument("--json", type=Path, metavar="FILE", help="write every figure here too")
    asked = parser.parse_args()
    outcomes = []
    for days, times in _SHORT if asked.short else _LONG:
        path = filled(asked.folder, days=days, times=times)
        outcomes.append(
            run(path, days=days, only=asked.only, with_load=not asked.no_load, with_verify=not asked.no_verify)
        )
    show(outcomes)
    if asked.json:
        asked.json.write_text(json.dumps([asdict(outcome) for outcome in outcomes], indent=1), encoding="utf-8")


if __name__ == "__main__":
    main()
