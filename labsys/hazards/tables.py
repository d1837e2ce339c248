"""Reading the room's own packaged tables, each once."""

import csv
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from types import MappingProxyType


@cache
def read_table(name: str) -> tuple[Mapping[str, str], ...]:
    """Return the rows of one packaged table, in file order.

    Parameters:
        name: The table's name without ending, such as `"statements"`. [-]
    Returns:
        One read-only mapping of column name to text per row. [-]
    """
    text = (files("labsys.hazards") / "data" / f"{name}.csv").read_text(encoding="utf-8")
    return tuple(MappingProxyType(row) for row in csv.DictReader(text.splitlines()))
