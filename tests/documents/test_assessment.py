"""The assessment on paper: read back on both papers, and issued from its page form."""

import json
from dataclasses import replace

import pytest
from sqlalchemy import select

from labsys.chemistry.care import SolutionKind
from labsys.documents.assessment import ASSESSMENT, OfAssessment, draw
from labsys.documents.page import Paper
from labsys.documents.rules import DocumentRefused
from labsys.documents.service import issue_document
from labsys.people.permissions import NotPermitted
from labsys.products import service as products
from labsys.records.models import IssuedDocument
from labsys.risk.models import Level
from tests.documents.issuing import PUBLIC, documents, occasion
from tests.planning.furnishing import add_film_process
from tests.support.assessing import approve, approved, begin, begin_products, judgement, submit, write
from tests.support.lab import product_entry
from tests.support.pages import send, source


@pytest.fixture
def assessment(lab):
    """An approved assessment of a process, with a name in Greek letters in it."""
    return approved(
        lab,
        add_film_process(lab),
        task="Film in a daylight tank, with Ελένη.",
        controls=((Level.ENGINEERING, "Extraction running."), (Level.PRACTICE, "Lids on tanks.")),
        glove_minutes=60,
        glove_source="as the glove maker's data says",
        air_changes_tenths=60,
        air_changes_source="extraction test",
    )


@pytest.fixture
def judged(lab):
    """Undiluted developer, calculated as 4, for which the technician chose 2."""
    made = begin_products(lab, SolutionKind.DEVELOPER, title="Making up")
    (row,) = made.newest.substances
    write(lab, made, judgements=(judgement(row, approach=2, because="Ten minutes, with goggles and gloves."),))
    submit(lab, made)
    approve(lab, made)
    return made


def collected(lab, assessment):
    return ASSESSMENT.collect(lab.session, OfAssessment(assessment.id), occasion(lab, "member"))


@pytest.mark.sqlite_only
@pytest.mark.parametrize("paper", Paper)
def test_the_assessment_reads_back_with_all_that_it_is_worth(lab, assessment, read_back, paper):
    data = collected(lab, assessment)
    printed = read_back(draw(replace(data, issue=replace(data.issue, paper=paper))))
    assert printed.title == "Assessment: Film, PQ 1+6"
    assert printed.sizes == {tuple(round(side) for side in paper.size())}
    assert printed.language == "en-GB"
    assert printed.fonts_left_out() == set()
    for words in (
        "Version 1. Approved 2 Mar 2026 by Пётр Орлов.",
        "Film in a daylight tank, with Ελένη.",
        "In place already Ventilation.",
        "PQ liquid concentrate, 1+6",
        "SDS of 1 May 2025, entries of version 1",
        "1. Hazard group A: none of EUH208 puts it higher. Codes calculated for 1+6",
        "hydroquinone can make skin allergic",
        "3. Engineering Extraction running.",
        "4. Working practice Lids on tanks.",
        "breakthrough 60 min (as the glove maker's data says)",
        "6 an hour: less than 10 an hour (art-safety handbooks, from memory",
        "Yes: a sensitiser is handled.",
        "Rinse. 20 minutes.",
        "Low. Hands stay out of it.",
        "Yes, open to them.",
        "1 Mar 2027",
        "Sol Haddad, 2 Mar 2026",
        assessment.code,
        "Control banding is a screen",
        "The supplier's safety data sheet comes first",
        f"Record {data.issue.record_number}",
        "Page 1 of 2",
    ):
        assert words in printed.text, words
    assert "Out of date" not in printed.text
    assert data.issue.scan_address == f"{PUBLIC}/c/{assessment.code}"


@pytest.mark.sqlite_only
def test_what_an_assessor_chose_is_printed_beside_what_was_calculated(lab, judged, read_back):
    printed = read_back(draw(collected(lab, judged))).text
    assert "Approach 2, chosen by Sol Haddad where approach 4 was calculated." in printed
    assert "Reason: Ten minutes, with goggles and gloves." in printed
    assert "Hazard group E, decided by H341 Suspected of causing genetic defects." in printed
    assert "Calculated: approach 4." in printed


@pytest.mark.sqlite_only
def test_one_out_of_date_says_so_first(lab, assessment, read_back):
    products.change_product(
        lab.act("technician"),
        product_id=lab.ids["product fixer"],
        sheet=product_entry(SolutionKind.FIXER, h_codes="H319"),
    )
    printed = read_back(draw(collected(lab, assessment))).text
    told = printed.index("The entries of Rapid fixer concentrate were changed since it was assessed.")
    assert printed.index("Out of date") < told < printed.index("What is done")


@pytest.mark.sqlite_only
def test_equal_data_gives_equal_bytes(lab, assessment):
    data = collected(lab, assessment)
    assert draw(data) == draw(data)


def test_it_is_issued_from_its_page_form_and_kept(lab, assessment, client_as, read_back):
    technician, member = client_as("technician"), client_as("member")
    path = f"/documents/assessment/{assessment.id}"
    shown = source(member.get(path))
    assert "Version 1, approved 2 Mar 2026 by Пётр Орлов." in shown
    assert "Issue the assessment as PDF" not in shown
    assert path in source(member.get(f"/assessments/{assessment.id}"))
    answer = send(technician, path)
    kept = lab.session.execute(select(IssuedDocument)).scalar_one()
    assert answer.location == f"/documents/{kept.id}"
    assert json.loads(kept.parameters) == {"assessment": assessment.id, "version": 1}
    with member.get(answer.location) as streamed:
        assert "Film in a daylight tank, with Ελένη." in read_back(streamed.data).text
    assert answer.location in source(technician.get(path))
    again = send(technician, path, key="a-key-of-its-own")
    assert again.status_code == 303
    assert send(technician, path, key="a-key-of-its-own").status_code == 303
    assert documents(lab) == 2  # the same form twice issues once


@pytest.mark.sqlite_only
def test_what_is_not_approved_or_withdrawn_goes_on_no_paper(lab, client_as):
    draft = begin(lab, add_film_process(lab))
    with pytest.raises(DocumentRefused, match="Only an approved assessment goes on paper"):
        collected(lab, draft)
    answer = client_as("technician").get(f"/documents/assessment/{draft.id}")
    assert answer.location == f"/assessments/{draft.id}"


@pytest.mark.sqlite_only
def test_a_member_issues_none(lab, assessment):
    with pytest.raises(NotPermitted):
        issue_document(lab.act("member"), ASSESSMENT, OfAssessment(assessment.id), public_url=PUBLIC)
