"""No module imports one that, by whatever way round, imports it: inside functions and for types alone counted too."""

import ast
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

HOUSE = Path(__file__).parents[2]


def imports_of(source: str, *, modules: set[str]) -> set[str]:
    """The modules of the house that a source imports; what is taken from a package is its module where it has one."""
    named = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.ImportFrom):
            whole = [f"{node.module}.{alias.name}" for alias in node.names]
            named |= {name if name in modules else str(node.module) for name in whole}
        elif isinstance(node, ast.Import):
            named |= {alias.name for alias in node.names}
    return named & modules


def order_of(sources: dict[str, str]) -> list[str]:
    """The modules, each after those it imports. Raises CycleError where there is no such order."""
    modules = set(sources)
    return list(
        TopologicalSorter({name: imports_of(text, modules=modules) for name, text in sources.items()}).static_order()
    )


def test_no_import_goes_round_in_a_circle():
    files = {".".join(path.relative_to(HOUSE).with_suffix("").parts): path for path in HOUSE.glob("labsys/**/*.py")}
    sources = {name.removesuffix(".__init__"): path.read_text("utf-8") for name, path in files.items()}
    order = order_of(sources)
    assert order.index("labsys.products.models") < order.index("labsys.store.models") < order.index("labsys.web")


@pytest.mark.parametrize(
    "back",
    ["from labsys.rooms import one", "def late():\n    import labsys.rooms.one", "from labsys.rooms.one import bp"],
)
def test_a_circle_is_seen_whichever_way_it_is_written(back: str):
    with pytest.raises(CycleError):
        order_of({"labsys.rooms": "", "labsys.rooms.one": "from labsys.rooms import two", "labsys.rooms.two": back})
