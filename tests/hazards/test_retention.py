"""How long records are kept."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.hazards.retention import PERIODS, RecordKind, keep_until, next_extraction_test

YEARS = [
    (RecordKind.HEALTH, 40, "NISR 2000/120 reg 11, read in legislation.gov.uk"),
    (RecordKind.PERSONAL_MONITORING, 40, "NISR 2003/34 reg 10, read in legislation.gov.uk"),
    (RecordKind.OTHER_MONITORING, 5, "NISR 2003/34 reg 10, read in legislation.gov.uk"),
    (RecordKind.EXTRACTION_TEST, 5, "COSHH 2002 reg 9, from memory"),
    (RecordKind.REPORTABLE_INJURY, 3, "RIDDOR 2013 reg 12, from memory"),
    (RecordKind.HAZARDOUS_WASTE, 3, "gov.uk guidance for producers, read in a copy"),
    (RecordKind.OTHER_WASTE, 2, "from memory"),
    (RecordKind.ASSESSMENT, None, "no period fixed; COSHH 2002 reg 6, from memory"),
    (RecordKind.INDUCTION, None, "no period fixed; COSHH 2002 reg 12, from memory"),
]


@pytest.mark.parametrize(("kind", "years", "source"), YEARS)
def test_a_record_is_kept_as_long_as_the_law_says(kind, years, source):
    until = keep_until(kind, counted_from=date(2026, 5, 4))
    assert until == (date(2026 + years, 5, 4) if years else None), source


def test_every_kind_of_record_has_a_period_and_a_source():
    assert set(PERIODS) == set(RecordKind)
    assert all(period.source and period.counted_from for period in PERIODS.values())


def test_a_leap_day_is_never_let_go_early():
    assert keep_until(RecordKind.OTHER_MONITORING, counted_from=date(2024, 2, 29)) == date(2029, 3, 1)
    assert keep_until(RecordKind.HEALTH, counted_from=date(2024, 2, 29)) == date(2064, 2, 29)


@pytest.mark.parametrize(
    ("tested", "due"),
    [
        (date(2026, 1, 15), date(2027, 3, 15)),
        (date(2026, 11, 30), date(2028, 1, 30)),
        (date(2025, 12, 31), date(2027, 2, 28)),
        (date(2026, 12, 31), date(2028, 2, 29)),
        (date(2026, 10, 1), date(2027, 12, 1)),
        (date(2025, 1, 31), date(2026, 3, 31)),
    ],
)
def test_extraction_is_tested_again_within_fourteen_months(tested, due):
    """Calculated from NISR 2003/34 reg 9, fourteen months; the month's last day where the day is missing."""
    assert next_extraction_test(tested) == due


@given(st.dates(date(2000, 1, 1), date(2100, 1, 1)))
def test_the_next_test_lies_fourteen_months_on_whatever_the_day(tested):
    due = next_extraction_test(tested)
    assert (due.year * 12 + due.month) - (tested.year * 12 + tested.month) == 14
    assert timedelta(days=423) <= due - tested <= timedelta(days=428)
