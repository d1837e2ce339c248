"""The question of an assessment that asks less than is worked out stands on the adviser's first page until it is so."""

import pytest

from labsys.chemistry.care import SolutionKind
from labsys.products import service as products
from labsys.risk import service as assessments
from labsys.risk.models import Level
from tests.desk.conftest import Look
from tests.desk.reading import duties
from tests.desk.the_day import teach_process
from tests.support.assessing import approve, submit, write
from tests.support.lab import SmallLab, product_entry
from tests.support.pages import links

ASKS_LESS = {"glove_material": "none: lids on tanks", "controls": ((Level.PRACTICE, "Lids on tanks."),)}


def asked_of(page: str) -> list[str]:
    return [row.why for row in duties(page) if "worked out" in row.why]


@pytest.fixture
def asks_less(day: SmallLab):
    """The developer of the small lab declares H317: nitrile gloves are worked out, also for a closed tank."""
    process = teach_process(day, SolutionKind.DEVELOPER)
    assessment = assessments.queries.live_of_process(day.session, process.id)
    write(day, assessment, **ASKS_LESS)
    submit(day, assessment)
    approve(day, assessment)
    return assessment


def test_both_sides_stand_there_until_a_version_asks_as_much(look: Look, day: SmallLab, asks_less) -> None:
    page = look("safety adviser")
    told = asked_of(page)
    assert len(told) == 1
    assert (
        f"For the hands assessment {asks_less.code}, version 1 says “Gloves: none: lids on tanks”; worked out: "
        in told[0]
    )
    assert "gloves of 0.1 mm or more" in told[0]
    assert f"/assessments/{asks_less.id}" in links(page)
    assert asked_of(look("instructor")) == asked_of(look("member")) == []
    assessments.begin_next_version(day.act("technician"), assessment_id=asks_less.id)
    enough = (
        (Level.PROTECTION, "Nitrile gloves, from the developer to the wash."),
        (Level.PROTECTION, "Goggles that close all round, and a waterproof apron."),
        (Level.ENGINEERING, "Local exhaust ventilation over the sink."),
    )
    write(day, asks_less, controls=enough)
    submit(day, asks_less)
    assert len(asked_of(look("safety adviser"))) == 1  # not approved yet
    approve(day, asks_less)
    assert asked_of(look("safety adviser")) == []


def test_the_question_goes_when_the_entries_change(look: Look, day: SmallLab, asks_less) -> None:
    plain = product_entry(SolutionKind.DEVELOPER, h_codes="", ingredients=[])
    products.change_product(day.act("technician"), product_id=day.ids["product developer"], sheet=plain)
    assert not any("For the hands" in why for why in asked_of(look("safety adviser")))
