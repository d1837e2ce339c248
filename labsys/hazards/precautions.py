"""Choosing a few precautionary statements: those of the classes, without what another already says, six at most.

Source: CLP Annex I label tables after Regulation (EU) 2019/521; each row of the table names how it is known. The order
of importance is our own choice for open trays and bottles handled by many people.
"""

from collections.abc import Iterable
from functools import cache

from .tables import read_table

MOST = 6
_NEVER = ("P320", "P321")  # "specific treatment" needs text that a small label has no room for
_SAID_BY = {  # statement: those that make it redundant
    "P261": ("P260",),
    "P262": ("P280",),
    "P302+P352": ("P303+P361+P353",),
    "P362+P364": ("P303+P361+P353", "P361+P364"),
    "P361+P364": ("P303+P361+P353",),
    "P363": ("P361+P364", "P362+P364"),
    "P301+P312": ("P301+P310", "P301+P330+P331"),
    "P301+P310": ("P301+P330+P331",),
    "P330": ("P301+P330+P331", "P301+P310", "P301+P312"),
    "P331": ("P301+P330+P331",),
    "P311": ("P310", "P301+P310"),
    "P312": ("P310", "P311", "P301+P310", "P301+P312"),
    "P332+P313": ("P333+P313", "P303+P361+P353"),
    "P337+P313": ("P310",),
    "P314": ("P308+P313", "P308+P311"),
    "P308+P313": ("P308+P311", "P310"),
    "P271": ("P403+P233",),
}
_IMPORTANCE = (
    *("P280", "P305+P351+P338", "P303+P361+P353", "P301+P310", "P301+P330+P331", "P310", "P302+P352", "P260", "P210"),
    *("P304+P340", "P342+P311", "P308+P311", "P201", "P261", "P308+P313", "P333+P313", "P301+P312", "P273", "P220"),
    *("P501", "P264", "P284", "P271", "P272", "P314", "P391", "P311", "P312", "P361+P364", "P362+P364", "P202"),
    *("P270", "P263", "P262", "P330", "P331", "P332+P313", "P337+P313", "P363", "P405", "P403+P233", "P403+P235"),
    *("P370+P378", "P371+P380+P375", "P306+P360", "P283", "P233", "P234", "P240", "P241", "P242", "P243", "P390"),
    *("P406", "P420"),
)


@cache
def _rows() -> dict[str, tuple[str, ...]]:
    columns = ("prevention", "response", "storage", "disposal")
    return {
        code: tuple(p_code for column in columns for p_code in row[column].split())
        for row in read_table("precautionary")
        for code in row["h_codes"].split()
    }


def all_precautions(h_code: str) -> tuple[str, ...]:
    """Return every precautionary statement the label table gives for a hazard statement.

    Parameters:
        h_code: One hazard statement code. [-]
    Returns:
        P codes: prevention, response, storage, disposal; none when the table has no row. [-]
    """
    return _rows().get(h_code, ())


def choose_precautions(h_codes: Iterable[str]) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Choose at most six precautionary statements for a label.

    Parameters:
        h_codes: Single hazard statement codes. [-]
    Returns:
        The chosen P codes in numerical order, and the hazard statements for which none are on file. [-]

    >>> choose_precautions(["H319"])[0]
    ('P264', 'P280', 'P305+P351+P338', 'P337+P313')
    """
    codes = tuple(h_codes)
    offered = {p_code for code in codes for p_code in all_precautions(code)} - set(_NEVER)
    kept = {p_code for p_code in offered if not offered & set(_SAID_BY.get(p_code, ()))}
    foremost = sorted(kept, key=_IMPORTANCE.index)[:MOST]
    return tuple(sorted(foremost)), tuple(code for code in codes if code not in _rows())
