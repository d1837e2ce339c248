"""How long records are kept, when extraction is tested again, and when a consignee's return is due.

Source: COSHH Regulations 2002 regs 9 to 11 (read in the Northern Ireland text with the same periods; how long a test's
record is kept from memory), Hazardous Waste Regulations 2005 as restated in gov.uk guidance, RIDDOR 2013 reg 12 (from
memory).
"""

from calendar import monthrange
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

_EXTRACTION_TEST_MONTHS = 14


class RecordKind(StrEnum):
    """Kinds of record with a period of their own."""

    HEALTH = "health record"
    PERSONAL_MONITORING = "monitoring of a person"
    OTHER_MONITORING = "other monitoring"
    EXTRACTION_TEST = "extraction or respirator test"
    ASSESSMENT = "assessment"
    INDUCTION = "induction"
    REPORTABLE_INJURY = "reportable injury"
    HAZARDOUS_WASTE = "hazardous waste"
    OTHER_WASTE = "other waste"


@dataclass(frozen=True)
class Period:
    """How long a kind of record is kept; no years means that no period is fixed in law."""

    years: int | None
    counted_from: str
    source: str


_LINKED = "as long as the longest record that leans on it"
_NI = "NISR 2003/34 reg 10, read in legislation.gov.uk; GB period from memory"
PERIODS = {
    RecordKind.HEALTH: Period(40, "last entry", "NISR 2000/120 reg 11, read in legislation.gov.uk; GB from memory"),
    RecordKind.PERSONAL_MONITORING: Period(40, "last entry", _NI),
    RecordKind.OTHER_MONITORING: Period(5, "last entry", _NI),
    RecordKind.EXTRACTION_TEST: Period(5, "date made", "COSHH 2002 reg 9, from memory"),
    RecordKind.ASSESSMENT: Period(None, _LINKED, "COSHH 2002 reg 6, from memory"),
    RecordKind.INDUCTION: Period(None, _LINKED, "COSHH 2002 reg 12, from memory"),
    RecordKind.REPORTABLE_INJURY: Period(3, "date made", "RIDDOR 2013 reg 12, from memory"),
    RecordKind.HAZARDOUS_WASTE: Period(3, "collection", "gov.uk guidance for producers, read in a copy"),
    RecordKind.OTHER_WASTE: Period(2, "collection", "waste transfer notes, from memory"),
}


def keep_until(kind: RecordKind, *, counted_from: date) -> date | None:
    """Return the first day on which a record may be let go.

    Parameters:
        kind: What kind of record. [-]
        counted_from: The day its period starts, as `PERIODS` says. [-]
    Returns:
        The day, never a day early (29 February ends on 1 March); None where no period is fixed. [-]

    >>> keep_until(RecordKind.HAZARDOUS_WASTE, counted_from=date(2026, 5, 4))
    datetime.date(2029, 5, 4)
    """
    years = PERIODS[kind].years
    if years is None:
        return None
    try:
        return counted_from.replace(year=counted_from.year + years)
    except ValueError:
        return date(counted_from.year + years, 3, 1)


def next_extraction_test(last_tested: date) -> date:
    """Return the last day by which local extraction is examined and tested again: 14 months later.

    Parameters:
        last_tested: Day of the last thorough examination and test. [-]
    Returns:
        The due day, never a day late (a missing day of the month becomes the month's last). [-]
    Source:
        COSHH 2002 reg 9(2): fourteen months, read in the Northern Ireland text, NISR 2003/34 reg 9.

    >>> next_extraction_test(date(2025, 12, 31))
    datetime.date(2027, 2, 28)
    """
    month = last_tested.month - 1 + _EXTRACTION_TEST_MONTHS
    year, month = last_tested.year + month // 12, month % 12 + 1
    return date(year, month, min(last_tested.day, monthrange(year, month)[1]))


def consignee_return_due(received: date) -> date:
    """Return the last day for the consignee's return on hazardous waste: a month after the quarter it came in.

    Parameters:
        received: Day on which the consignee took the waste in. [-]
    Returns:
        The due day, in England and Wales. [-]
    Source:
        SI 2005/894 reg 53(4), read with gov.uk on consignee returns.

    >>> consignee_return_due(date(2026, 11, 5))
    datetime.date(2027, 1, 31)
    """
    month = (received.month - 1) // 3 * 3 + 4
    year, month = received.year + month // 13, (month - 1) % 12 + 1
    return date(year, month, monthrange(year, month)[1])
