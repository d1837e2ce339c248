"""Workplace exposure limits, as data for each nation: a new nation is new rows, not new code.

A limit is no line between safe and unsafe. It is measured in the air that a person breathes; nothing here measures it.
"""

from dataclasses import dataclass
from functools import cache
from pathlib import Path

from .cas import check_cas
from .tables import PACKAGED, read_table


@dataclass(frozen=True)
class ExposureLimit:
    """A limit in one unit: the mean over eight hours and over fifteen minutes, where each is set.

    `notation` is what the list adds, such as "skin"; empty also where nobody has checked it. `doubt` says where sources
    disagree.
    """

    cas: str
    twa: float | None
    stel: float | None
    unit: str
    notation: str
    source: str
    confidence: str
    edition: str = ""
    dated: str = ""
    known: str = "remembered"
    doubt: str = ""

    @property
    def in_words(self) -> str:
        """The limit as a page writes it.

        >>> ExposureLimit("64-19-7", 10.0, 20.0, "ppm", "", "", "high").in_words
        '10 ppm over 8 hours, 20 ppm over 15 minutes'
        """
        told = [
            f"{figure:g} {self.unit} over {span}"
            for figure, span in ((self.twa, "8 hours"), (self.stel, "15 minutes"))
            if figure is not None
        ]
        return ", ".join([*told, self.notation] if self.notation else told)


def limits_of(cas: str, *, nation: str, data: Path = PACKAGED) -> tuple[ExposureLimit, ...] | None:
    """Return the limits a nation sets for a substance, one for each unit.

    Parameters:
        cas: A CAS number as typed. [-]
        nation: The nation the lab lies in. [-]
        data: Folder of the tables; those of this package unless told otherwise. [-]
    Returns:
        The limits; an empty sequence where none is on file for the substance, None where the nation has no data. [-]
    Raises:
        BadCas: Not a CAS number.

    >>> limits_of("64-19-7", nation="Scotland")[0].in_words
    '10 ppm over 8 hours, 20 ppm over 15 minutes'
    >>> limits_of("64-19-7", nation="Atlantis") is None
    True
    """
    number = check_cas(cas)
    of_nation = _by_nation(data).get(nation)
    return None if of_nation is None else tuple(limit for limit in of_nation if limit.cas == number)


def has_limit(cas: str) -> bool:
    """Return whether any nation on file sets a limit for a substance.

    Parameters:
        cas: A CAS number. [-]
    Returns:
        True when one does. [-]
    """
    return any(limit.cas == cas for limits in _by_nation(PACKAGED).values() for limit in limits)


@cache
def _by_nation(data: Path) -> dict[str, tuple[ExposureLimit, ...]]:
    by_nation: dict[str, tuple[ExposureLimit, ...]] = {}
    for row in read_table("exposure_limits", folder=data):
        limit = ExposureLimit(
            cas=check_cas(row["cas"]),
            twa=float(row["twa"]) if row["twa"] else None,
            stel=float(row["stel"]) if row["stel"] else None,
            unit=row["unit"],
            notation=row["notation"],
            source=row["source"],
            confidence=row["confidence"],
            edition=row["edition"],
            dated=row["dated"],
            known=row["known"],
            doubt=row["doubt"],
        )
        for nation in row["nation"].split(";"):
            by_nation[nation.strip()] = (*by_nation.get(nation.strip(), ()), limit)
    return by_nation
