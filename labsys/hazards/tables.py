"""Reading the room's own packaged tables, each once."""

import csv
from collections.abc import Mapping
from functools import cache
from importlib.resources import files
from pathlib import Path
from types import MappingProxyType

PACKAGED = Path(str(files("labsys.hazards"))) / "data"


@cache
def read_table(name: str, *, folder: Path = PACKAGED) -> tuple[Mapping[str, str], ...]:
    """Return the rows of one packaged table, in file order.

    Parameters:
        name: The table's name without ending, such as `"statements"`. [-]
        folder: Where the table lies; with the packaged ones unless told otherwise. [-]
    Returns:
        One read-only mapping of column name to text per row. [-]
    """
    text = (folder / f"{name}.csv").read_text(encoding="utf-8")
    return tuple(MappingProxyType(row) for row in csv.DictReader(text.splitlines()))


def items_of(text: str) -> tuple[str, ...]:
    """Return what a cell lists, between semicolons.

    Parameters:
        text: The cell. [-]
    Returns:
        Its items without blanks around them. [-]

    >>> items_of("acute 10; chronic 1")
    ('acute 10', 'chronic 1')
    """
    return tuple(item.strip() for item in text.split(";") if item.strip())
