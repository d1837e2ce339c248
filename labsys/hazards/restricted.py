"""Things a darkroom does not keep unless somebody answers for it, recognised by CAS number or by words in a name."""

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache

from .tables import read_table


@dataclass(frozen=True)
class Restricted:
    """One entry: why it is not kept, what to do instead, and where that is said."""

    key: str
    name: str
    cas: tuple[str, ...]
    words: tuple[str, ...]
    reason: str
    instead: str
    source: str


@cache
def all_restricted() -> tuple[Restricted, ...]:
    """Return every entry in file order; where two share a word, the narrower one comes first.

    Returns:
        The entries. [-]
    """
    return tuple(
        Restricted(
            key=row["key"],
            name=row["name"],
            cas=tuple(row["cas"].split()),
            words=tuple(part.strip() for part in row["words"].split(";")),
            reason=row["reason"],
            instead=row["instead"],
            source=row["source"],
        )
        for row in read_table("restricted")
    )


def restricted_in(*, names: Iterable[str], cas: Iterable[str] = ()) -> tuple[Restricted, ...]:
    """Return what is restricted among names and CAS numbers. A word counts as a whole word, in any case.

    Parameters:
        names: Names of a product and of its ingredients. [-]
        cas: CAS numbers of its ingredients. [-]
    Returns:
        The entries in file order, each once; for each name only the first that its words fit. [-]

    >>> [entry.key for entry in restricted_in(names=["Mercury thermometer, 30 cm"])]
    ['mercury thermometer']
    >>> restricted_in(names=["Thermometer, mercury-free", "potassium ferricyanide"])
    ()
    """
    numbers = set(cas)
    keys = {entry.key for entry in all_restricted() if numbers & set(entry.cas)}
    for name in names:
        keys.update([entry.key for entry in all_restricted() if any(_says(name, word) for word in entry.words)][:1])
    return tuple(entry for entry in all_restricted() if entry.key in keys)


def _says(name: str, word: str) -> bool:
    whole = rf"(?<![\w-]){re.escape(word)}s?(?![\w(])(?![- ]free\b)"
    return re.search(whole, name, re.IGNORECASE) is not None
