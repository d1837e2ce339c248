"""When an assessment is out of date, on plain values."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.processes.models import ProcessStep
from labsys.risk.review import Facts, SubstanceFacts, fingerprint, why_out_of_date

LONDON = ZoneInfo("Europe/London")
TODAY = date(2026, 6, 1)
APPROVED = datetime(2026, 3, 2, 12, tzinfo=UTC)
FIXER = SubstanceFacts("Fixer", assessed_version=2, version=2, assessed_sds=date(2025, 5, 1), sds=date(2025, 5, 1))
SOUND = Facts(
    since=APPROVED, review_on=date(2027, 3, 1), substances=(FIXER,), assessed_fingerprint="a", fingerprint="a"
)
LATER = APPROVED + timedelta(days=1)


def why(**changes):
    return why_out_of_date(replace(SOUND, **changes), today=TODAY, zone=LONDON)


def why_of_fixer(**changes):
    return why(substances=(replace(FIXER, **changes),))


def test_what_nothing_has_happened_to_still_holds():
    assert why() == ()


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"sds": date(2026, 3, 3)}, "the SDS of Fixer is newer (3 Mar 2026) than the one assessed (1 May 2025)"),
        (
            {"assessed_sds": None, "sds": date(2026, 3, 3)},
            "the SDS of Fixer is newer (3 Mar 2026) than the one assessed",
        ),
        ({"version": 3}, "the entries of Fixer were changed since it was assessed"),
        ({"incident_at": LATER}, "an incident with Fixer was reported on 3 Mar 2026, after this version"),
    ],
)
def test_a_product_that_moved_on_is_said(changes, reason):
    assert why_of_fixer(**changes) == (reason,)


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"review_on": date(2026, 5, 31)}, "its review was due on 31 May 2026"),
        (
            {"fingerprint": "b"},
            "the steps of the process were changed since: products, dilutions, times or temperatures",
        ),
        ({"incident_at": LATER}, "an incident in this process was reported on 3 Mar 2026, after this version"),
    ],
)
def test_what_happened_to_the_process_is_said(changes, reason):
    assert why(**changes) == (reason,)


@pytest.mark.parametrize(
    "changes",
    [
        {"review_on": TODAY},  # the day itself still counts
        {"review_on": None},
        {"incident_at": APPROVED},
        {"incident_at": APPROVED - timedelta(days=400)},
    ],
)
def test_what_came_before_or_is_not_due_yet_changes_nothing(changes):
    assert why(**changes) == ()


def test_an_older_sds_on_file_is_no_newer_one():
    assert why_of_fixer(sds=date(2024, 1, 1)) == ()
    assert why_of_fixer(sds=None) == ()


def test_the_day_of_an_incident_is_that_of_the_lab():
    at_night = datetime(2026, 5, 31, 23, 30, tzinfo=UTC)  # already 1 June in London
    assert "1 Jun 2026" in why(incident_at=at_night)[0]


def test_every_reason_is_said_once_the_review_last():
    found = why(
        substances=(replace(FIXER, version=3), replace(FIXER, version=3)), fingerprint="b", review_on=date(2026, 1, 1)
    )
    assert len(found) == 3
    assert found[-1].startswith("its review was due")


STEPS = st.lists(
    st.fixed_dictionaries(
        {
            "product_id": st.integers(1, 5),
            "water_parts_milli": st.none() | st.integers(0, 99_000),
            "seconds": st.none() | st.integers(1, 3_600),
            "temperature_milli_c": st.none() | st.integers(10_000, 40_000),
        }
    ),
    max_size=5,
)


@given(STEPS, STEPS)
def test_equal_steps_and_only_they_have_an_equal_fingerprint(one, other):
    digests = [fingerprint(ProcessStep(**step) for step in steps) for steps in (one, other)]
    assert (digests[0] == digests[1]) == (one == other)


def test_a_step_in_water_does_not_count():
    fixing = {"product_id": 1, "seconds": 300}
    washed = fingerprint([ProcessStep(**fixing), ProcessStep(product_id=None, seconds=600)])
    assert washed == fingerprint([ProcessStep(**fixing)])
