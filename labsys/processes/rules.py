"""Decisions about processes: times as people write them."""

import re

from labsys.products.rules import ProductRefused

LONGEST_S = 48 * 3600
_UNITS = {"h": 3600, "min": 60, "m": 60, "s": 1, "sec": 1}
_CLOCK = re.compile(r"(?P<minutes>\d{1,4}):(?P<seconds>[0-5]\d)(?:\s*min)?")
_PART = re.compile(r"(?P<figure>\d{1,5}(?:[.,]\d{1,3})?)\s*(?P<unit>h|min|m|sec|s)?\s*")


def read_duration(text: str) -> int:
    """Read a time as somebody writes it: 8:30, 8 min 30 s, 90 s; a bare number is minutes.

    Parameters:
        text: What was typed. [-]
    Returns:
        The time. [s]
    Raises:
        ProductRefused: It cannot be read, is not above zero, or is longer than two days.

    >>> read_duration("8 min 30 s"), read_duration("3:15"), read_duration("1,5"), read_duration("1 h")
    (510, 195, 90, 3600)
    """
    if clock := _CLOCK.fullmatch(text.strip()):
        seconds = 60.0 * int(clock["minutes"]) + int(clock["seconds"])
    else:
        parts = list(_PART.finditer(text.strip().lower()))
        if "".join(part[0] for part in parts) != text.strip().lower() or (
            len(parts) > 1 and not all(part["unit"] for part in parts)
        ):
            raise ProductRefused(f"“{text}” is not a time. Write it as 8:30, 8 min or 90 s.")
        seconds = sum(float(part["figure"].replace(",", ".")) * _UNITS[part["unit"] or "min"] for part in parts)
    if not 0 < round(seconds) <= LONGEST_S:
        raise ProductRefused(f"“{text}”: a time is above zero and at most two days. Leave it empty for “until done”.")
    return round(seconds)
