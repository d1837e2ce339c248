"""What the calculations are held against: every check in the tests that says where its figure is from.

A check is a row of a parametrised table, or a test without one, that names its source: in the row, as `source`, or in
the words of the test. It has one kind, told from those words, and counts once: for the calculation that the test asks,
not for those that this one uses; a test of a table, a page or a command counts there. Rows of labsys's own tables are
what is tested, not what it is held against, and are none. Nothing is run.
"""

import ast
import csv
import dis
import importlib
import inspect
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from types import CodeType, ModuleType
from typing import Any

HERE = Path(__file__).parent
TESTS = HERE.parent / "tests"
FOLDERS = ("chemistry", "hazards", "bench", "authorities")

Calculation = Callable[..., Any]


class Kind(StrEnum):
    """What stands on the other side of a check, the strongest first."""

    PRINTED = "printed figure"
    LIBRARY = "independent library"
    BY_HAND = "worked by hand from the rule"
    PRACTICE = "common practice"
    MEMORY = "memory"


@dataclass(frozen=True)
class Publication:
    """A publication by the words that name it in a source, and how it was read."""

    named: str
    title: str
    read: str


@dataclass(frozen=True)
class Check:
    """One row that names its source; no kind where its words tell none, no calculation where it asks something else."""

    test: str
    source: str
    kind: Kind | None
    calculation: Calculation | None


# Told in this order, so that a doubt lowers a check: a figure from memory is no printed one, whatever it cites.
TOLD_BY: tuple[tuple[Kind, tuple[str, ...]], ...] = (
    (Kind.MEMORY, ("from memory",)),
    (Kind.PRACTICE, ("common practice",)),
    (Kind.LIBRARY, ("coolprop", "chemicals library", "chemicals 1.5.2")),
    (Kind.BY_HAND, ("calculated", "by hand", "by definition")),
)


def publications() -> list[Publication]:
    """The publications that a printed figure may be read in."""
    with (HERE / "publications.csv").open(encoding="utf-8", newline="") as lines:
        return [Publication(**row) for row in csv.DictReader(lines)]


def publication_of(source: str, known: list[Publication]) -> Publication | None:
    """The publication a source names first."""
    named = [(source.index(one.named), one) for one in known if one.named in source]
    return min(named, key=lambda place: place[0])[1] if named else None


def kind_of(source: str, known: list[Publication]) -> Kind | None:
    """The kind of a check by the words of its source; none where they tell none."""
    words = source.casefold()
    for kind, signs in TOLD_BY:
        if any(sign in words for sign in signs):
            return kind
    return Kind.PRINTED if publication_of(source, known) else None


def checks(calculations: list[Calculation]) -> list[Check]:
    """All checks; words of a test that tell no kind only explain it and are none, a row's `source` always is one."""
    known = {one.__name__: one for one in calculations}
    read_in = publications()
    found = []
    for path in sorted(path for folder in FOLDERS for path in (TESTS / folder).glob("test_*.py")):
        module = importlib.import_module(f"tests.{path.parent.name}.{path.stem}")
        in_rows = _asked_in_rows(path, module, known)
        for name, test in vars(module).items():
            if not (name.startswith("test_") and inspect.isfunction(test) and test.__module__ == module.__name__):
                continue
            asked = None if hasattr(test, "hypothesis") else _subject(test, module, known, path.stem[len("test_") :])
            for source, is_a_row in _sources(test):
                kind = kind_of(source, read_in)
                if kind or is_a_row:
                    rows = in_rows[source]
                    found.append(Check(f"{path.stem}.{name}", source, kind, asked or (rows.pop(0) if rows else None)))
    return found


def _sources(test: Calculation) -> Iterator[tuple[str, bool]]:
    """The words a test gives for each of its rows, and whether they stand in the row; of crossed tables the larger."""
    words = (inspect.getdoc(test) or "").replace("\n", " ")
    tables = [mark.args for mark in getattr(test, "pytestmark", []) if mark.name == "parametrize"]
    told = [[_source_of(names, row, words) for row in rows] for names, rows in tables] or [[words]]
    yield from ((source, source != words) for source in max(told, key=lambda table: sum(map(bool, table))) if source)


def _source_of(arguments: str | tuple[str, ...], row: Any, words: str) -> str:
    """What a row names as its source, else the words of its test."""
    names = arguments.replace(",", " ").split() if isinstance(arguments, str) else list(arguments)
    row = getattr(row, "values", row) if type(row).__name__ == "ParameterSet" else row
    if type(row).__module__.startswith("labsys"):
        return ""
    if len(names) > 1:
        return str(row[names.index("source")]) if "source" in names else words
    if isinstance(row, tuple) and not hasattr(row, "source"):
        row = row[0] if len(row) == 1 else row
    told = row.get("source") if isinstance(row, dict) else getattr(row, "source", "")
    return told if told and isinstance(told, str) else words


def _asked_in_rows(path: Path, module: ModuleType, known: dict[str, Calculation]) -> dict[str, list[Calculation]]:
    """The calculations called inside a row that names its source, by that source, in the order of the file."""
    asked: dict[str, list[Calculation]] = defaultdict(list)
    for row in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        source = next((one.value for one in row.keywords if one.arg == "source"), None) if _is_call(row) else None
        called = [one.func.id for one in ast.walk(row) if _is_call(one) and isinstance(one.func, ast.Name)]
        if source is not None and (names := [name for name in called if name in known]):
            words = eval(compile(ast.Expression(source), str(path), "eval"), vars(module))  # noqa: S307 our own tests
            asked[words].append(known[names[0]])
    return asked


def _is_call(node: ast.AST) -> bool:
    return isinstance(node, ast.Call)


def _subject(test: Calculation, module: ModuleType, known: dict[str, Calculation], room: str) -> Calculation | None:
    """The calculation a test is about: of the module it is named after, serving no other it asks, the last of those."""
    asked = list(dict.fromkeys(_called(test.__code__, vars(module), known, seen=set())))
    at_home = [one for one in asked if one.__module__.endswith(f".{room}")] or asked
    last = [one for one in at_home if one.__name__ not in set(_handed_in(test, known))] or at_home
    used = {inner for one in last for inner in _called(one.__code__, one.__globals__, known, seen=set())}
    outermost = [one for one in last if one not in used] or last
    return outermost[-1] if outermost else None


def _handed_in(test: Calculation, known: dict[str, Calculation]) -> Iterator[str]:
    """Calculations whose answer is handed to another one where it is called."""
    for call in ast.walk(ast.parse(inspect.getsource(test))):
        if isinstance(call, ast.Call) and _name(call) in known:
            for inner in (node for part in (*call.args, *call.keywords) for node in ast.walk(part)):
                if isinstance(inner, ast.Call) and _name(inner) in known and _name(inner) != _name(call):
                    yield _name(inner)


def _name(call: ast.Call) -> str:
    return getattr(call.func, "id", getattr(call.func, "attr", ""))


def _called(
    code: CodeType, space: dict[str, Any], known: dict[str, Calculation], seen: set[CodeType]
) -> Iterator[Calculation]:
    """Calculations that some code names, itself or through helpers of its own module, in the order it names them."""
    if code in seen:
        return
    seen.add(code)
    for step in dis.get_instructions(code):
        thing = space.get(step.argval) if step.opname in ("LOAD_GLOBAL", "LOAD_NAME") else None
        if inspect.isfunction(thing) and thing in known.values():
            yield thing
        elif inspect.isfunction(thing) and thing.__globals__ is space:
            yield from _called(thing.__code__, space, known, seen)
        elif step.opname in ("LOAD_ATTR", "LOAD_METHOD") and _is_reached_by_a_dot(step.argval, space, known):
            yield known[step.argval]
    for constant in code.co_consts:
        if isinstance(constant, CodeType):
            yield from _called(constant, space, known, seen)


def _is_reached_by_a_dot(name: str, space: dict[str, Any], known: dict[str, Calculation]) -> bool:
    """Whether it names a method, or a function of a module that is named; a field of an answer may share its name."""
    if name not in known:
        return False
    modules = (thing for thing in space.values() if inspect.ismodule(thing))
    return known[name].__qualname__ != name or any(getattr(one, name, None) is known[name] for one in modules)
