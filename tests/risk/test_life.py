"""The whole life of an assessment through its pages, on both databases."""

from sqlalchemy import select

from labsys.chemistry.care import SolutionKind
from labsys.products import service as products
from labsys.risk.models import Assessment, State, Version
from tests.risk.working import DONE
from tests.support.lab import HYDROQUINONE, product_entry
from tests.support.pages import as_it_stands, fill_in, form_of, send, source


def test_an_assessment_from_its_draft_to_its_next_version(lab, process, clock, technician, adviser, member):
    # It begins filled in.
    assert process.name in source(technician.get("/assessments"))
    begun = send(technician, f"/assessments/add/process/{process.id}", at=f"/assessments/add?process_id={process.id}")
    assessment = lab.session.execute(select(Assessment)).scalar_one()
    path = f"/assessments/{assessment.id}"
    assert begun.location == f"{path}/change"
    prefilled = as_it_stands(form_of(source(technician.get(begun.location))))
    assert "develop in PQ liquid concentrate 1+6" in prefilled["task"]
    assert "rinse at once, lids held apart, 20 minutes" in prefilled["first_aid"]
    assert "09 01 01*" in prefilled["disposal"]
    assert "Nitrile gloves of 0.1 mm or more, new after a splash or 30 minutes" in prefilled["controls_protection"]
    assert member.get(path).status_code == 404  # a draft is not for reading

    # It is not ready for approval, and says all that is missing.
    refused = send(technician, f"{path}/submit", at=path, key="first-try")
    page = source(technician.get(refused.location))
    assert "Not ready for approval. Missing: how many people; how often" in page

    # It is written and submitted.
    assert fill_in(technician, f"{path}/change", **DONE).status_code == 303
    assert send(technician, f"{path}/submit", at=path, key="second-try").status_code == 303
    assert "Not approved: it does not hold yet." in source(technician.get(path))

    # Its assessor does not approve it; somebody else does.
    assert technician.get(f"{path}/approve").status_code == 403
    answer = fill_in(adviser, f"{path}/approve")
    assert answer.status_code == 303
    page = source(member.get(path))
    for words in (
        "Version 1: approved.",
        "Sol Haddad",
        "by Пётр Орлов",
        "nitrile, 0.2 mm; breakthrough 60 min (as the glove maker&#39;s data says)",
        "6 an hour: less than 10 an hour (art-safety handbooks",
        "Only with an instructor in the room.",
        "hydroquinone can make skin allergic",
    ):
        assert words in page, words

        # The entries of a product change: it says by itself that it is out of date.
    clock.move_to(lab.tick())
    developer = lab.ids["product developer"]
    newer = product_entry(
        SolutionKind.DEVELOPER, sds_date=lab.now.date().replace(month=3, day=1), ingredients=[HYDROQUINONE]
    )
    products.change_product(lab.act("technician"), product_id=developer, sheet=newer)
    page = source(member.get(path))
    assert "Out of date" in page
    assert "The SDS of PQ liquid concentrate is newer (1 Mar 2026) than the one assessed (1 May 2025)." in page
    assert "out of date" in source(member.get("/assessments?show=out-of-date"))

    # The next version takes the words along, and the products as they stand.
    clock.move_to(lab.tick())
    assert send(technician, f"{path}/versions/begin", at=path, key="next").location == f"{path}/change"
    again = as_it_stands(form_of(source(technician.get(f"{path}/change"))))
    assert again["residual_reason"] == DONE["residual_reason"]
    assert "Version 1: out of date." in source(member.get(path))  # the draft changes nothing for those who read
    send(technician, f"{path}/submit", at=path, key="third-try")
    assert fill_in(adviser, f"{path}/approve").status_code == 303
    page = source(member.get(path))
    assert "Version 2: approved." in page
    assert "Out of date" not in page
    states = {one.number: one.state for one in lab.session.execute(select(Version)).scalars()}
    assert states == {1: State.SUPERSEDED, 2: State.APPROVED}
    assert "A later version holds now." in source(member.get(f"{path}?version=1"))
