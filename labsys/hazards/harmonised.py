"""Published entries of the two lists of harmonised classification: the EU's (CLP Annex VI) and Great Britain's.

An entry is a floor: whoever supplies the substance may classify it more strictly, never less. An asterisk in the list
marks a minimum classification: worse data, where there are any, count instead.
"""

from dataclasses import dataclass
from functools import cache

from .classes import HazardClass, read_class
from .mixtures.model import Ate, Route, SpecificLimit, read_limit
from .nations import Rules
from .tables import items_of, read_table


@dataclass(frozen=True)
class Harmonised:
    """One substance in one list, with the edition it was read in; `minimum` are the classes with an asterisk."""

    rules: Rules
    index_number: str
    classes: tuple[HazardClass, ...]
    minimum: frozenset[HazardClass]
    euh: tuple[str, ...]
    limits: tuple[SpecificLimit, ...]
    m_factors: tuple[float | None, float | None]
    ates: tuple[Ate, ...]
    notes: tuple[str, ...]
    edition: str
    dated: str
    known: str
    source: str

    @property
    def in_words(self) -> str:
        """The classes as the list prints them, asterisks included."""
        marked = (f"{each} *" if each in self.minimum else str(each) for each in self.classes)
        return "; ".join([*marked, *self.euh])


def harmonised(cas: str, *, rules: Rules) -> Harmonised | None:
    """Return the entry of a substance in one list.

    Parameters:
        cas: A CAS number as the tables write it. [-]
        rules: Whose list. [-]
    Returns:
        The entry; None where that list has none, or was not read for this substance. [-]

    >>> harmonised("25646-77-9", rules=Rules.EU).in_words.partition(";")[0]
    'Acute Tox. 3 H301 *'
    """
    return _entries().get((cas, rules))


@cache
def _entries() -> dict[tuple[str, Rules], Harmonised]:
    return {(row["cas"], Rules(row["list"])): _read(dict(row)) for row in read_table("harmonised")}


def _read(row: dict[str, str]) -> Harmonised:
    listed = [(read_class(text.replace("*", "")), "*" in text) for text in items_of(row["classes"])]
    return Harmonised(
        rules=Rules(row["list"]),
        index_number=row["index_number"],
        classes=tuple(hazard for hazard, _ in listed),
        minimum=frozenset(hazard for hazard, is_minimum in listed if is_minimum),
        euh=tuple(row["supplemental"].split()),
        limits=tuple(read_limit(text) for text in items_of(row["limits"])),
        m_factors=read_m_factors(row["m_factors"]),
        ates=read_ates(row["ate"]),
        notes=items_of(row["notes"]),
        edition=row["edition"],
        dated=row["dated"],
        known=row["known"],
        source=row["source"],
    )


def read_ates(text: str) -> tuple[Ate, ...]:
    """Read acute toxicity estimates as the tables write them.

    Parameters:
        text: Such as `"oral 481"`, several joined by a semicolon. [-]
    Returns:
        The estimates. [mg/kg, or as their route has it]

    >>> read_ates("oral 481")[0].value
    481.0
    """
    return tuple(Ate(Route(route), float(value)) for route, value in map(str.split, items_of(text)))


def read_m_factors(text: str) -> tuple[float | None, float | None]:
    """Read M-factors as the tables write them.

    Parameters:
        text: Such as `"acute 10; chronic 1"`; what is not named is not known. [-]
    Returns:
        The acute and the chronic factor. [-]

    >>> read_m_factors("acute 10")
    (10.0, None)
    """
    named = dict(item.split() for item in items_of(text))
    acute, chronic = named.get("acute"), named.get("chronic")
    return (float(acute) if acute else None, float(chronic) if chronic else None)
