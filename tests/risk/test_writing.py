"""Beginning and changing an assessment: what is filled in, what is refused, what is kept."""

from datetime import date

import pytest
from sqlalchemy import select

from labsys.chemistry.care import SolutionKind
from labsys.hazards.banding import Spread
from labsys.products import service as products
from labsys.risk import queries, service
from labsys.risk.models import AssessedSubstance, Assessment, Level, Under18, Version
from labsys.risk.room_hazards import all_room_hazards
from labsys.risk.rules import AssessmentRefused
from tests.risk.working import DONE
from tests.support.assessing import approve, approved, begin, begin_products, judgement, submit, write
from tests.support.lab import HYDROQUINONE, product_entry
from tests.support.pages import as_it_stands, fill_in, form_of, send, source

pytestmark = pytest.mark.sqlite_only


def newest(lab, assessment):
    return queries.assessment_or_raise(lab.session, assessment.id).newest


def developer_row(lab, assessment):
    return next(one for one in newest(lab, assessment).substances if one.sensitisers)

    # Beginning


def test_a_process_is_filled_in_from_its_steps_each_solution_once(lab, process):
    version = begin(lab, process).newest
    handled = [(one.name, one.water_parts_milli, one.product_version, one.sds_date) for one in version.substances]
    day = date(2025, 5, 1)
    assert handled == [
        ("PQ liquid concentrate", 6_000, 1, day),
        ("Acetic stop concentrate", 19_000, 1, day),
        ("Rapid fixer concentrate", 4_000, 1, day),
    ]
    assert version.has_surveillance  # a sensitiser is handled
    assert version.under_18 is None  # somebody has to decide
    assert version.fingerprint
    assert "keep apart from" in version.storage


def test_a_process_has_one_assessment(lab, process, technician):
    begin(lab, process)
    answer = send(technician, f"/assessments/add/process/{process.id}", at="/assessments/add")
    assert answer.location == f"/assessments/of-process/{process.id}"
    page = source(technician.get(answer.location, follow_redirects=True))
    assert "has an assessment already" in page
    assert lab.count(Assessment) == 1


def test_concentrates_are_closed_to_under_18s_until_somebody_decides_otherwise(lab):
    """The default for handling what harms late as supplied; a suggestion from memory."""
    assert begin_products(lab, SolutionKind.DEVELOPER).newest.under_18 is Under18.NO
    assert begin_products(lab, SolutionKind.STOP).newest.under_18 is None


def test_products_are_assessed_as_supplied_by_the_codes_of_their_sds(lab, technician):
    developer = lab.ids["product developer"]
    page = source(technician.get(f"/assessments/add?product_id={developer}"))
    assert f'value="{developer}" checked' in page
    answer = send(technician, "/assessments/add/products", at="/assessments/add", products=[developer], title="Mixing")
    assert answer.status_code == 303
    row = lab.session.execute(select(AssessedSubstance)).scalar_one()
    assert (row.codes, row.hazard_group, row.approach) == ("H302 H317 H318 H341 H351 H410", "E", 4)
    made = lab.session.execute(select(Assessment)).scalar_one()
    controls = [one.text for one in made.newest.controls]
    assert "IF SWALLOWED: Call a POISON CENTRE/doctor if you feel unwell." in made.newest.first_aid.splitlines()
    assert "Look for a milder product in place of PQ liquid concentrate before the next order." in controls


def test_products_have_to_be_named_and_what_was_typed_is_kept(lab, technician):
    answer = send(technician, "/assessments/add/products", at="/assessments/add", title="Κατασκευή")
    assert answer.status_code == 422
    assert "Tick a product." in source(answer)
    assert "Κατασκευή" in source(answer)
    assert lab.count(Assessment) == 0


@pytest.mark.parametrize("one", all_room_hazards(), ids=lambda one: one.key)
def test_each_hazard_of_the_room_begins_at_one_touch_and_says_its_source(lab, technician, one):
    answer = send(technician, "/assessments/add/hazard", at="/assessments/add", hazard=one.key)
    assert answer.status_code == 303
    version = lab.session.execute(select(Version)).scalar_one()
    assert version.task == one.task
    assert one.source in version.basis
    assert "common practice, no source" in one.source
    assert {line.level for line in version.controls} >= {Level.ENGINEERING, Level.PRACTICE}


def test_another_hazard_needs_a_title(lab, technician):
    answer = send(technician, "/assessments/add/hazard", at="/assessments/add")
    assert answer.status_code == 422
    assert "Give it a title" in source(answer)
    ok = send(technician, "/assessments/add/hazard", at="/assessments/add", key="another-key", title="Kettle")
    assert ok.status_code == 303


def test_a_hazard_of_the_room_is_assessed_once(lab, technician):
    first = send(technician, "/assessments/add/hazard", at="/assessments/add", hazard="cutter")
    assert "Assessed already" in source(technician.get("/assessments/add"))
    again = send(technician, "/assessments/add/hazard", at="/assessments/add", key="another-key", hazard="cutter")
    assert again.status_code == 422
    assert "Paper cutter and trimmer has an assessment already." in source(again)
    assert first.location == "/assessments/1/change"
    assert lab.count(Assessment) == 1


def test_a_double_tap_begins_one(lab, process, technician):
    for _ in range(2):
        answer = send(technician, f"/assessments/add/process/{process.id}", at="/assessments/add", key="same-key-twice")
        assert answer.status_code == 303
    assert lab.count(Assessment) == 1

    # Changing


def test_the_form_saves_what_was_typed_and_bands_anew(lab, process, technician):
    assessment = begin(lab, process)
    row = developer_row(lab, assessment)
    path = f"/assessments/{assessment.id}/change"
    fields = {**DONE, f"amount_{row.id}": "2.5 L", f"spread_{row.id}": "medium vapour"}
    assert fill_in(technician, path, **fields).status_code == 303
    lab.session.expire_all()
    row = developer_row(lab, assessment)
    version = newest(lab, assessment)
    assert (row.amount, row.spread, row.spread_from) == (2_500_000, Spread.MEDIUM_VAPOUR, "Judged by Sol Haddad.")
    assert (version.who, version.how_many, version.air_changes_tenths) == ("members;students", 6, 60)
    assert [one.text for one in version.controls if one.level is Level.PRACTICE] == DONE["controls_practice"].split(
        "\n"
    )
    assert version.edition == 2


def test_another_approach_needs_a_reason_and_stands_beside_the_calculated_one(lab, technician):
    assessment = begin_products(lab, SolutionKind.DEVELOPER)
    row = developer_row(lab, assessment)
    path = f"/assessments/{assessment.id}/change"
    refused = fill_in(technician, path, task="Κάτι", **{f"approach_{row.id}": "2"})
    assert refused.status_code == 422
    assert "Say why approach 2 is right for PQ liquid concentrate, where 4 was calculated." in source(refused)
    assert "Κάτι" in source(refused)
    why = "Poured in ten minutes, with gloves and goggles."
    assert fill_in(technician, path, **{f"approach_{row.id}": "2", f"because_{row.id}": why}).status_code == 303
    page = source(technician.get(f"/assessments/{assessment.id}"))
    assert (
        f"Approach 2, chosen by Sol Haddad where approach 4 was calculated. Extraction at the source. Reason: {why}"
        in page
    )
    assert "calculated: 4" in page


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"how_many": "many"}, "Write a whole number"),
        ({"how_many": "0"}, "Enter a whole number from 1 to 500."),
        ({"air_changes": "-1"}, "Enter a number from 0 to 100."),
        ({"glove_minutes": "5000"}, "Enter whole minutes from 1 to 480."),
        ({"review_on": "next year"}, "Write the day as year-month-day"),
        ({"task": "x" * 5_000}, "Use at most 4000 characters."),
    ],
)
def test_what_cannot_be_read_is_refused_and_nothing_is_written(lab, process, technician, fields, message):
    assessment = begin(lab, process)
    answer = fill_in(technician, f"/assessments/{assessment.id}/change", **{**fields, "frequency": "раз в неделю"})
    assert answer.status_code == 422
    assert message in source(answer)
    assert "раз в неделю" in source(answer)
    assert newest(lab, assessment).edition == 1


def test_an_amount_has_to_be_said(lab, process, technician):
    assessment = begin(lab, process)
    row = developer_row(lab, assessment)
    answer = fill_in(technician, f"/assessments/{assessment.id}/change", **{f"amount_{row.id}": ""})
    assert answer.status_code == 422
    assert "Enter how much PQ liquid concentrate is handled in one go." in source(answer)


def test_two_who_write_at_once_do_not_overwrite_each_other(lab, process, technician, adviser):
    assessment = begin(lab, process)
    path = f"/assessments/{assessment.id}/change"
    opened = as_it_stands(form_of(source(technician.get(path))))
    fill_in(adviser, path, frequency="daily")
    late = technician.post(path, data={**opened, "frequency": "weekly"})
    assert late.status_code == 422
    assert "Somebody changed it after you opened the page." in source(late)
    lab.session.expire_all()
    assert newest(lab, assessment).frequency == "daily"


def test_whoever_writes_it_is_its_assessor(lab, process):
    assessment = begin(lab, process)
    write(lab, assessment, role="safety adviser")
    assert newest(lab, assessment).assessor_id == lab.ids["safety adviser"]

    # The next version


def test_the_next_version_keeps_a_choice_only_while_the_calculation_agrees(lab):
    assessment = begin_products(lab, SolutionKind.DEVELOPER, SolutionKind.STOP)
    rows = {one.name: one for one in newest(lab, assessment).substances}
    judged = [judgement(one, approach=3, because="Judged.", amount=90_000) for one in rows.values()]
    write(lab, assessment, judgements=tuple(judged))
    submit(lab, assessment)
    approve(lab, assessment)
    products.change_product(
        lab.act("technician"),
        product_id=lab.ids["product developer"],
        sheet=product_entry(SolutionKind.DEVELOPER, h_codes="H317", ingredients=[HYDROQUINONE]),
    )
    service.begin_next_version(lab.act("technician"), assessment_id=assessment.id)
    lab.session.expire_all()
    after = {one.name: one for one in newest(lab, assessment).substances}
    assert after["PQ liquid concentrate"].chosen_approach is None  # group C now: to be judged again
    assert after["Acetic stop concentrate"].chosen_approach == 3
    assert {one.amount for one in after.values()} == {90_000}


def test_there_is_one_version_in_hand_at_a_time(lab, process):
    assessment = approved(lab, process)
    service.begin_next_version(lab.act("technician"), assessment_id=assessment.id)
    with pytest.raises(AssessmentRefused, match="Version 2 is draft"):
        service.begin_next_version(lab.act("technician"), assessment_id=assessment.id)

        # What changes while a draft lies


def test_a_draft_says_what_changed_since_and_is_filled_in_anew(lab, process, technician, adviser):
    assessment = begin(lab, process)
    row = developer_row(lab, assessment)
    why = "Hands stay out of it."
    write(lab, assessment, judgements=(judgement(row, approach=2, because=why, amount=2_500_000),))
    lab.session.expire_all()
    products.change_product(
        lab.act("technician"),
        product_id=lab.ids["product fixer"],
        sheet=product_entry(SolutionKind.FIXER, h_codes="H319", sds_date=date(2026, 3, 1)),
    )
    path = f"/assessments/{assessment.id}"
    page = source(technician.get(path))
    assert "Changed since this version was filled in" in page
    assert "The SDS of Rapid fixer concentrate is newer (1 Mar 2026)" in page
    answer = send(technician, f"{path}/substances/renew", at=path)
    assert answer.location == f"{path}/change"
    assert "Changed since" not in source(technician.get(path))
    lab.session.expire_all()
    version = newest(lab, assessment)
    fixer = next(one for one in version.substances if one.name == "Rapid fixer concentrate")
    assert (fixer.codes, fixer.product_version, fixer.sds_date) == ("H319", 2, date(2026, 3, 1))
    kept = developer_row(lab, assessment)
    assert (kept.chosen_approach, kept.chosen_because, kept.amount) == (2, why, 2_500_000)
    assert version.residual_reason == "Hands stay out of it."


def test_who_approves_is_told_what_changed_since_it_was_written(lab, process, adviser, technician):
    assessment = begin(lab, process)
    write(lab, assessment)
    submit(lab, assessment)
    process.steps[1].seconds += 60
    lab.session.commit()
    page = source(adviser.get(f"/assessments/{assessment.id}/approve"))
    assert "The steps of the process were changed since" in page
    assert "Approved as it is, it would be out of date at once." in page
    refused = send(technician, f"/assessments/{assessment.id}/substances/renew", at=f"/assessments/{assessment.id}")
    assert refused.location == f"/assessments/{assessment.id}"  # what waits is not changed
    assert newest(lab, assessment).edition == 2
