"""Write docs/formulae.md from the code: each calculation that names a source, and what its answers are held against.

.venv/bin/python docs/make_formulae.py
"""

import importlib
import inspect
import pkgutil
import re
import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path
from types import ModuleType

HERE = Path(__file__).parent
ROOT = HERE.parent
if str(ROOT) not in sys.path:
    sys.path.insert(0, str(ROOT))

from docs.evidence import Calculation, Check, Kind, checks, publication_of, publications  # noqa: E402

PAGE = HERE / "formulae.md"
ROOMS = ("labsys.chemistry", "labsys.hazards")
BEFORE = """# Every calculation, and where it is from

Made from the code by `make formulae`; a test fails while it is out of date. *Refuses* says when a calculation raises
instead of answering. *Checks* are rows in the tests that name where their figure is from, each row counted once:

- **printed**: a figure printed in a publication, named below with how it was read;
- **library**: what an independent library answers;
- **by hand**: worked by hand from the rule, so that it shows slips in the code and not in the rule;
- **practice**: common practice of the trade, no source;
- **memory**: from memory of a text that was not read again.

A figure that cites a text and was remembered, or worked out from what the text gives, counts as the lesser of the two.
"""
_SHORT = {
    Kind.PRINTED: "printed",
    Kind.LIBRARY: "library",
    Kind.BY_HAND: "by hand",
    Kind.PRACTICE: "practice",
    Kind.MEMORY: "memory",
}
_SECTION = re.compile(r"^(Parameters|Returns|Raises|Source):$")


def modules() -> Iterator[ModuleType]:
    """The modules of the pure rooms that hold calculations."""
    for room in ROOMS:
        package = importlib.import_module(room)
        for found in pkgutil.walk_packages(package.__path__, f"{room}."):
            yield importlib.import_module(found.name)


def calculations(module: ModuleType) -> Iterator[Calculation]:
    """Public functions and methods of a module whose docstring names a source."""
    for thing in vars(module).values():
        if not (inspect.isfunction(thing) or inspect.isclass(thing)):
            continue
        if thing.__module__ == module.__name__ and not thing.__name__.startswith("_"):
            found = _methods(thing) if inspect.isclass(thing) else [thing]
            yield from (one for one in found if "Source" in sections(one))


def _methods(thing: type) -> list[Calculation]:
    members = ((name, getattr(one, "__func__", one)) for name, one in vars(thing).items())
    return [one for name, one in members if inspect.isfunction(one) and not name.startswith("_")]


def sections(calculation: Calculation) -> dict[str, str]:
    """The sections of a docstring, each on one line; the summary is called "Gives"."""
    text = inspect.getdoc(calculation) or ""
    found: dict[str, list[str]] = {"Gives": text.split("\n\n")[0].splitlines()}
    entries: list[str] | None = None
    for line in text.splitlines():
        if match := _SECTION.match(line):
            entries = found.setdefault(match[1], [])
        elif entries is not None and line.startswith("    "):
            entries.append(line.strip())
        else:
            entries = None
    return {name: " ".join(lines) for name, lines in found.items()}


def all_checks() -> list[Check]:
    """What the answers of all calculations, tables, pages and commands are held against."""
    return checks([one for module in modules() for one in calculations(module)])


def page() -> str:
    """The whole page."""
    held = all_checks()
    parts = [BEFORE, _totals(held)]
    for module in modules():
        rows = [_row(one, [check for check in held if check.calculation is one]) for one in calculations(module)]
        if rows:
            title = (inspect.getdoc(module) or "").split("\n")[0]
            head = "| calculation | gives | refuses | source | checks |\n|---|---|---|---|---|"
            parts.append(
                f"## {module.__name__.removeprefix('labsys.')}\n\n{title}\n\n{head}\n" + "\n".join(rows) + "\n"
            )
    return "\n".join([*parts, _read_in(held)])


def _totals(held: Sequence[Check]) -> str:
    asked = Counter(check.kind for check in held if check.calculation)
    others = Counter(check.kind for check in held if not check.calculation)
    rows = [(str(kind), asked[kind], others[kind], asked[kind] + others[kind]) for kind in Kind]
    rows.append(("all", asked.total(), others.total(), len(held)))
    head = "| held against | of a calculation | of a table, a page or a command | in all |\n|---|---:|---:|---:|"
    return f"{head}\n" + "\n".join(f"| {' | '.join(map(str, row))} |" for row in rows) + "\n"


def _row(calculation: Calculation, held: Sequence[Check]) -> str:
    told = sections(calculation)
    counted = Counter(check.kind for check in held)
    by_kind = ", ".join(f"{counted[kind]} {_SHORT[kind]}" for kind in Kind if counted[kind]) or "none"
    cells = (told["Gives"], told.get("Raises", ""), told["Source"], by_kind)
    return f"| `{calculation.__qualname__}` | " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"


def _read_in(held: Sequence[Check]) -> str:
    known = publications()
    printed = Counter(publication_of(check.source, known) for check in held if check.kind is Kind.PRINTED)
    rows = [f"| {one.title} | {one.read} | {printed[one]} |" for one in known]
    head = "| publication | how it was read | printed figures held to |\n|---|---|---:|"
    return f"## The publications\n\n{head}\n" + "\n".join(sorted(rows)) + "\n"


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
