"""Hazard classes with their categories and codes, as the label tables of CLP Annex I pair them."""

from dataclasses import dataclass
from enum import StrEnum
from functools import cache

from .errors import UnknownClass, UnknownStatement
from .tables import read_table


class Family(StrEnum):
    """Kinds of substance that the rules single out: for skin and eye tables, gases set free, and keeping apart."""

    ACID = "acid"
    BASE = "base"
    SALT = "salt"
    PHENOL = "phenol"
    ALDEHYDE = "aldehyde"
    SURFACTANT = "surfactant"
    SULFITE = "sulfite"
    THIOSULFATE = "thiosulfate"
    SULFIDE = "sulfide"
    SELENIUM = "selenium"
    HYPOCHLORITE = "hypochlorite"
    CYANIDE_COMPLEX = "cyanide complex"
    AMMONIUM = "ammonium"
    OXIDISER = "oxidiser"
    ORGANIC = "organic"
    SILVER = "silver"
    BORON = "boron"


@dataclass(frozen=True, order=True)
class HazardClass:
    """A hazard class, its category (may be empty, as for lactation) and the statement it brings."""

    name: str
    category: str
    code: str

    def __str__(self) -> str:
        return " ".join(part for part in (self.name, self.category, self.code) if part)


@dataclass(frozen=True)
class LabelRow:
    """What one class brings to a label."""

    hazard: HazardClass
    pictograms: tuple[str, ...]
    signal_word: str


@cache
def label_rows() -> tuple[LabelRow, ...]:
    """Return the label table, within a class from the most to the least severe category.

    Returns:
        One row per class, category and code. [-]
    """
    return tuple(
        LabelRow(
            HazardClass(row["class"], row["category"], code),
            tuple(filter(None, row["pictogram"].split(";"))),
            row["signal_word"],
        )
        for row in read_table("label_elements")
        for code in row["h_code"].split(";")
    )


@cache
def _by_text() -> dict[str, HazardClass]:
    return {str(row.hazard): row.hazard for row in label_rows() if row.hazard.code}


@cache
def _severity() -> dict[HazardClass, int]:
    return {row.hazard: place for place, row in enumerate(label_rows())}


def read_class(text: str) -> HazardClass:
    """Read a class written as "Class category code".

    Parameters:
        text: Such as `"Skin Corr. 1B H314"` or `"Lact. H362"`. [-]
    Returns:
        The class. [-]
    Raises:
        UnknownClass: The three do not belong together.

    >>> read_class("Skin Corr. 1B H314").category
    '1B'
    """
    try:
        return _by_text()[" ".join(text.split())]
    except KeyError:
        raise UnknownClass(text) from None


def classes_for_code(code: str) -> tuple[HazardClass, ...]:
    """Return the classes a hazard statement can stand for, the most severe first.

    Parameters:
        code: An H code such as `"H314"`. [-]
    Returns:
        The classes of the label table that bring this code. [-]
    Raises:
        UnknownStatement: The code is on no list.
    """
    classes = tuple(row.hazard for row in label_rows() if row.hazard.code == code)
    if not classes:
        raise UnknownStatement(code)
    return classes


def label_row(hazard: HazardClass) -> LabelRow:
    """Return what a class brings to a label.

    Parameters:
        hazard: A class of the label table. [-]
    Returns:
        Its pictograms and signal word. [-]
    Raises:
        UnknownClass: The class is not in the table.
    """
    return label_rows()[severity_place(hazard)]


def severity_place(hazard: HazardClass) -> int:
    """Return the place of a class in the label table: within one class, smaller is more severe.

    Parameters:
        hazard: A class of the label table. [-]
    Returns:
        The place, from 0. [-]
    Raises:
        UnknownClass: The class is not in the table.
    """
    try:
        return _severity()[hazard]
    except KeyError:
        raise UnknownClass(str(hazard)) from None
