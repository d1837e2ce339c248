"""How somebody stands with a competence, as of any day and by what was known at any instant."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from labsys.competences import rules
from labsys.competences.models import Competence, CompetenceGrant
from labsys.competences.rules import CompetenceRefused, CompetenceState
from labsys.people.models import Person

ZONE = ZoneInfo("Europe/London")
SHOWN = date(2026, 3, 2)
ENTERED = datetime(2026, 3, 4, 9, tzinfo=UTC)
SEEN = datetime(2026, 3, 5, 9, tzinfo=UTC)


def granted(**changes):
    told = {
        "id": 1,
        "competence": Competence.POWDERS,
        "person_id": 1,
        "granted_by_id": 2,
        "witness_id": 3,
        "witness": Person(name="Ines Carrow"),
        "may_grant": False,
        "happened_on": SHOWN,
        "until": date(2026, 6, 1),
        "granted_at": ENTERED,
        "witnessed_at": SEEN,
        "revoked_at": None,
    }
    return CompetenceGrant(**{**told, **changes})


def state(*grants, on, known_at=datetime(2030, 1, 1, tzinfo=UTC)):
    return rules.held(grants, on=on, known_at=known_at, zone=ZONE).state


@pytest.mark.parametrize(
    ("changes", "on", "wanted"),
    [
        ({}, date(2026, 3, 1), CompetenceState.NEVER),  # not shown yet on that day
        ({}, SHOWN, CompetenceState.CURRENT),  # by when it happened, as known now
        ({}, date(2026, 6, 1), CompetenceState.CURRENT),  # the last day is in
        ({}, date(2026, 6, 2), CompetenceState.LAPSED),
        ({"witnessed_at": None}, date(2026, 4, 1), CompetenceState.WAITING),
        ({"witness_id": None, "witnessed_at": None}, date(2026, 4, 1), CompetenceState.CURRENT),  # alone
        ({"revoked_at": datetime(2026, 4, 1, 9, tzinfo=UTC)}, date(2026, 3, 31), CompetenceState.CURRENT),
        ({"revoked_at": datetime(2026, 4, 1, 9, tzinfo=UTC)}, date(2026, 4, 1), CompetenceState.REVOKED),
        # 23:30 UTC in summer is the next day in the lab
        ({"revoked_at": datetime(2026, 4, 1, 23, 30, tzinfo=UTC)}, date(2026, 4, 1), CompetenceState.CURRENT),
    ],
)
def test_what_was_true_on_a_day_goes_by_when_it_happened(changes, on, wanted):
    assert state(granted(**changes), on=on) is wanted


@pytest.mark.parametrize(
    ("known_at", "wanted"),
    [
        (ENTERED - timedelta(seconds=1), CompetenceState.NEVER),
        (ENTERED, CompetenceState.WAITING),
        (SEEN, CompetenceState.CURRENT),
        (datetime(2026, 3, 20, tzinfo=UTC), CompetenceState.REVOKED),
    ],
)
def test_what_the_lab_knew_goes_by_when_it_was_entered(known_at, wanted):
    revoked = granted(revoked_at=datetime(2026, 3, 10, tzinfo=UTC))
    assert state(revoked, on=date(2026, 3, 20), known_at=known_at) is wanted


def test_one_that_holds_decides_over_one_revoked_and_one_that_waits():
    revoked = granted(revoked_at=datetime(2026, 3, 10, tzinfo=UTC))
    waits = granted(id=2, witnessed_at=None)
    holds = granted(id=3)
    assert state(revoked, waits, holds, on=date(2026, 4, 1)) is CompetenceState.CURRENT
    assert state(revoked, waits, on=date(2026, 4, 1)) is CompetenceState.WAITING


def test_one_with_the_right_to_grant_decides_over_a_longer_one_without():
    longer = granted(until=date(2026, 12, 1))
    passing_on = granted(id=2, may_grant=True)
    assert rules.held([longer, passing_on], on=date(2026, 4, 1), known_at=SEEN, zone=ZONE).may_grant
    assert not rules.held([longer, passing_on], on=date(2026, 7, 1), known_at=SEEN, zone=ZONE).may_grant


@pytest.mark.parametrize(
    ("happened_on", "until", "field"),
    [
        (date(2026, 3, 3), date(2026, 6, 1), "happened_on"),  # tomorrow
        (date(2026, 2, 1), date(2026, 3, 1), "until"),  # over already
        (date(2026, 3, 2), date(2031, 3, 8), "until"),  # over five years
    ],
)
def test_days_that_cannot_be(happened_on, until, field):
    with pytest.raises(CompetenceRefused) as refused:
        rules.check_days(happened_on=happened_on, until=until, today=date(2026, 3, 2))
    assert refused.value.field == field
