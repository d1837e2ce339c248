"""Write docs/formulae.md from the code: each calculation that names a source, and how many checks from outside it has.

    .venv/bin/python docs/make_formulae.py

A check is a row of a parametrised table, or a test without one, that says where its figure is from: in the row, as
`source`, or in the words of the test. It counts for each calculation that the test calls. Nothing is run.
"""

import ast
import importlib
import inspect
import pkgutil
import re
import sys
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from types import CodeType, ModuleType
from typing import Any

HERE = Path(__file__).parent
ROOT = HERE.parent
PAGE = HERE / "formulae.md"
ROOMS = ("labsys.chemistry", "labsys.hazards")
TESTS = ("chemistry", "hazards", "authorities")
BEFORE = """# Every calculation, and where it is from

Made from the code by `make formulae`; a test fails while it is out of date. *Refuses* says when a calculation raises
instead of answering. *Checks* counts the rows in the tests that name a source outside the code: a publication, a figure
calculated by hand, common practice or memory, each marked as such where it stands.
"""
_SECTION = re.compile(r"^(Parameters|Returns|Raises|Source):$")

Calculation = Callable[..., Any]


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


def checks() -> Counter[Calculation]:
    """How many checks from outside each calculation has."""
    if str(ROOT) not in sys.path:
        sys.path.insert(0, str(ROOT))
    known = {one.__name__: one for module in modules() for one in calculations(module)}
    counted: Counter[Calculation] = Counter()
    for folder in TESTS:
        for path in sorted((ROOT / "tests" / folder).glob("test_*.py")):
            counted.update(_worked_out_in_rows(path, known))
            module = importlib.import_module(f"tests.{folder}.{path.stem}")
            for name, test in vars(module).items():
                if name.startswith("test_") and inspect.isfunction(test) and not hasattr(test, "hypothesis"):
                    rows = _rows_with_a_source(test)
                    for called in _called(test.__code__, vars(module), known, seen=set()):
                        counted[called] += rows
    return counted


def _worked_out_in_rows(path: Path, known: dict[str, Calculation]) -> Iterator[Calculation]:
    """Calculations called in a row that names its source, once for each such row."""
    for row in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(row, ast.Call) and any(one.arg == "source" for one in row.keywords):
            called = {
                one.func.id for one in ast.walk(row) if isinstance(one, ast.Call) and isinstance(one.func, ast.Name)
            }
            yield from (known[name] for name in called & known.keys())


def _rows_with_a_source(test: Calculation) -> int:
    """Rows of a test that say where they are from; tables that are crossed are counted by the larger."""
    says = bool(inspect.getdoc(test))
    tables = [mark for mark in getattr(test, "pytestmark", []) if mark.name == "parametrize"]
    if not tables:
        return int(says)
    return max(sum(says or _names_source(mark.args[0], row) for row in mark.args[1]) for mark in tables)


def _names_source(arguments: str | tuple[str, ...], row: Any) -> bool:
    names = arguments.replace(",", " ").split() if isinstance(arguments, str) else arguments
    return "source" in names or bool(getattr(row, "source", None))


def _called(
    code: CodeType, space: dict[str, Any], known: dict[str, Calculation], seen: set[CodeType]
) -> set[Calculation]:
    """Calculations that some code names, itself or through helpers of its own module."""
    if code in seen:
        return set()
    seen.add(code)
    found: set[Calculation] = set()
    for name in code.co_names:
        thing = space.get(name)
        if inspect.isfunction(thing) and thing in known.values():
            found.add(thing)
        elif inspect.isfunction(thing) and thing.__globals__ is space:
            found |= _called(thing.__code__, space, known, seen)
        elif thing is None and name in known:  # a method, or a function named through its module
            found.add(known[name])
    for constant in code.co_consts:
        if isinstance(constant, CodeType):
            found |= _called(constant, space, known, seen)
    return found


def page() -> str:
    """The whole page."""
    counted = checks()
    parts = [BEFORE]
    for module in modules():
        rows = [_row(one, counted[one]) for one in calculations(module)]
        if rows:
            title = (inspect.getdoc(module) or "").split("\n")[0]
            head = "| calculation | gives | refuses | source | checks |\n|---|---|---|---|---:|"
            parts.append(
                f"## {module.__name__.removeprefix('labsys.')}\n\n{title}\n\n{head}\n" + "\n".join(rows) + "\n"
            )
    return "\n".join(parts)


def _row(calculation: Calculation, checked: int) -> str:
    told = sections(calculation)
    cells = (told["Gives"], told.get("Raises", ""), told["Source"])
    middle = " | ".join(cell.replace("|", "\\|") for cell in cells)
    return f"| `{calculation.__qualname__}` | {middle} | {checked} |"


if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))
    PAGE.write_text(page(), encoding="utf-8")
