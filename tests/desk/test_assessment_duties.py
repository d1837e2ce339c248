"""What the first page says of assessments and their actions, and to whom."""

from datetime import timedelta

import pytest

from labsys.chemistry.care import SolutionKind
from labsys.people.acts import Act
from labsys.products import service as products
from labsys.risk import actions
from tests.desk.conftest import Look
from tests.desk.reading import Row, duties
from tests.planning.furnishing import add_film_process
from tests.support.assessing import approved, begin, submit, write
from tests.support.lab import SmallLab, product_entry

pytestmark = pytest.mark.sqlite_only


def add_action(lab: SmallLab, assessment_id: int, *, owner: str, days: int, text: str = "Hang up goggles") -> None:
    actions.add_action(
        lab.act("technician"),
        assessment_id=assessment_id,
        text=text,
        owner_id=lab.ids[owner],
        due_on=(lab.now + timedelta(days=days)).date(),
    )


def whats(rows: list[Row]) -> list[str]:
    return [row.what.partition(" AS-")[0] for row in rows]


def test_a_process_nobody_has_assessed_is_named(look: Look, lab: SmallLab) -> None:
    process = add_film_process(lab)
    for role in ("technician", "safety adviser"):
        (row,) = duties(look(role))
        assert (row.what, row.why) == ("Processes nobody has assessed", process.name)
        assert row.act == "Assess: Processes nobody has assessed"
    assert duties(look("member")) == []
    begin(lab, process)
    assert duties(look("technician")) == []


def test_one_that_waits_is_for_those_who_approve(look: Look, lab: SmallLab) -> None:
    process = add_film_process(lab)
    assessment = begin(lab, process)
    write(lab, assessment)
    submit(lab, assessment)
    (row,) = duties(look("safety adviser"))
    assert (row.why, row.act.partition(":")[0]) == ("Its assessment waits for approval", "Read and approve")
    assert duties(look("technician")) == []


def test_one_out_of_date_says_why(look: Look, lab: SmallLab) -> None:
    process = add_film_process(lab)
    approved(lab, process)
    assert duties(look("technician")) == []
    products.change_product(
        lab.act("technician"),
        product_id=lab.ids["product fixer"],
        sheet=product_entry(SolutionKind.FIXER, sds_date=lab.now.date()),
    )
    products.confirm_product(
        Act(lab.session, by=lab.person("safety adviser"), now=lab.tick()), product_id=lab.ids["product fixer"]
    )
    (row,) = duties(look("technician"))
    assert row.why == (
        "Assessment out of date: the SDS of Rapid fixer concentrate is newer (2 Mar 2026) than the one assessed "
        "(1 May 2025)"
    )


def test_an_action_shows_to_its_owner_and_to_the_adviser(look: Look, lab: SmallLab) -> None:
    assessment = approved(lab, add_film_process(lab))
    number = assessment.id
    add_action(lab, number, owner="instructor", days=-1, text="Overdue")
    add_action(lab, number, owner="technician", days=14, text="In a fortnight")
    add_action(lab, number, owner="technician", days=15, text="Later")
    assert whats(duties(look("instructor"))) == ["Overdue"]
    assert duties(look("instructor"))[0].why.startswith("Yours, overdue since 1 Mar 2026.")
    assert whats(duties(look("technician"))) == ["In a fortnight"]
    assert whats(duties(look("safety adviser"))) == ["Overdue", "In a fortnight"]
    assert duties(look("safety adviser"))[0].why.startswith("For Ines Carrow, overdue since 1 Mar 2026.")
    assert duties(look("member")) == []
