"""An exhausted bath changed over in the evening, in two touches, by whoever has shown that they can; and its label."""

import pytest

from labsys.baths import change_over, service
from labsys.baths.models import Bath, Place
from labsys.chemistry.care import SolutionKind
from labsys.competences.models import Competence
from labsys.competences.rules import LacksCompetence
from labsys.ledger import queries as ledger
from labsys.records import queries as records
from labsys.records.models import WaitingLabel
from labsys.store.models import Bottle
from labsys.waste.models import WasteContainer
from tests.support.lab import SmallLab
from tests.support.pages import fill_in, links, pdf_text, send, source, text


@pytest.fixture
def spent(lab: SmallLab) -> Bath:
    """A film fixer of 2.5 L at 20 rolls a litre, with 50 rolls through it, and a container for what it is."""
    fixer = lab.mix_film_line()[Place.FIXER]
    lab.log(50)
    lab.open_container()
    return fixer


def test_whoever_is_competent_changes_it_over_in_two_touches_and_the_label_waits(
    lab: SmallLab, client_as, technician, spent
):
    for _ in range(2):
        lab.add_bottle(SolutionKind.FIXER)
    member = client_as("member")
    path, card = f"/baths/{spent.id}", f"/baths/{spent.id}/change-over"
    assert card not in links(source(member.get(path)))
    refused = text(member.get(card))
    assert "hanging a spent bath over" in refused
    lab.make_competent("member", Competence.CHANGING_OVER, Competence.OUT_OF_HOURS)  # it has no hours
    with pytest.raises(LacksCompetence):  # nor does an act without the page
        change_over.change_over(lab.act("instructor"), bath_id=spent.id, container_id=1, volume_ul=1)

    assert card in links(source(member.get("/")))
    assert card in links(source(member.get(path)))
    assert card in links(source(member.get(f"/baths/lines/{spent.line_id}/log")))
    shown = text(member.get(card))  # the first touch: Today, the bath or the log
    for words in ("2.5 L by the book, into", "under the wet side", "2000 mL of water first, then 500 mL"):
        assert words in shown
    answer = fill_in(member, card, as_planned="Done as it says here")  # the second
    assert answer.status_code == 303, text(answer)

    lab.session.rollback()
    fresh = lab.session.query(Bath).order_by(Bath.id.desc()).first()
    old = lab.session.get_one(Bath, spent.id)
    assert (fresh.line_id, fresh.place, fresh.is_in_service) == (old.line_id, Place.FIXER, True)
    assert (fresh.batches[0].volume_ul, fresh.batches[0].is_as_planned) == (2_500_000, True)
    assert old.dumped_at is not None
    assert old.vessel.level == 0
    assert ledger.wrong_levels(lab.session) == []
    assert records.find_fault(lab.session) is None
    assert "is dumped and" in text(member.get(answer.location))

    # what it is called by waits to be printed, until the technician prints it with whatever else waits
    codes = records.waiting_labels(lab.session)
    assert codes == [fresh.code]
    assert "1 label waits to be printed" in text(technician.get("/"))
    again = fill_in(technician, f"/baths/{fresh.id}/again", as_planned="Save as planned", begins="spare")
    assert "label waits to be printed" in text(technician.get(again.location))
    page = technician.get("/documents/labels")
    assert "2 labels wait to be printed: first in the list" in text(page)
    printed = fill_in(technician, "/documents/labels")  # they are chosen already
    assert printed.status_code == 303
    sheet = pdf_text(technician.get(printed.location).data)
    assert all(code in sheet for code in records.waiting_labels(lab.session))
    assert fresh.code in sheet
    lab.session.rollback()
    assert lab.count(WaitingLabel) == 0
    assert "to be printed" not in text(technician.get("/"))


def test_a_spare_takes_its_place_without_any_mixing(lab: SmallLab, technician, spent):
    spare = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500, in_service=False)
    card = f"/baths/{spent.id}/change-over"
    shown = text(technician.get(card))
    assert f"Put the spare {spare.name} {spare.code} in its place." in shown
    assert "of water first" not in shown
    assert fill_in(technician, card, volume="2.4 L").status_code == 303
    lab.session.rollback()
    assert lab.session.get_one(Bath, spare.id).is_in_service
    assert lab.session.get_one(Bath, spent.id).dumped_at is not None
    assert ledger.wrong_levels(lab.session) == []


@pytest.mark.sqlite_only
def test_the_card_says_what_stands_in_the_way(lab: SmallLab, technician, spent):
    card = f"/baths/{spent.id}/change-over"
    (container,) = lab.session.query(WasteContainer)
    lab.add_bottle(SolutionKind.FIXER)
    before = text(technician.get(card))
    assert "in the building: ask first" not in before
    for bottle in lab.session.query(Bottle).filter_by(product_id=spent.product_id):
        bottle.vessel.level = 100_000
    lab.session.commit()
    assert "There is too little to mix it again" in text(technician.get(card))
    typed = {"as_planned": "Done as it says here", "volume": "2.5 L", "container_id": container.id}
    sent = send(technician, card, typed)
    assert sent.status_code == 422
    container.vessel.level = container.vessel.capacity - 1_000_000
    lab.session.commit()
    assert "No container here takes it" in text(technician.get(card))
    fresh = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_000)
    there = technician.get(f"/baths/{fresh.id}/change-over")
    assert f"{fresh.name} {fresh.code} is not exhausted" in text(technician.get(there.location))
    service.undo_mixing(lab.act("technician"), bath_id=fresh.id)
    assert fresh.code not in records.waiting_labels(lab.session)
