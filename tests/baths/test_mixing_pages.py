"""Mixing and replenishing on the pages: the plan, what to measure out, what was really measured, and bad input."""

import re

import pytest

from labsys.baths import queries
from labsys.baths.models import Batch, Bath, Place
from labsys.chemistry.care import SolutionKind
from labsys.labware.models import OwnedCylinder
from labsys.ledger import queries as ledger
from labsys.people.acts import Act
from labsys.store import counting
from labsys.store import queries as store_queries
from tests.baths.conftest import MIXED, plan, rows
from tests.support.lab import SmallLab
from tests.support.pages import press, send, text


def level_ml(lab: SmallLab, bottle) -> float:
    lab.session.expire_all()
    return bottle.vessel.level / 1_000


def mix_developer(lab, technician, bottle, **changes):
    measured = {**rows((bottle.id, "357")), "water": "2143", **MIXED, **changes}
    return send(technician, plan(lab), **measured)


@pytest.mark.sqlite_only
def test_two_and_a_half_litres_of_1_6_need_357_ml_of_concentrate(lab, technician):
    """2500 mL / 7 = 357 mL: common practice, no source."""
    lab.add_bottle(SolutionKind.DEVELOPER)
    page = text(technician.get(plan(lab)))
    assert "357 mL" in page
    assert "Water 2143 mL" in page
    assert "Fill the 500 mL cylinder to 355 mL." in page
    assert "Good enough." in page
    assert "Water first" in page


@pytest.mark.sqlite_only
def test_developer_is_measured_in_its_own_cylinder_when_one_is_kept_for_it(lab, technician):
    """That developer has a cylinder of its own: common practice, no source."""
    lab.add_bottle(SolutionKind.DEVELOPER)
    lab.add_bottle(SolutionKind.FIXER)
    lab.add_cylinder(100, 1_000, kept_for=SolutionKind.DEVELOPER)
    developer, fixer = text(technician.get(plan(lab))), text(technician.get(plan(lab, "fixer")))
    assert "Use the measuring cylinder kept for developer alone." in developer
    assert "Fill 3 times the 100 mL cylinder to 100 mL, then the 100 mL cylinder to 57 mL." in developer
    assert "kept for" not in fixer
    assert "Fill the 500 mL cylinder to 500 mL." in fixer


@pytest.mark.sqlite_only
def test_a_lab_without_cylinders_is_told_so_and_still_mixes(lab, technician):
    bottle = lab.add_bottle(SolutionKind.DEVELOPER)
    lab.session.query(OwnedCylinder).delete()
    lab.session.commit()
    assert "No measuring cylinder is entered" in text(technician.get(plan(lab)))
    assert mix_developer(lab, technician, bottle).status_code == 303


@pytest.mark.sqlite_only
def test_a_mix_too_small_to_measure_says_how_much_to_mix_instead(lab, technician):
    lab.add_bottle(SolutionKind.DEVELOPER)
    page = text(technician.get(plan(lab, volume="35 mL")))
    assert "Not good enough" in page
    assert "or more" in page


def test_a_bath_is_mixed_from_what_was_really_measured(lab, technician):
    bottle = lab.add_bottle(SolutionKind.DEVELOPER)
    answer = mix_developer(lab, technician, bottle, **rows((bottle.id, "360")), name="Проявитель плёнки")
    assert answer.status_code == 303
    page = technician.get(answer.location)
    words = text(page)
    assert "Проявитель плёнки" in words
    assert "360 mL from PQ liquid concentrate" in words
    assert "0.7 % stronger than intended" in words
    assert level_ml(lab, bottle) == 640
    assert ledger.wrong_levels(lab.session) == []


@pytest.mark.sqlite_only
def test_an_unconfirmed_product_is_shown_as_not_usable_and_why(lab, technician):
    product = lab.add_product(SolutionKind.FIXER, confirmed=False, name="Hardening fixer concentrate")
    lab.ids["product fixer"] = product.id
    bottle = lab.add_bottle(SolutionKind.FIXER)
    page = technician.get("/baths/mix")
    assert "not usable yet Nobody has confirmed the hazards of" in text(page)
    assert f"product_id={product.id}" not in page.get_data(as_text=True)
    assert "Not usable yet." in text(technician.get(f"/baths/mix?product_id={product.id}"))
    answer = send(technician, plan(lab, "fixer"), **rows((bottle.id, "500")), water="2000", **MIXED)
    assert answer.status_code == 422
    assert "Nobody has confirmed the hazards" in text(answer)
    assert lab.count(Bath) == 0


@pytest.mark.sqlite_only
def test_a_product_without_bottles_is_not_offered(lab, technician):
    assert "Nothing to mix from" in text(technician.get("/baths/mix"))
    lab.add_bottle(SolutionKind.FIXER)
    page = text(technician.get("/baths/mix"))
    assert "Rapid fixer concentrate" in page
    assert "PQ liquid concentrate" not in page


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"typed_dilution": "1:4"}, "1+4 (20 % concentrate) or 1+3 (25 % concentrate)"),
        ({"typed_dilution": "strong"}, "write 1+N"),
        ({"typed_dilution": "1+1+100"}, "The bench works out the whole."),
        ({"dilution": "", "typed_dilution": ""}, "Choose a dilution from the list"),
        ({"volume": "2500"}, "Write the unit too"),
        ({"volume": "-2 L"}, "Enter an amount above zero"),
        ({"volume": "90000 L", "capacity": "90000 L"}, "That is more than 1,000 L"),
        ({"capacity": "2 L"}, "The vessel holds less than what is to be mixed"),
        ({"line_id": ""}, "Choose the line"),
    ],
)
def test_a_plan_that_cannot_be_is_refused_and_keeps_what_was_typed(lab, technician, changes, message):
    lab.add_bottle(SolutionKind.DEVELOPER)
    answer = technician.get(plan(lab, **changes))
    assert answer.status_code == 422
    assert message in text(answer).replace("&#34;", '"')
    assert ".." not in text(answer)
    assert all(f'value="{one}"' in answer.get_data(as_text=True) for one in changes.values() if one)


@pytest.mark.sqlite_only
def test_a_typed_dilution_is_used_instead_of_the_list(lab, technician):
    lab.add_bottle(SolutionKind.DEVELOPER)
    page = text(technician.get(plan(lab, typed_dilution="1+9")))
    assert "Makes 2.5 L of 1+9" in page
    assert "250 mL" in page


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"water": ""}, "Enter the volume that was really measured"),
        ({"water": "-3"}, "Enter an amount above zero"),
        ({"water": "two litres"}, "Write a number and its unit"),
        ({"bottles-0-amount": ""}, "Enter what was measured out of at least one bottle"),
        ({"bottles-0-amount": "", "bottles-0-left": "0"}, "Enter what was measured out of this bottle, too"),
        ({"bottles-0-amount": "-5"}, "Enter an amount above zero"),
        ({"bottles-0-amount": "357 furlongs"}, "is not a unit used here"),
        ({"name": ""}, "Name the bath"),
        ({"capacity": "2 L"}, "It holds 2 L"),
        ({"when": "2026-03-29T01:30"}, "did not exist: the clocks went forward"),
        ({"when": "2031-01-01T10:00"}, "That is in the future"),
    ],
)
@pytest.mark.sqlite_only
def test_a_mix_that_cannot_be_is_refused_and_nothing_is_written(lab, technician, fields, message):
    """The clock change: 29 March 2026 in Europe/London, by the IANA time zone database."""
    lab.now = lab.now.replace(month=6)
    bottle = lab.add_bottle(SolutionKind.DEVELOPER)
    answer = mix_developer(lab, technician, bottle, **fields)
    assert answer.status_code == 422
    assert message in text(answer).replace("&#34;", '"')
    assert ".." not in text(answer)
    page = answer.get_data(as_text=True)
    assert all(f'value="{typed}"' in page for typed in fields.values() if typed)
    assert lab.count(Bath) == 0
    assert level_ml(lab, bottle) == 1_000


def test_taking_more_than_the_book_knows_comes_back_with_the_way_to_correct_and_mix(lab, technician):
    short = lab.add_bottle(SolutionKind.DEVELOPER)
    counting.correct_level(
        Act(lab.session, by=lab.person("technician"), now=lab.now),
        bottle_id=short.id,
        found=300_000,
        found_at=lab.tick(),
    )
    refused = mix_developer(lab, technician, short)
    assert refused.status_code == 422
    assert "By the book" in text(refused)
    assert "enter what is left in it now (0 if it is empty)" in text(refused)
    assert lab.count(Bath) == 0
    mixed = mix_developer(lab, technician, short, **rows((short.id, "357", "0")))
    assert "Mixed" in text(technician.get(mixed.location))
    assert level_ml(lab, short) == 0
    assert ledger.wrong_levels(lab.session) == []


def test_two_people_taking_the_last_of_a_bottle_do_not_both_get_it(lab, technician, client_as):
    last = lab.add_bottle(SolutionKind.DEVELOPER, amount_ul=400_000)
    mine = technician.get(plan(lab)).get_data(as_text=True)
    theirs = technician.get(plan(lab)).get_data(as_text=True)
    fields = {**rows((last.id, "357")), "water": "2143", **MIXED}
    assert send(technician, plan(lab), opened=mine, **fields).status_code == 303
    late = send(technician, plan(lab), opened=theirs, **fields)
    assert late.status_code == 422
    assert "By the book" in text(late)
    assert lab.count(Bath) == 1
    assert level_ml(lab, last) == 43


def test_a_bottle_emptied_meanwhile_keeps_its_row_and_another_takes_the_rest(lab, technician):
    first, second = (lab.add_bottle(SolutionKind.DEVELOPER, amount_ul=357_000) for _ in range(2))
    opened = technician.get(plan(lab)).get_data(as_text=True)
    mix_developer(lab, technician, first)
    late = send(technician, plan(lab), opened=opened, **rows((first.id, "357")), water="2143", **MIXED)
    assert late.status_code == 422
    assert all(f'value="{one.id}"' in late.get_data(as_text=True) for one in (first, second))
    done = send(technician, plan(lab), **rows((second.id, "357")), water="2143", **MIXED)
    assert done.status_code == 303


@pytest.mark.sqlite_only
def test_the_oldest_opened_bottle_comes_first(lab, technician):
    """Using up what is open first: common practice, no source."""
    closed, opened = (lab.add_bottle(SolutionKind.DEVELOPER) for _ in range(2))
    mix_developer(lab, technician, opened)
    found = store_queries.offered(lab.session, product_id=lab.ids["product developer"], today=lab.now.date())
    assert [one.id for one in found] == [opened.id, closed.id]
    assert "By the book it holds 643 mL" in text(technician.get(plan(lab)))


def test_saving_a_mix_twice_mixes_once(lab, technician):
    bottle = lab.add_bottle(SolutionKind.DEVELOPER)
    opened = technician.get(plan(lab)).get_data(as_text=True)
    fields = {**rows((bottle.id, "357")), "water": "2143", **MIXED}
    first, second = (send(technician, plan(lab), opened=opened, **fields) for _ in range(2))
    assert first.location == second.location
    assert lab.count(Bath) == 1
    assert level_ml(lab, bottle) == 643


@pytest.mark.sqlite_only
def test_a_bath_mixed_as_a_spare_waits_until_it_is_put_in_service(lab, technician):
    old = lab.mix(SolutionKind.DEVELOPER, water_parts=6, working_ml=2_500)
    bottle = lab.add_bottle(SolutionKind.DEVELOPER)
    spare = mix_developer(lab, technician, bottle, begins="spare").location
    line = f"/baths/lines/{lab.film_line_id}"
    page = technician.get(line).get_data(as_text=True)
    assert "Spares" in page
    answer = press(technician, f"{spare}/put-in-service", opened=page)
    words = text(technician.get(answer.location))
    assert "is in service." in words
    assert "Waiting to be dumped" in words
    again = press(technician, f"{spare}/put-in-service", opened=page)
    assert "Saved already" in text(technician.get(again.location))
    assert queries.bath_or_raise(lab.session, old.id).out_of_service_at is not None


@pytest.mark.sqlite_only
def test_putting_in_service_what_is_in_service_is_refused_in_words(lab, technician):
    spare = lab.mix(SolutionKind.DEVELOPER, water_parts=6, working_ml=2_500, in_service=False)
    page = technician.get(f"/baths/{spare.id}").get_data(as_text=True)
    other = technician.get(f"/baths/{spare.id}").get_data(as_text=True)
    press(technician, f"/baths/{spare.id}/put-in-service", opened=page)
    late = press(technician, f"/baths/{spare.id}/put-in-service", opened=other)
    assert "is not a spare" in text(technician.get(late.location))


def test_replenishing_adds_what_was_measured_and_the_bath_takes_more(lab, technician):
    """2.5 L and 0.5 L at 20 rolls per litre take 60: calculated from the capacity entered."""
    fixer = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500)
    bottle = lab.add_bottle(SolutionKind.FIXER)
    path = f"/baths/{fixer.id}/replenish?volume=500+mL"
    assert "100 mL" in text(technician.get(path))
    answer = send(technician, path, **rows((bottle.id, "100")), water="400")
    assert answer.status_code == 303
    page = text(technician.get(f"/baths/{fixer.id}"))
    assert "about 60 rolls of 120" in page
    assert "Replenished" in page
    assert lab.count(Batch) == 2


@pytest.mark.sqlite_only
def test_replenishing_beyond_the_vessel_is_refused(lab, technician):
    fixer = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500)
    bottle = lab.add_bottle(SolutionKind.FIXER)
    path = f"/baths/{fixer.id}/replenish?volume=1+L"
    answer = send(technician, path, **rows((bottle.id, "200")), water="800")
    assert answer.status_code == 422
    assert "less than the 1 L" in text(answer)
    assert technician.get(f"/baths/{fixer.id}/replenish?volume=1").status_code == 422


def test_a_mix_that_never_was_is_taken_back_and_the_bottle_is_full_again(lab, technician):
    bottle = lab.add_bottle(SolutionKind.DEVELOPER)
    made = mix_developer(lab, technician, bottle).location
    page = technician.get(made).get_data(as_text=True)
    answer = press(technician, f"{made}/undo-mixing", opened=page)
    assert "is taken back" in text(technician.get(answer.location))
    assert level_ml(lab, bottle) == 1_000
    assert ledger.wrong_levels(lab.session) == []


@pytest.mark.sqlite_only
def test_a_used_bath_offers_no_taking_back_and_refuses_it(lab, technician):
    developer = lab.mix(SolutionKind.DEVELOPER, water_parts=6, working_ml=2_500)
    before = technician.get(f"/baths/{developer.id}").get_data(as_text=True)
    lab.log(1)
    assert "Take the entry back" not in text(technician.get(f"/baths/{developer.id}"))
    late = press(technician, f"/baths/{developer.id}/undo-mixing", opened=before)
    assert "was used or tested since" in text(technician.get(late.location))


@pytest.mark.sqlite_only
def test_a_powder_is_weighed_in_grams_and_made_up_to_the_mark(lab, technician):
    """Stock of 60 g per litre, 1+1, 2 L: 60 g: calculated from the product's own figure."""
    product = lab.add_product(SolutionKind.DEVELOPER, name="Powder developer", powder_mg_per_l=60_000)
    lab.ids["product developer"] = product.id
    bottle = lab.add_bottle(SolutionKind.DEVELOPER, amount_ul=200_000)
    address = plan(lab, typed_dilution="1+1", volume="2 L")
    page = text(technician.get(address))
    assert "Powder 60 g" in page
    assert "Made up to 2000 mL" in page
    answer = send(technician, address, **rows((bottle.id, "60")), water="2000", **MIXED)
    assert answer.status_code == 303
    assert "60 g from Powder developer" in text(technician.get(answer.location))
    assert level_ml(lab, bottle) == 140


@pytest.mark.sqlite_only
def test_a_member_does_not_mix(lab, member):
    assert member.get("/baths/mix").status_code == 403
    assert not re.search("/baths/mix", member.get("/baths").get_data(as_text=True))


@pytest.mark.sqlite_only
def test_places_are_shown_in_working_order_whatever_the_order_of_mixing(lab, member):
    """Developer, stop bath, fixer, final rinse: common practice, no source."""
    lab.mix(SolutionKind.STOP, water_parts=19, working_ml=1_000, place=Place.RINSE, name="Rinse")
    lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=1_000, name="Fixing bath")
    lab.mix(SolutionKind.STOP, water_parts=19, working_ml=1_000, name="Acid stop")
    lab.mix(SolutionKind.DEVELOPER, water_parts=6, working_ml=1_000, name="Soup")
    page = text(member.get(f"/baths/lines/{lab.film_line_id}"))
    assert [*sorted(("Soup", "Acid stop", "Fixing bath", "Rinse"), key=page.index)] == [
        "Soup",
        "Acid stop",
        "Fixing bath",
        "Rinse",
    ]
