"""Walks the package and its tests: every calculation is documented to its signature, every check names its source."""

import ast
import importlib
import inspect
import pkgutil
import re
import sys
from pathlib import Path

import pytest

import labsys.chemistry

MODULES = [
    importlib.import_module(f"labsys.chemistry.{module.name}")
    for module in pkgutil.iter_modules(labsys.chemistry.__path__)
]
HERE = Path(__file__).parent
TESTS = sorted([*HERE.glob("test_*.py"), *(HERE.parent / "authorities").glob("test_chemistry_*.py")])
SECTION = re.compile(r"^(Parameters|Returns|Raises|Source):$")
UNIT = re.compile(r"\[[^\[\]]+\]$")


def is_public(thing, module):
    return not thing.__name__.startswith("_") and thing.__module__ == module.__name__


def calculations():
    """Every public function, and every public method that takes an argument."""
    for module in MODULES:
        for function in vars(module).values():
            if inspect.isfunction(function) and is_public(function, module):
                yield pytest.param(function, id=f"{module.__name__}.{function.__qualname__}")
            if inspect.isclass(function) and is_public(function, module):
                for name, method in vars(function).items():
                    method = method.__func__ if isinstance(method, classmethod) else method
                    if inspect.isfunction(method) and not name.startswith("_") and len(parameters_of(method)) > 0:
                        yield pytest.param(method, id=f"{module.__name__}.{method.__qualname__}")


def parameters_of(function):
    return [name for name in inspect.signature(function).parameters if name not in ("self", "cls")]


def sections_of(function):
    """Cut a docstring into its sections: {"Parameters": [text of each entry], ...}."""
    sections, entries = {}, None
    for line in inspect.getdoc(function).splitlines():
        if match := SECTION.match(line):
            entries = sections.setdefault(match[1], [])
        elif entries is not None and line.startswith("    "):
            if line.startswith("        "):
                entries[-1] += " " + line.strip()
            else:
                entries.append(line.strip())
        elif entries is not None:
            entries = None
    return sections


@pytest.mark.parametrize("function", list(calculations()))
def test_the_docstring_of_a_calculation_agrees_with_its_signature(function):
    sections = sections_of(function)
    documented = [entry.split(":")[0] for entry in sections.get("Parameters", [])]
    assert documented == parameters_of(function)
    assert all(UNIT.search(entry) for entry in sections.get("Parameters", [])), "a parameter has no unit"
    assert UNIT.search(" ".join(sections["Returns"])), "the result has no unit"
    assert " ".join(sections["Source"]).endswith((".", ")")), "no source, or one that is not a sentence"


@pytest.mark.parametrize("function", list(calculations()))
def test_a_calculation_is_asked_by_keyword(function):
    takes = inspect.signature(function).parameters.values()
    by_position = [p.name for p in takes if p.kind is p.POSITIONAL_OR_KEYWORD and p.name not in ("self", "cls")]
    in_the_text = function.__name__ == "parse_dilution" or function.__module__.endswith("errors")
    assert in_the_text or len(by_position) <= 1, "two bare values can be swapped unnoticed"


@pytest.mark.parametrize("function", list(calculations()))
def test_an_error_that_is_raised_by_name_is_documented(function):
    raised = set(re.findall(r"raise (\w+)[(\s]", inspect.getsource(function)))
    raised |= {"OutOfRange"} if re.search(r"check_(between|above)\(", inspect.getsource(function)) else set()
    documented = {entry.split(":")[0] for entry in sections_of(function).get("Raises", [])}
    assert raised <= documented


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__)
def test_every_public_name_of_a_module_says_what_it_is(module):
    things = [thing for thing in vars(module).values() if inspect.isclass(thing) and is_public(thing, module)]
    for thing in things:
        assert thing.__doc__
        assert not thing.__doc__.startswith(f"{thing.__name__}("), f"{thing.__name__} has no docstring of its own"
        for name, member in vars(thing).items():
            if isinstance(member, property) and not name.startswith("_"):
                assert member.__doc__, f"{thing.__name__}.{name} has no docstring"


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__)
def test_a_module_stays_on_one_subject(module):
    assert module.__doc__
    assert len(Path(module.__file__).read_text(encoding="utf-8").splitlines()) <= 400


@pytest.mark.parametrize("module", MODULES, ids=lambda module: module.__name__)
def test_the_working_out_needs_the_standard_library_only_and_no_clock(module):
    tree = ast.parse(Path(module.__file__).read_text(encoding="utf-8"))
    imported = {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    imported |= {alias.name for node in ast.walk(tree) if isinstance(node, ast.Import) for alias in node.names}
    outside = {name.split(".")[0] for name in imported if not name.startswith("labsys.chemistry.")}
    assert outside <= sys.stdlib_module_names - {"time", "datetime", "random", "os", "io", "pathlib", "socket"}


def rows():
    for path in TESTS:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "Row":
                yield path, node


def test_every_row_of_every_table_names_its_source():
    unnamed = []
    for path, node in rows():
        sources = [keyword.value for keyword in node.keywords if keyword.arg == "source"]
        if not sources or (isinstance(sources[0], ast.Constant) and not sources[0].value.strip()):
            unnamed.append(f"{path.name}:{node.lineno}")
    assert unnamed == []


def test_there_are_many_outside_values():
    """A floor under the tables: rows may be added, and must not melt away."""
    assert sum(1 for _ in rows()) >= 250
