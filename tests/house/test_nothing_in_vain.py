"""Nothing is worked out in vain: a public function of the pure rooms is reached by a page, a command or a document.

Read from the source, nothing is run: a name is reached where code outside the pure rooms mentions it, or where what is
reached mentions it. The demonstration, the tests and the page of calculations are no use.
"""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

HOUSE = Path(__file__).parents[2] / "labsys"
PURE = ("labsys.chemistry.", "labsys.hazards.", "labsys.timetable.")
NO_USE = "labsys.demo."

# Function, the issue that wires it, and as what. A row goes when its function is reached, or gone.
WAITING: dict[str, tuple[int, str]] = {
    "chemistry.silver.recovered_share": (13, "silver recovered, by method"),
    "chemistry.silver.silver_by_electrolysis_g": (13, "silver recovered, by method"),
    "chemistry.silver.silver_by_iron_g": (13, "silver recovered, by method"),
}

Dotted = tuple[str, ...]


class Module:
    """What the statements of a module mention, by the name each defines ("" for none), and what it imports."""

    def __init__(self, name: str, path: Path) -> None:
        self.package = name if path.stem == "__init__" else name.rpartition(".")[0]
        tree = ast.parse(path.read_text(encoding="utf-8"))
        self.imports = {local: source for node in ast.walk(tree) for local, source in self._imported(node)}
        self.functions = {node.name for node in tree.body if isinstance(node, ast.FunctionDef)}
        self.mentions: dict[str, set[Dotted]] = {}
        for statement in tree.body:
            for defined in _defined_by(statement):
                self.mentions.setdefault(defined, set()).update(_mentioned_in(statement))

    def _imported(self, node: ast.AST) -> Iterator[tuple[str, tuple[str, str]]]:
        """Each local name with the module it comes from and its name there; "" where it is the module itself."""
        if isinstance(node, ast.ImportFrom):
            above = self.package.rsplit(".", node.level - 1)[0] if node.level else ""
            source = ".".join(filter(None, (above, node.module)))
            yield from ((alias.asname or alias.name, (source, alias.name)) for alias in node.names)
        elif isinstance(node, ast.Import):
            for alias in node.names:
                first = alias.name.split(".")[0]
                yield (alias.asname, (alias.name, "")) if alias.asname else (first, (first, ""))


def _defined_by(statement: ast.stmt) -> list[str]:
    match statement:
        case ast.FunctionDef(name=name) | ast.ClassDef(name=name):
            return [name]
        case ast.Assign() | ast.AnnAssign():
            return _names(statement, ast.Store)
    return [""]


def _names(node: ast.AST, context: type[ast.expr_context]) -> list[str]:
    return [part.id for part in ast.walk(node) if isinstance(part, ast.Name) and isinstance(part.ctx, context)]


def _mentioned_in(statement: ast.stmt) -> set[Dotted]:
    """The names a statement reads, dotted ones whole, without those it binds itself, such as parameters."""
    bound = {part.arg for part in ast.walk(statement) if isinstance(part, ast.arg)} | {*_names(statement, ast.Store)}
    read = {_dotted(part) for part in ast.walk(statement)}
    return {names for names in read if names and names[0] not in bound}


def _dotted(node: ast.AST) -> Dotted:
    match node:
        case ast.Name(id=name):
            return (name,)
        case ast.Attribute(value=value, attr=attribute) if before := _dotted(value):
            return (*before, attribute)
    return ()


def _modules(house: Path) -> dict[str, Module]:
    modules = {}
    for path in sorted(house.rglob("*.py")):
        parts = path.relative_to(house.parent).with_suffix("").parts
        name = ".".join(parts[:-1] if path.stem == "__init__" else parts)
        modules[name] = Module(name, path)
    return modules


def _place(modules: dict[str, Module], module: str, names: Dotted) -> tuple[str, str] | None:
    """The module and name that a dotted name leads to, through imports and re-exports."""
    if module not in modules or not names:
        return None
    first, *rest = names
    if first in modules[module].mentions:
        return module, first
    source, imported = modules[module].imports.get(first, (module, first))
    if (source, imported) == (module, first):
        return _place(modules, f"{module}.{first}", tuple(rest))
    return _place(modules, source, tuple(filter(None, (imported, *rest))))


def unreached(house: Path) -> set[str]:
    """Public functions of the pure rooms that nothing outside them reaches."""
    modules = _modules(house)
    outside = [name for name in modules if not f"{name}.".startswith((*PURE, NO_USE))]
    waiting = [(name, names) for name in outside for read in modules[name].mentions.values() for names in read]
    reached: set[tuple[str, str]] = set()
    while waiting:
        place = _place(modules, *waiting.pop())
        if place is None or place in reached or f"{place[0]}.".startswith(NO_USE):
            continue
        reached.add(place)
        waiting += [(place[0], names) for names in modules[place[0]].mentions[place[1]]]
    pure = [(name, function) for name in modules if f"{name}.".startswith(PURE) for function in modules[name].functions]
    in_vain = (place for place in pure if place not in reached and not place[1].startswith("_"))
    return {".".join(place).removeprefix("labsys.") for place in in_vain}


def test_every_calculation_is_used_or_waits_for_a_named_issue():
    in_vain = unreached(HOUSE)
    assert in_vain - WAITING.keys() == set(), "reached by no page, command or document: wire it, or let it go"
    assert WAITING.keys() - in_vain == set(), "reached by now, or gone: take it off the list"
    assert {issue for issue, _ in WAITING.values()} <= {10, 12, 13}


PURE_ROOM = """
from labsys.hazards import limits
from . import units

LARGEST = limits.at_import()

class Bath:
    def strength(self):
        return through_a_method()

def asked(): return _inner()
def _inner(): return through_a_helper() + units.through_a_module()
def through_a_helper(): return 1
def through_a_method(): return 1
def through_another_name(): return LARGEST
def by_the_demonstration(): return 1
def by_the_vain(): return 1
def in_vain(): return by_the_vain()
def in_vain_itself(): return in_vain_itself()
def hidden_by_a_parameter(): return 1
def taking(hidden_by_a_parameter): return hidden_by_a_parameter
"""
HOUSE_OF_CARDS = {
    "__init__.py": "",
    "chemistry/__init__.py": "from .sums import asked as handed_on, taking",
    "chemistry/sums.py": PURE_ROOM,
    "chemistry/units.py": "def through_a_module(): return 1\ndef beside_it(): return 1",
    "hazards/__init__.py": "",
    "hazards/limits.py": "def at_import(): return 1\ndef never(): return 1",
    "bench/views.py": """
import labsys.chemistry.sums as sums
from labsys.chemistry import handed_on, taking
from labsys.demo import play

def page():
    play()
    return handed_on(), sums.through_another_name(), taking(1), [sums.Bath]
""",
    "demo/__init__.py": "from labsys.chemistry.sums import by_the_demonstration\ndef play(): by_the_demonstration()",
}


@pytest.fixture
def house(tmp_path: Path) -> Path:
    for name, source in HOUSE_OF_CARDS.items():
        path = tmp_path / "labsys" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(source, encoding="utf-8")
    return tmp_path / "labsys"


IN_VAIN = {
    "chemistry.sums.by_the_demonstration",
    "chemistry.sums.by_the_vain",
    "chemistry.sums.hidden_by_a_parameter",
    "chemistry.sums.in_vain",
    "chemistry.sums.in_vain_itself",
    "chemistry.units.beside_it",
    "hazards.limits.never",
}


def test_what_is_reached_by_any_way_is_told_from_what_is_not(house: Path):
    assert unreached(house) == IN_VAIN


def test_a_page_that_goes_leaves_all_in_vain(house: Path):
    (house / "bench/views.py").write_text("import labsys.chemistry.sums", encoding="utf-8")
    reached_before = {"asked", "taking", *(f"through_{way}" for way in ("a_helper", "a_method", "another_name"))}
    assert unreached(house) - IN_VAIN == {
        *(f"chemistry.sums.{name}" for name in reached_before),
        "chemistry.units.through_a_module",
        "hazards.limits.at_import",
    }
