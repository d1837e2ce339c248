"""Who approves, what is refused without a reason, sending back, withdrawing; and what the record keeps."""

import json

import pytest
from sqlalchemy import select

from labsys.people import service as people
from labsys.people.acts import Act
from labsys.people.models import Role
from labsys.people.permissions import NotPermitted
from labsys.records.models import RecordEntry
from labsys.risk import approving, queries
from labsys.risk.models import Assessment, Residual, State, Under18
from labsys.risk.rules import AssessmentRefused
from tests.support.assessing import approve, approved, begin, submit, write
from tests.support.pages import as_it_stands, fill_in, form_of, send, source

pytestmark = pytest.mark.sqlite_only


@pytest.fixture
def waiting(lab, process):
    """One that the technician wrote and sent for approval."""
    assessment = begin(lab, process)
    write(lab, assessment)
    submit(lab, assessment)
    return assessment


@pytest.fixture
def own(lab, process):
    """One that the safety adviser wrote, who may also approve."""
    assessment = begin(lab, process, role="safety adviser")
    write(lab, assessment, role="safety adviser")
    submit(lab, assessment, role="safety adviser")
    return assessment


def newest(lab, assessment):
    lab.session.expire_all()
    return queries.assessment_or_raise(lab.session, assessment.id).newest


def facts(lab, act):
    entries = lab.session.execute(select(RecordEntry.payload)).scalars()
    return [json.loads(one)["facts"] for one in entries if json.loads(one)["act"] == act]

    # Before approval


@pytest.mark.parametrize(
    ("changes", "missing"),
    [
        ({"task": ""}, "what is done"),
        ({"who": frozenset()}, "who may be harmed"),
        ({"how_many": None}, "how many people"),
        ({"routes": frozenset()}, "how it reaches a person"),
        ({"frequency": ""}, "how often"),
        ({"duration": ""}, "how long"),
        ({"existing_controls": ""}, "what is in place already"),
        ({"controls": ()}, "controls"),
        ({"first_aid": ""}, "what to do first when something happens"),
        ({"residual": None}, "the risk that is left"),
        ({"residual_reason": ""}, "why the risk is judged so"),
        ({"under_18": None}, "whether it is open to under-18s"),
        ({"under_18": Under18.WITH}, "with whom under-18s may do it"),
        ({"review_on": None}, "a day in the future for the next review"),
        ({"glove_material": ""}, "which gloves, or why none"),
        ({"glove_minutes": 60}, "where the breakthrough time of the gloves is said"),
        ({"air_changes_tenths": 60}, "how the air changes of the room are known"),
        ({"has_surveillance": False}, "a reason for no health surveillance, since a sensitiser is handled"),
    ],
)
def test_what_is_missing_is_named_before_anybody_is_asked_to_approve(lab, process, changes, missing):
    assessment = begin(lab, process)
    write(lab, assessment, **changes)
    with pytest.raises(AssessmentRefused, match=f"Missing: {missing}"):
        submit(lab, assessment)
    assert newest(lab, assessment).state is State.DRAFT


def test_surveillance_may_be_declined_with_a_reason(lab, process, adviser):
    assessment = begin(lab, process)
    write(lab, assessment, has_surveillance=False, surveillance_reason="Nobody works here weekly.")
    submit(lab, assessment)
    page = source(adviser.get(f"/assessments/{assessment.id}"))
    assert "No, although a sensitiser is handled. Reason: Nobody works here weekly." in page


def test_what_waits_is_not_changed(lab, waiting, technician):
    page = source(technician.get(f"/assessments/{waiting.id}/change"))
    assert "it is not changed any more" in page
    with pytest.raises(AssessmentRefused, match="waiting for approval"):
        write(lab, waiting)

        # Approval


def test_another_person_approves(lab, waiting, adviser):
    page = source(adviser.get(f"/assessments/{waiting.id}/approve"))
    assert "Why nobody else can approve it" not in page
    assert fill_in(adviser, f"/assessments/{waiting.id}/approve").status_code == 303
    version = newest(lab, waiting)
    assert (version.state, version.approved_by_id) == (State.APPROVED, lab.ids["safety adviser"])
    assert facts(lab, "assessment.approved")[0]["version"] == 1


def test_the_assessor_does_not_approve_without_a_reason_and_nothing_is_lost(lab, own, adviser):
    path = f"/assessments/{own.id}/approve"
    refused = fill_in(adviser, path)
    assert refused.status_code == 422
    assert "You wrote this yourself. Have somebody else approve it, or write why nobody else can" in source(refused)
    assert newest(lab, own).state is State.WAITING
    assert facts(lab, "assessment.approved") == []
    assert fill_in(adviser, path, because="A one-person lab").status_code == 303
    page = source(adviser.get(f"/assessments/{own.id}"))
    assert "Пётр Орлов, who wrote it too. Reason: A one-person lab" in page


def test_somebody_from_outside_may_approve_what_the_assessor_wrote(lab, own, adviser):
    path = f"/assessments/{own.id}/approve"
    half = fill_in(adviser, path, outside_name="Dr Ισμήνη Βέργου")
    assert half.status_code == 422
    assert "Give both the name and the organisation" in source(half)
    assert "Dr Ισμήνη Βέργου" in source(half)
    both = {"outside_name": "Dr Ισμήνη Βέργου", "outside_organisation": "Town health and safety office"}
    assert fill_in(adviser, path, **both).status_code == 303
    page = source(adviser.get(f"/assessments/{own.id}"))
    assert "Dr Ισμήνη Βέργου, Town health and safety office (put down by Пётр Орлов)" in page
    assert newest(lab, own).own_approval_because == ""


def test_a_technician_approves_nothing(lab, waiting, technician):
    assert technician.get(f"/assessments/{waiting.id}/approve").status_code == 403
    with pytest.raises(NotPermitted):
        approve(lab, waiting, role="technician")


def test_what_is_approved_is_what_was_read(lab, waiting, adviser):
    """It was sent back, changed and sent again while the page stood open."""
    opened = as_it_stands(form_of(source(adviser.get(f"/assessments/{waiting.id}/approve"))))
    approving.send_back(lab.act("technician"), because="A slip.", assessment_id=waiting.id)
    write(lab, waiting, residual=Residual.HIGH)
    submit(lab, waiting)
    late = adviser.post(f"/assessments/{waiting.id}/approve", data=opened)
    assert late.status_code == 422
    assert "Somebody changed it after you opened the page." in source(late)
    assert newest(lab, waiting).state is State.WAITING


def test_a_double_tap_approves_once(lab, waiting, adviser):
    path = f"/assessments/{waiting.id}/approve"
    sent = as_it_stands(form_of(source(adviser.get(path))))
    answers = [adviser.post(path, data=sent) for _ in range(2)]
    assert [one.status_code for one in answers] == [303, 303]
    assert answers[1].location == f"/assessments/{waiting.id}"
    assert len(facts(lab, "assessment.approved")) == 1

    # Sending back and withdrawing


def test_sent_back_with_a_reason_it_is_written_and_sent_again(lab, waiting, adviser, technician):
    path = f"/assessments/{waiting.id}/send-back"
    assert "Write what has to be put right." in source(fill_in(adviser, path))
    assert fill_in(adviser, path, because="Say which gloves for the film sink.").status_code == 303
    assert "Say which gloves for the film sink." in source(technician.get(f"/assessments/{waiting.id}/change"))
    write(lab, waiting)
    submit(lab, waiting)
    assert newest(lab, waiting).state is State.WAITING


def test_the_assessor_may_take_it_back_and_another_technician_may_not(lab, waiting, technician):
    other = people.invite_person(
        lab.act("manager"), name="Another", email="another@example.org", roles=[Role.TECHNICIAN]
    ).person
    act = {"assessment_id": waiting.id, "because": "A slip."}
    with pytest.raises(NotPermitted):
        approving.send_back(Act(lab.session, by=other, now=lab.tick()), **act)
    assert "Take it back" in source(technician.get(f"/assessments/{waiting.id}"))
    approving.send_back(lab.act("technician"), **act)
    assert newest(lab, waiting).state is State.SENT_BACK


def test_an_approved_one_is_withdrawn_by_an_approver_with_a_reason(lab, process, technician, adviser, member):
    assessment = approved(lab, process)
    path = f"/assessments/{assessment.id}/withdraw"
    assert "only somebody who may approve" in source(fill_in(technician, path, because="Not used here."))
    assert fill_in(adviser, path, because="Not used here.").status_code == 303
    page = source(member.get(f"/assessments/{assessment.id}"))
    assert "Withdrawn: it does not hold any more." in page
    assert "Not used here." in page
    assert "Not used here." in source(adviser.get("/assessments?show=withdrawn"))
    begun = send(technician, f"/assessments/add/process/{process.id}", at="/assessments/add")
    assert begun.status_code == 303
    assert lab.count(Assessment) == 2  # the process can be assessed afresh


def test_a_draft_is_withdrawn_by_whoever_keeps_them(lab, process, technician):
    assessment = begin(lab, process)
    assert fill_in(technician, f"/assessments/{assessment.id}/withdraw", because="Begun twice.").status_code == 303
    with pytest.raises(AssessmentRefused, match="was withdrawn"):
        write(lab, assessment)
