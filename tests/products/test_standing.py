"""The one decision whether anything may be mixed from a product, and how its SDS stands."""

from datetime import UTC, date, datetime, timedelta

import pytest

from labsys.chemistry.care import SolutionKind
from labsys.people.models import Person
from labsys.products.models import Confirmation, DataSheet, InterimApproval, Product, SdsRule
from labsys.products.rules import ProductRefused
from labsys.products.standing import SdsState, check_interim, review_due, sds_state, standing_of

TODAY = date(2026, 3, 3)
ISSUED = date(2025, 5, 1)


def sheet(issued_on: date = ISSUED, *, due: date | None = None) -> DataSheet:
    return DataSheet(issued_on=issued_on, review_due=due or review_due(issued_on))


def interim(last_day: date, *, version: int = 1, first_day: date = TODAY) -> InterimApproval:
    return InterimApproval(
        version=version,
        first_day=first_day,
        last_day=last_day,
        reason="The sheet is on its way.",
        approved_by=Person(name="Odile"),
    )


def product(*, confirmed: bool = True, sheets: tuple[DataSheet, ...] = (), **changes: object) -> Product:
    made = Product(
        name="Rapid fixer", kind=SolutionKind.FIXER, version=1, sds_date=ISSUED, data_sheets=list(sheets), **changes
    )
    if confirmed:
        made.confirmations = [Confirmation(version=1, confirmed_at=datetime(2026, 3, 1, tzinfo=UTC))]
    return made


@pytest.mark.parametrize(
    ("newest", "entries_of", "state"),
    [
        (None, ISSUED, SdsState.NONE),
        (sheet(), ISSUED, SdsState.CURRENT),
        (sheet(due=TODAY), ISSUED, SdsState.CURRENT),
        (sheet(due=TODAY - timedelta(days=1)), ISSUED, SdsState.REVIEW_OVERDUE),
        (sheet(date(2025, 6, 1)), ISSUED, SdsState.ENTRIES_OLDER),
        (sheet(), None, SdsState.ENTRIES_OLDER),
        (sheet(date(2024, 6, 1)), ISSUED, SdsState.FILE_OLDER),
    ],
)
def test_the_newest_sheet_is_compared_with_the_entries(newest: DataSheet | None, entries_of: date | None, state: str):
    assert sds_state(newest, entries_of=entries_of, today=TODAY) is state


def test_a_missing_sds_is_only_shown_unless_the_lab_chose_that_it_blocks():
    shown = standing_of(product(), today=TODAY, sds_rule=SdsRule.SHOWN)
    assert (shown.may_mix, shown.words, shown.sds) == (True, "", SdsState.NONE)
    blocked = standing_of(product(), today=TODAY, sds_rule=SdsRule.BLOCKS)
    assert not blocked.may_mix
    assert "without a current SDS" in blocked.words
    assert standing_of(product(sheets=(sheet(),)), today=TODAY, sds_rule=SdsRule.BLOCKS).may_mix


@pytest.mark.parametrize("rule", SdsRule)
def test_what_nobody_confirmed_is_always_blocked(rule: SdsRule):
    standing = standing_of(product(confirmed=False, sheets=(sheet(),)), today=TODAY, sds_rule=rule)
    assert not standing.may_mix
    assert "Nobody has confirmed" in standing.words


def test_an_interim_approval_stands_through_its_last_day_for_its_version_only():
    made = product(confirmed=False, interim_approvals=[interim(TODAY)])
    standing = standing_of(made, today=TODAY, sds_rule=SdsRule.BLOCKS)
    assert standing.may_mix
    assert standing.words == "Interim approval until 3 Mar 2026 by Odile: The sheet is on its way."
    after = standing_of(made, today=TODAY + timedelta(days=1), sds_rule=SdsRule.SHOWN)
    assert (after.may_mix, after.words.startswith("The interim approval ended on 3 Mar 2026.")) == (False, True)
    made.version = 2
    assert not standing_of(made, today=TODAY, sds_rule=SdsRule.SHOWN).may_mix


def check(made: Product, last_day: date, *, today: date = TODAY) -> None:
    standing = standing_of(made, today=today, sds_rule=SdsRule.SHOWN)
    check_interim(made, standing=standing, last_day=last_day, today=today)


def test_an_interim_approval_runs_at_most_31_days_in_all():
    waiting = product(confirmed=False)
    check(waiting, TODAY)
    check(waiting, TODAY + timedelta(days=31))
    for day, says in ((TODAY + timedelta(days=32), "At most 31 days"), (TODAY - timedelta(days=1), "has gone by")):
        with pytest.raises(ProductRefused, match=says):
            check(waiting, day)
    waiting.interim_approvals = [interim(TODAY + timedelta(days=20))]
    later = TODAY + timedelta(days=25)
    check(waiting, TODAY + timedelta(days=31), today=later)
    with pytest.raises(ProductRefused, match="counted from the first approval"):
        check(waiting, TODAY + timedelta(days=32), today=later)


def test_no_interim_approval_is_given_where_nothing_stands_against_mixing():
    with pytest.raises(ProductRefused, match="no interim approval is needed"):
        check(product(), TODAY)
