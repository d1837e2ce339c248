"""Substances that may not simply be kept or used, with the rule and where it is said."""

from dataclasses import dataclass

from .cas import check_cas
from .tables import read_table


@dataclass(frozen=True)
class Restriction:
    """What a substance may not be used for, or where it may not stand."""

    cas: str
    rule: str
    source: str
    confidence: str


def restriction(cas: str) -> Restriction | None:
    """Return the restriction on a substance; None where none is on file, which is no promise that there is none.

    Parameters:
        cas: A CAS number as typed. [-]
    Returns:
        The restriction. [-]
    Raises:
        BadCas: Not a CAS number.

    >>> restriction("7681-52-9").rule
    'Never in a room with acid, fixer or ammonia.'
    """
    number = check_cas(cas)
    return next((Restriction(**row) for row in read_table("restricted") if row["cas"] == number), None)
