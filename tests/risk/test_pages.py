"""The list and its filters, who reads what, actions, and what a page costs."""

from datetime import timedelta

import pytest
from sqlalchemy import select

from labsys.chemistry.care import SolutionKind
from labsys.chemistry.sizes import Material
from labsys.incidents import service as incidents
from labsys.incidents.models import IncidentKind
from labsys.processes import service as processes
from labsys.products import service as product_service
from labsys.risk import actions, approving
from labsys.risk.models import Action, Assessment, State
from labsys.timetable.local_time import day_words
from tests.risk.working import DONE
from tests.support.assessing import approved, begin, begin_products, submit, write
from tests.support.lab import product_entry
from tests.support.pages import fill_in, queries_of, source
from tests.support.safety import add_sheet

pytestmark = pytest.mark.sqlite_only


def add_process(lab, name):
    return processes.add_process(
        lab.act("technician"),
        name=name,
        material=Material.FILM,
        note="",
        steps=[
            processes.StepEntry(name="Fix", product_id=lab.ids["product fixer"], water_parts_milli=4_000, seconds=300),
            processes.StepEntry(name="Stop", product_id=lab.ids["product stop"], water_parts_milli=19_000),
        ],
    )


def add_action(lab, assessment, *, owner="technician", days=7, what="Hang up goggles"):
    return actions.add_action(
        lab.act("technician"),
        assessment_id=assessment.id,
        text=what,
        owner_id=lab.ids[owner],
        due_on=(lab.now + timedelta(days=days)).date(),
    )


def renew_fixer(lab):
    product_service.change_product(
        lab.act("technician"),
        product_id=lab.ids["product fixer"],
        sheet=product_entry(SolutionKind.FIXER, h_codes="H319"),
    )

    # The list


def test_a_lab_without_assessments_is_told_to_begin(lab, technician, member):
    assert "Begin with a process" in source(technician.get("/assessments?show=all"))
    page = source(member.get("/assessments"))
    assert "Until then ask before you begin." in page
    assert "/assessments/add" not in page


def test_what_is_out_of_date_comes_first_and_each_filter_shows_its_own(lab, process, technician):
    approved(lab, add_process(lab, "Alpha"))
    approved(lab, process)
    waiting = begin(lab, add_process(lab, "Beta"))
    write(lab, waiting)
    submit(lab, waiting)
    begin(lab, add_process(lab, "Gamma"))
    add_process(lab, "Delta")
    product_service.change_product(
        lab.act("technician"),
        product_id=lab.ids["product developer"],
        sheet=product_entry(SolutionKind.DEVELOPER, h_codes="H317"),
    )
    page = source(technician.get("/assessments"))
    in_order = [page.index(f">{name}</a>") for name in (process.name, "Beta", "Gamma", "Alpha")]
    assert in_order == sorted(in_order)
    assert "The entries of PQ liquid concentrate were changed since it was assessed." in page
    for shown, name in (
        ("out-of-date", process.name),
        ("waiting", "Beta"),
        ("draft", "Gamma"),
        ("approved", "Alpha"),
        ("unassessed", "Delta"),
    ):
        page = source(technician.get(f"/assessments?show={shown}"))
        assert f">{name}</a>" in page, shown
        others = {process.name, "Alpha", "Beta", "Gamma", "Delta"} - {name}
        assert not [one for one in others if f">{one}</a>" in page], shown


def test_a_product_without_a_hazard_needs_no_assessment_and_a_sensitiser_does(lab, technician):
    page = source(technician.get("/assessments?show=unassessed"))
    assert "PQ liquid concentrate" in page
    assert "Acetic stop concentrate" in page
    assert "Rapid fixer concentrate" not in page
    begin_products(lab, SolutionKind.DEVELOPER)
    assert "PQ liquid concentrate" not in source(technician.get("/assessments?show=unassessed"))
    sensitiser = product_entry(SolutionKind.DEVELOPER).ingredients
    lab.add_product(SolutionKind.FIXER, name="Hardening fixer", h_codes="not classified", ingredients=sensitiser)
    assert "Hardening fixer" in source(technician.get("/assessments?show=unassessed"))


def test_members_read_what_holds_and_no_drafts(lab, process, member, technician):
    assessment = approved(lab, process)
    draft = begin(lab, add_process(lab, "Beta"))
    page = source(member.get("/assessments?show=draft"))  # a filter that is not theirs shows what they may read
    assert process.name in page
    assert "Beta" not in page
    assert member.get(f"/assessments/{draft.id}").status_code == 404
    assert member.get(f"/assessments/{assessment.id}?version=7").status_code == 404
    assert technician.get(f"/assessments/{draft.id}").status_code == 200


def test_a_process_and_a_product_lead_to_their_assessment(lab, process, member, technician):
    page = source(member.get(f"/assessments/of-process/{process.id}"))
    assert "Nobody has assessed it." in page
    assert "Ask before you begin." in page
    assessment = begin(lab, process)
    assert "One is being written" in source(member.get(f"/assessments/of-process/{process.id}"))
    assert technician.get(f"/assessments/of-process/{process.id}").location == f"/assessments/{assessment.id}"
    developer = lab.ids["product developer"]
    products = begin_products(lab, SolutionKind.DEVELOPER)
    assert technician.get(f"/assessments/of-product/{developer}").location == f"/assessments/{products.id}"
    assert f"/assessments/of-process/{process.id}" in source(member.get(f"/processes/{process.id}"))
    assert f"/assessments/of-product/{developer}" in source(member.get(f"/store/products/{developer}"))


def test_what_is_written_can_be_saved_and_sent_at_once(lab, process, technician):
    assessment = begin(lab, process)
    path = f"/assessments/{assessment.id}"
    answer = fill_in(technician, f"{path}/change", send="yes", task="Film")
    assert answer.location == f"{path}/change"
    assert "It is saved. Not ready for approval." in source(technician.get(answer.location))
    answer = fill_in(technician, f"{path}/change", send="yes", **DONE)
    assert answer.location.partition("?")[0] == path
    lab.session.expire_all()
    assert assessment.newest.state is State.WAITING


def test_who_writes_assessments_is_led_to_begin_one(lab, process, technician):
    answer = technician.get(f"/assessments/of-process/{process.id}")
    assert answer.location == f"/assessments/add?process_id={process.id}"


def test_a_code_leads_back_to_its_assessment(lab, process, member):
    assessment = approved(lab, process)
    assert member.get(f"/c/{assessment.code}").location == f"/assessments/{assessment.id}"


def test_changed_steps_put_an_assessment_out_of_date(lab, process, member):
    assessment = approved(lab, process)
    process.steps[1].seconds += 60
    lab.session.commit()
    page = source(member.get(f"/assessments/{assessment.id}"))
    assert "The steps of the process were changed since" in page


def test_a_newer_sds_on_file_puts_an_assessment_out_of_date(lab, process, member):
    assessment = approved(lab, process)
    assert "is newer" not in source(member.get(f"/assessments/{assessment.id}"))
    add_sheet(lab, lab.ids["product fixer"], issued_on=lab.now.date())
    page = source(member.get(f"/assessments/{assessment.id}"))
    assert f"is newer ({day_words(lab.now.date())}) than the one assessed (1 May 2025)" in page


def test_an_incident_puts_the_assessments_of_its_process_and_its_products_out_of_date(lab, process, member):
    assessment = approved(lab, process)
    incidents.report(
        lab.act("member"),
        told=incidents.IncidentReport(
            kind=IncidentKind.SPLASH, what="Splashed", process_ids=[process.id], product_ids=[lab.ids["product fixer"]]
        ),
        happened_at=lab.now,
    )
    page = source(member.get(f"/assessments/{assessment.id}"))
    assert "An incident in this process was reported on" in page
    assert "an incident with" in page.replace("An incident with", "an incident with")


def test_there_is_no_such_assessment(lab, technician):
    for path in (
        "/assessments/99",
        "/assessments/99/change",
        "/assessments/of-process/99",
        "/assessments/of-product/99",
    ):
        assert technician.get(path).status_code == 404

        # Actions


def test_an_action_is_given_to_somebody_and_finished_with_a_note(lab, process, technician, member, client_as):
    assessment = approved(lab, process)
    path = f"/assessments/{assessment.id}"
    answer = fill_in(
        technician, f"{path}/actions/add", text="Перчатки M", owner=str(lab.ids["instructor"]), due_on="2026-03-20"
    )
    assert answer.location == path
    assert "Ines Carrow, by 20 Mar 2026." in source(technician.get(path))
    action = lab.session.execute(select(Action)).scalar_one()
    finish = f"/assessments/actions/{action.id}/finish"
    assert member.get(finish).status_code == 403
    instructor = client_as("instructor")
    assert "It is done" in source(instructor.get(path))
    assert "Write what was done." in source(fill_in(instructor, finish))
    assert fill_in(instructor, finish, note="Bought two boxes").location == "/assessments"
    assert "Done: Bought two boxes" in source(technician.get(path))
    again = fill_in(technician, finish, note="Twice")
    assert "It was finished already." in source(again)


@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"text": ""}, "Write what has to be done."),
        ({"owner": "999"}, "Choose what is on the list"),
        ({"due_on": ""}, "Choose the day."),
        ({"due_on": "soon"}, "Write the day as year-month-day"),
    ],
)
def test_an_action_that_cannot_be_is_refused(lab, process, technician, fields, message):
    assessment = begin(lab, process)
    right = {"text": "Hang up goggles", "owner": str(lab.ids["technician"]), "due_on": "2026-03-20"}
    answer = fill_in(technician, f"/assessments/{assessment.id}/actions/add", **{**right, **fields})
    assert answer.status_code == 422
    assert message in source(answer)
    assert lab.count(Action) == 0


def test_an_action_is_overdue_from_the_day_after(lab, process, clock, technician):
    assessment = approved(lab, process)
    add_action(lab, assessment, days=1)
    clock.move_to(lab.tick(days=1), tick=False)
    assert ">open<" in source(technician.get(f"/assessments/{assessment.id}"))
    clock.move_to(lab.tick(days=1), tick=False)
    assert ">overdue<" in source(technician.get(f"/assessments/{assessment.id}"))

    # What a page costs


def test_the_number_of_queries_does_not_grow_with_the_rows(lab, process, technician):
    def more(number):
        for _ in range(number):
            one = add_process(lab, f"Process {lab.tick()}")
            approved(lab, one)
            begin(lab, add_process(lab, f"Other process {lab.tick()}"))
            gone = begin_products(lab, SolutionKind.DEVELOPER)
            approving.withdraw(lab.act("technician"), assessment_id=gone.id, because="Twice.")
            add_process(lab, f"Unassessed {lab.tick()}")
            add_action(lab, lab.session.get_one(Assessment, number_of_one))

    number_of_one = approved(lab, process).id
    more(1)
    paths = [
        "/assessments",
        "/assessments?show=withdrawn",
        "/assessments/add",
        f"/assessments/{number_of_one}",
        f"/assessments/{number_of_one}/change",
        f"/documents/assessment/{number_of_one}",
    ]
    before = [queries_of(technician, path) for path in paths]
    more(3)
    renew_fixer(lab)
    assert [queries_of(technician, path) for path in paths] == before
    assert max(before) <= 20
