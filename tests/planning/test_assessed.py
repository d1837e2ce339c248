"""What to wear on the plan: by the approved assessment, or worked out, and the stricter where they differ."""

import pytest

from labsys.hazards.protective import Equipment
from labsys.products import service as products
from labsys.risk.models import Level
from labsys.risk.protection import strength_of
from tests.planning.furnishing import add_film_process
from tests.planning.looking import address
from tests.support.assessing import approved, begin
from tests.support.lab import product_entry
from tests.support.pages import hidden, pdf_text, source, text


def test_a_process_nobody_assessed_says_so_and_whom_to_ask(lab, member):
    process = add_film_process(lab)
    told = text(member.get(address(process)))
    assert "Nobody has assessed this process: what to wear is worked out from the SDS. Ask the safety adviser" in told
    assert "says nothing" not in told
    assert "The stricter stands" not in told
    begin(lab, process)
    assert "Its assessment is not approved: what to wear is worked out" in text(member.get(address(process)))


def test_an_approved_assessment_speaks_and_one_that_asks_less_is_overruled(lab, member):
    process = add_film_process(lab)
    assessment = approved(
        lab, process, glove_material="none: lids on tanks", controls=((Level.PROTECTION, "Goggles for everybody."),)
    )
    told = text(member.get(address(process)))
    assert f"By the approved assessment {assessment.code}, version 1" in told
    assert f"Goggles for everybody assessment {assessment.code}" in told
    assert "says “Gloves: none: lids on tanks”; worked out: Nitrile gloves of 0.1 mm or more" in told
    assert "The stricter stands until the safety adviser decides." in told


# Changed before their breakthrough time is over: common practice, no source.
GLOVES = [
    (30, "Gloves: nitrile, 0.2 mm, new after a splash and before 30 minutes (breakthrough) assessment"),
    (
        60,
        "before 60 minutes (breakthrough); until the safety adviser decides, new after a splash or 30 minutes "
        "assessment",
    ),
    (
        60,
        "(breakthrough)”; worked out: Nitrile gloves of 0.1 mm or more, new after a splash or 30 minutes. The stricter",
    ),
    (None, "Gloves: nitrile, 0.2 mm, new after a splash or 30 minutes: their breakthrough time is not stated"),
]


@pytest.mark.parametrize(("minutes", "said"), GLOVES)
def test_the_gloves_of_an_assessment_say_when_they_are_changed(lab, member, minutes, said):
    process = add_film_process(lab)
    approved(
        lab,
        process,
        glove_material="nitrile, 0.2 mm",
        glove_minutes=minutes,
        glove_source="the maker's data" if minutes else "",
        controls=((Level.PROTECTION, "Gloves and goggles at the sink."),),
    )
    assert said in text(member.get(address(process)))


WORDS = [
    (Equipment.HANDS, "Nitrile gloves", 2),
    (Equipment.HANDS, "Gloves or tongs", 1),
    (Equipment.HANDS, "Tongs for every print", 1),
    (Equipment.HANDS, "No gloves, lids on tanks", 0),
    (Equipment.HANDS, "Gloves are not needed", 0),
    (Equipment.HANDS, "Butyl gloves, not thin nitrile", 3),
    (Equipment.HANDS, "Nitrile or neoprene gloves", 2),
    (Equipment.EYES, "Safety glasses", 1),
    (Equipment.EYES, "Goggles that close all round", 2),
    (Equipment.VENTILATION, "General ventilation running", 1),
]


@pytest.mark.parametrize(("kind", "words", "strength"), WORDS)
def test_how_much_a_rule_asks_is_told_from_its_words(kind, words, strength):
    assert strength_of(kind, words) == strength


def test_an_assessment_out_of_date_says_so_on_the_plan_and_on_the_sheet(lab, member):
    process = add_film_process(lab)
    assessment = approved(lab, process)
    products.change_product(
        lab.act("technician"),
        product_id=lab.ids["product developer"],
        sheet=product_entry("developer", h_codes="H302 H317 H318 H334 H341 H351 H410"),
    )
    page = member.get(address(process))
    said = f"Assessment {assessment.code}, version 1, is out of date: ask the safety adviser first."
    assert f"{said} Why: " in text(page)
    sent = {
        **hidden(source(page), ("csrf_token", "submission_key")),
        "process_id": process.id,
        "size": "120",
        "count": 5,
    }
    printed = pdf_text(member.post("/documents/session-sheet", data=sent, follow_redirects=True).data)
    assert said in " ".join(printed.split())
