"""When checks are due: dates from outside the project, and one period with a source for each check of each kind."""

from datetime import date

import pytest

from labsys.equipment.models import CheckKind, EquipmentKind
from labsys.equipment.rules import counted, due, due_after, period_of, periods

LEV, EYEWASH, RCD = EquipmentKind.LOCAL_EXHAUST, EquipmentKind.EYEWASH, EquipmentKind.RCD


@pytest.mark.parametrize(
    ("kind", "check", "done_on", "due_on"),
    [
        # COSHH 2002 reg 9(2), read in NISR 2003/34 reg 9: at least every fourteen months. By hand.
        (LEV, CheckKind.EXAMINATION, date(2025, 3, 10), date(2026, 5, 10)),
        (LEV, CheckKind.EXAMINATION, date(2025, 12, 31), date(2027, 2, 28)),
        (LEV, CheckKind.EXAMINATION, date(2026, 12, 30), date(2028, 2, 29)),
        (LEV, CheckKind.LOOK, date(2026, 2, 26), date(2026, 3, 5)),  # HSE L5, read in an extract: weekly
        # ANSI Z358.1-2014, read in a checklist: run weekly, inspected yearly.
        (EYEWASH, CheckKind.RUN, date(2026, 12, 29), date(2027, 1, 5)),
        (EYEWASH, CheckKind.INSPECTION, date(2024, 2, 29), date(2025, 2, 28)),
        (RCD, CheckKind.TRIP, date(2026, 11, 30), date(2027, 2, 28)),  # common practice, no source: three months
    ],
)
def test_a_check_is_due_again(kind, check, done_on, due_on):
    assert due_after(period_of(kind, check), done_on) == due_on


def test_a_period_of_the_law_has_no_grace_and_one_of_the_house_has_the_labs():
    by_law = due(period_of(LEV, CheckKind.EXAMINATION), done_on=date(2025, 3, 10), has_passed=True, added_on=date.min)
    weekly = due(period_of(EYEWASH, CheckKind.RUN), done_on=date(2026, 3, 1), has_passed=True, added_on=date.min)
    assert [by_law.closes_on(days) for days in (None, 30)] == [date(2026, 5, 11), date(2026, 5, 11)]
    assert [weekly.closes_on(days) for days in (None, 0, 7)] == [date(2026, 3, 9), date(2026, 3, 9), date(2026, 3, 16)]


def test_every_kind_is_checked_and_each_period_names_its_source():
    assert set(periods()) == set(EquipmentKind)
    assert all(period.source for of_kind in periods().values() for period in of_kind)
    ventilation = {period.check for period in periods()[EquipmentKind.VENTILATION]}
    assert not ventilation & {CheckKind.EXAMINATION, CheckKind.LOOK}  # those are of local exhaust


def test_instruments_count_as_the_worst_of_them_and_one_never_checked_as_twice_an_ordinary_one():
    """By hand: off by 0.2 against what is good to 0.1 is 0.3; twice ± 0.5 °C (common practice, no source) is 1."""
    kind = EquipmentKind.THERMOMETER
    checked = counted(kind, [300_000, 150_000], never_micro=1_000_000)
    unchecked = counted(kind, [300_000, None], never_micro=1_000_000)
    far_off = counted(kind, [1_400_000, None], never_micro=1_000_000)
    assert checked is not None
    assert unchecked is not None
    assert far_off is not None
    assert (checked.off, unchecked.off, far_off.off) == (0.3, 1.0, 1.4)
    assert "not known" in unchecked.said
    assert counted(kind, [], never_micro=1_000_000) is None
