"""List of Waste codes a darkroom needs, and the codes of consignment notes.

Source: codes, texts and the United Kingdom's entry types from the government's open list (Defra reference list of
waste codes, 842 codes, Open Government Licence v3.0; the table names repository, commit and checksum), read. Entry
types of the EU's own list (Decision 2000/532/EC as amended by 2014/955/EU) are from memory. Consignment codes:
Environment Agency rule since April 2016, read in letsrecycle.com and others.
"""

import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from .errors import UnknownWasteCode
from .nations import Nation
from .tables import PACKAGED, read_table

ATTRIBUTION = "Contains public sector information licensed under the Open Government Licence v3.0."  # as it asks
_ENTRY_TYPES = {
    "AH": "always hazardous",
    "AN": "never hazardous by this list",
    "MH": "hazardous where an assessment says so: a mirror entry",
    "MN": "not hazardous only where an assessment has ruled that out: a mirror entry",
}
_WRITTEN = re.compile(r"(\d\d)\s?(\d\d)\s?(\d\d)\s?(\*?)")


@dataclass(frozen=True)
class WasteCode:
    """One entry of the List of Waste."""

    code: str
    text: str
    is_hazardous: bool
    uk_entry_type: str
    eu_entry_type: str
    use: str
    edition: str
    dated: str
    source: str

    def entry_type(self, nation: str) -> str:
        """Say in words what kind of entry it is in a nation's list; empty where that is not known."""
        is_uk = nation in set(Nation)
        kind = _ENTRY_TYPES.get(self.uk_entry_type if is_uk else self.eu_entry_type, "")
        return kind if is_uk or not kind else f"{kind} (EU list, from memory)"

    def in_words(self, nation: str) -> str:
        """The code with the list's words for it and, where that is known, its kind of entry in a nation's list."""
        return ": ".join(filter(None, (f"{self.code} {self.text}", self.entry_type(nation))))

    def is_always_hazardous(self, nation: str) -> bool:
        """Whether the entry is hazardous in a nation's list whatever an assessment says; not so where it is unknown."""
        return (self.uk_entry_type if nation in set(Nation) else self.eu_entry_type) == "AH"


@cache
def _codes() -> dict[str, WasteCode]:
    return {
        row["code"]: WasteCode(
            code=row["code"],
            text=row["text"],
            is_hazardous=row["hazardous"] == "yes",
            uk_entry_type=row["uk_entry_type"],
            eu_entry_type=row["eu_entry_type"],
            use=row["use"],
            edition=row["edition"],
            dated=row["dated"],
            source=row["source"],
        )
        for row in read_table("waste_codes")
    }


def all_waste_codes() -> tuple[WasteCode, ...]:
    """Return every code on file, chapter 09 01 first.

    Returns:
        The entries. [-]
    """
    return tuple(_codes().values())


def check_waste_code_format(text: str) -> str:
    """Return a code as it is printed: three pairs of digits and the asterisk if it has one.

    Parameters:
        text: A code as typed, with or without blanks. [-]
    Returns:
        The printed form. [-]
    Raises:
        UnknownWasteCode: Not six digits with an optional asterisk.

    >>> check_waste_code_format("090104*")
    '09 01 04*'
    """
    match = _WRITTEN.fullmatch(text.strip())
    if match is None:
        raise UnknownWasteCode(
            text, 'a code is six digits in pairs, with an asterisk if hazardous, such as "09 01 04*"'
        )
    return " ".join(match.groups()[:3]) + match[4]


def waste_code(text: str) -> WasteCode:
    """Return the entry of a code.

    Parameters:
        text: A code as typed. [-]
    Returns:
        The entry. [-]
    Raises:
        UnknownWasteCode: Wrong form, a missing or wrong asterisk, or a code not on file; the reason says which.

    >>> waste_code("09 01 04*").text
    'fixer solutions'
    """
    printed = check_waste_code_format(text)
    if printed in _codes():
        return _codes()[printed]
    other = printed.removesuffix("*") if printed.endswith("*") else printed + "*"
    if other in _codes():
        raise UnknownWasteCode(text, f"the list has it as {other}; the asterisk says whether it is hazardous")
    raise UnknownWasteCode(text, "not among the codes on file")


def consignment_code_warning(code: str, *, nation: str, data: Path = PACKAGED) -> str | None:
    """Return a warning when a consignment note code does not look like one of its nation. Never a refusal.

    Parameters:
        code: The code as it stands on the note. [-]
        nation: The nation the lab lies in. [-]
        data: Folder of the tables; those of this package unless told otherwise. [-]
    Returns:
        A sentence to show, or None when the code fits. [-]

    >>> consignment_code_warning("NORTHS/00001", nation="England") is None
    True
    """
    row = next((row for row in read_table("note_codes", folder=data) if row["nation"] == nation), None)
    if row is None:
        return (
            f"No pattern for consignment note codes is on file for {nation or 'this nation'}: compare it with the note."
        )
    if re.fullmatch(row["pattern"], code.strip()):
        return None
    return f"In {nation} the code is usually written as {row['words']}: compare it with the note."


def suggested_consignment_code(*, business_name: str, serial: int) -> str | None:
    """Return a consignment note code for England: six characters of the name, a slash and a running number.

    Parameters:
        business_name: The business whose waste it is. [-]
        serial: Running number, 1 to 99 999. [-]
    Returns:
        The code; None where the name is too short or the number does not fit, since no rule for that is on file. [-]

    >>> suggested_consignment_code(business_name="Northside Community Darkroom", serial=1)
    'NORTHS/00001'
    """
    letters = re.sub(r"[^A-Z0-9]", "", business_name.upper())
    if len(letters) < 6 or not 1 <= serial <= 99_999:
        return None
    return f"{letters[:6]}/{serial:05d}"
