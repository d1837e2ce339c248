"""The acts that ask for a competence, on the pages: before the form is filled, and when it is sent all the same."""

from dataclasses import replace

import pytest

from labsys.baths.models import Bath
from labsys.chemistry.care import SolutionKind
from labsys.competences import asked, service
from labsys.competences.models import Competence, CompetenceGrant
from labsys.inductions import gate
from labsys.inductions.models import Hazard
from labsys.people import service as people
from labsys.people.models import Role
from labsys.places import service as places
from labsys.products import service as products
from labsys.timetable.opening import Hours
from labsys.waste import quarantine
from labsys.waste.models import Collection
from tests.baths.conftest import MIXED, plan, rows
from tests.support.lab import product_entry
from tests.support.pages import fill_in, hidden, source, text
from tests.waste.sending import NOTE, RIGHT, pour_path

POWDER = {"powder_mg_per_l": 100_000, "density_mg_per_ml": None, "h_codes": "not classified", "ingredients": []}


@pytest.fixture
def open_all_day(lab):
    """So that the hour asks for nothing."""
    places.set_opening_hours(lab.act("manager"), hours=[Hours(day, 0, 1440) for day in range(7)])


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("kind", "entry", "wanted"),
    [
        (SolutionKind.FIXER, {"name": "Mild liquid"}, set()),
        (SolutionKind.FIXER, {"name": "Powder", **POWDER}, {Competence.POWDERS}),
        (SolutionKind.STOP, {"name": "Other stop"}, {Competence.CORROSIVES}),
        (SolutionKind.STOP, {"name": "Weak stop", "h_codes": "H319"}, set()),
        # nobody has stated anything, or not all of it: never the mild side
        (SolutionKind.FIXER, {"name": "Unstated", "h_codes": "", "ingredients": []}, {Competence.CORROSIVES}),
        (SolutionKind.STOP, {"name": "By its parts", "h_codes": ""}, {Competence.CORROSIVES}),
        # an extreme pH where the SDS says nothing of skin and eyes is taken as H314
        (
            SolutionKind.FIXER,
            {"name": "Lye", "h_codes": "H290", "ph_low_milli": 13_500, "ph_high_milli": 14_000},
            {Competence.CORROSIVES},
        ),
        (SolutionKind.TONER, {"name": "Toner"}, {Competence.TONERS}),
        (SolutionKind.TONER, {"name": "Toner powder", **POWDER}, {Competence.TONERS, Competence.POWDERS}),
    ],
)
def test_what_a_product_asks_for_follows_from_what_it_is(lab, kind, entry, wanted):
    sheet = replace(product_entry(SolutionKind.FIXER if kind is SolutionKind.TONER else kind, **entry), kind=kind)
    product = products.add_product(lab.act("technician"), sheet=sheet)
    found = {each.competence for each in asked.of_mixing(product)}
    assert found == wanted


def test_mixing_what_burns_skin_is_refused_before_the_form_and_after_it(as_role, lab, nobody_holds, open_all_day):
    nobody_holds(Competence.CORROSIVES)
    bottle = lab.add_bottle(SolutionKind.STOP)
    technician = as_role("technician")
    answer = technician.get(plan(lab, "stop"))
    page = text(answer)
    assert "Acetic stop concentrate as supplied burns skin (H314)." in page
    assert "Yours: revoked on 2 Mar 2026." in page
    assert "Nobody here holds it today." in page
    assert "Μαρία Ιωάννου names who is the first" in page
    assert "Work it out" not in page
    assert "Save the bath" not in page
    measured = {**hidden(source(answer)), **rows((bottle.id, "125")), "water": "2375", **MIXED}
    answer = technician.post(plan(lab, "stop"), data=measured)
    assert answer.status_code == 422
    assert "which asks for a competence: concentrated acid or alkali" in text(answer)
    assert lab.count(Bath) == 0


def test_the_page_names_who_holds_it_and_who_can_grant_it(as_role, lab, open_all_day):
    lab.make_competent("instructor", Competence.CORROSIVES)
    (own,) = (
        granted
        for granted in lab.session.query(CompetenceGrant).filter_by(competence=Competence.CORROSIVES)
        if granted.person_id == lab.ids["technician"]
    )
    service.revoke(lab.act("manager"), grant_id=own.id, because="For the test")
    page = text(as_role("technician").get(plan(lab, "stop")))
    assert "Today Ines Carrow holds it." in page
    assert "Nobody who holds it can grant it, so Μαρία Ιωάννου names who is the first." in page


def test_what_does_not_burn_is_mixed_without(as_role, lab, nobody_holds, open_all_day):
    nobody_holds(*Competence)
    lab.add_bottle(SolutionKind.FIXER)
    assert "Save the bath" in text(as_role("technician").get(plan(lab, "fixer")))


def test_replenishing_asks_as_mixing_does(as_role, lab, nobody_holds, open_all_day):
    bath = lab.mix(SolutionKind.STOP, water_parts=19, working_ml=2_500)
    nobody_holds(Competence.CORROSIVES)
    technician = as_role("technician")
    page = source(technician.get(f"/baths/{bath.id}/replenish"))
    assert "Not yet: it asks for a competence" in page
    bottle = lab.add_bottle(SolutionKind.STOP)
    measured = {**hidden(page), **rows((bottle.id, "10")), "water": "190"}
    answer = technician.post(f"/baths/{bath.id}/replenish?volume=200+mL", data=measured)
    assert answer.status_code == 422
    assert "which asks for a competence" in text(answer)


def test_mixing_the_same_again_asks_as_mixing_does(as_role, lab, nobody_holds, open_all_day):
    bath = lab.mix(SolutionKind.STOP, water_parts=19, working_ml=2_500)
    nobody_holds(Competence.CORROSIVES)
    page = text(as_role("technician").get(f"/baths/{bath.id}/again"))
    assert "Not yet: it asks for a competence" in page
    assert "Save the bath" not in page


def test_mixing_out_of_hours_is_a_competence_of_its_own(as_role, lab, nobody_holds):
    """The lab opens at ten; it is nine."""
    lab.add_bottle(SolutionKind.FIXER)
    places.set_opening_hours(lab.act("manager"), hours=[Hours(day, 600, 1320) for day in range(7)])
    assert "Save the bath" in text(as_role("technician").get(plan(lab, "fixer")))
    nobody_holds(Competence.OUT_OF_HOURS)
    page = text(as_role("technician").get(plan(lab, "fixer")))
    assert "on Monday 2 March is outside opening hours" in page
    lab.tick(hours=2)
    assert "Save the bath" in text(as_role("technician").get(plan(lab, "fixer")))


def test_what_was_mixed_before_the_lab_opened_is_judged_by_that_hour(as_role, lab, nobody_holds):
    bottle = lab.add_bottle(SolutionKind.FIXER)
    places.set_opening_hours(lab.act("manager"), hours=[Hours(day, 600, 1320) for day in range(7)])
    nobody_holds(Competence.OUT_OF_HOURS)
    lab.tick(hours=2)
    technician = as_role("technician")
    measured = {**rows((bottle.id, "500")), "water": "2000", **MIXED, "name": "Fixer"}
    carried = hidden(source(technician.get(plan(lab, "fixer"))))
    early = technician.post(plan(lab, "fixer"), data={**carried, **measured, "when": "2026-03-02T08:30"})
    assert "08:30 on Monday 2 March is outside opening hours" in text(early)
    assert technician.post(plan(lab, "fixer"), data={**carried, **measured}).status_code == 303


@pytest.mark.sqlite_only
def test_without_opening_hours_no_hour_counts_as_staffed(as_role, lab, nobody_holds):
    nobody_holds(Competence.OUT_OF_HOURS)
    page = text(as_role("technician").get(plan(lab, "fixer")))
    assert "No opening hours are stated, so no hour counts as staffed (whoever keeps the places states them)." in page


def test_it_is_held_on_the_day_of_mixing_and_today(as_role, lab, open_all_day):
    """Granted on 2 March: what was mixed on the first is not covered."""
    bottle = lab.add_bottle(SolutionKind.STOP)
    lab.tick(hours=1)
    technician = as_role("technician")
    carried = hidden(source(technician.get(plan(lab, "stop"))))
    measured = {**carried, **rows((bottle.id, "125")), "water": "2375", **MIXED, "when": "2026-03-01T09:00"}
    answer = technician.post(plan(lab, "stop"), data=measured)
    assert "Yours: never granted." in text(answer)


def test_releasing_from_quarantine_asks_for_it(as_role, lab, nobody_holds):
    container = lab.open_container()
    quarantine.quarantine(lab.act("technician"), container_id=container.id, reason="A jug without a label")
    nobody_holds(Competence.RELEASING)
    for role in ("technician", "safety adviser", "manager"):
        client = as_role(role)
        path = f"/waste/containers/{container.id}/release"
        page = source(client.get(path))
        assert "A container is released from quarantine." in page
        assert "Release it" not in page
        answer = client.post(path, data={**hidden(page), "kind": "classified anew", "note": "Looked at"})
        assert answer.status_code == 422
    lab.session.expire_all()
    assert container.quarantine is not None


def test_handing_waste_over_asks_for_it(as_role, lab, nobody_holds):
    container = lab.open_container()
    as_role("technician").post(pour_path(container), data=RIGHT)
    nobody_holds(Competence.WASTE_AWAY)
    for role in ("technician", "manager"):
        client = as_role(role)
        page = source(client.get("/waste/collect"))
        assert "Waste is signed away to a carrier." in page
        assert "note_code" not in page
        client.post("/waste/collect", data={**hidden(page), "containers": [str(container.id)], **NOTE})
        assert lab.count(Collection) == 0


def test_no_role_brings_a_competence_along(as_role, lab, nobody_holds, open_all_day):
    """Somebody with every role holds nothing."""
    nobody_holds(*Competence)
    people.change_roles(lab.act("manager"), person_id=lab.ids["technician"], roles=list(Role))
    assert "Not yet: it asks for a competence" in text(as_role("technician").get(plan(lab, "stop")))
    assert "Not yet: it asks for a competence" in text(as_role("technician").get("/waste/collect"))


def test_lapsed_it_counts_no_more(as_role, lab, open_all_day):
    lab.tick(days=6 * 366)
    page = text(as_role("technician").get(plan(lab, "stop")))
    assert "Yours: lapsed after 1 Mar 2031." in page


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("hazard", "entry"),
    [
        (Hazard.CORROSIVE, {"h_codes": "H314"}),
        (Hazard.CORROSIVE, {"h_codes": "H318"}),
        (Hazard.CORROSIVE, {"h_codes": "", "ingredients": []}),  # nobody has said: never the mild side
        (Hazard.TOXIC, {"h_codes": "H301"}),
        (Hazard.TOXIC, {"h_codes": "", "ingredients": []}),
        (Hazard.POWDER, POWDER),
        (Hazard.CONCENTRATE, {"h_codes": "not classified"}),
        (Hazard.CONCENTRATE, {"h_codes": "not classified", "dilutions": []}),  # no dilution is stated
    ],
)
def test_an_induction_can_be_asked_by_what_a_chemical_is(as_role, lab, open_all_day, hazard, entry):
    """Booking a process with it, and mixing it, are refused to whoever lacks the induction."""
    product = products.add_product(
        lab.act("technician"), sheet=product_entry(SolutionKind.FIXER, name="Other fixer", **entry)
    )
    lab.ids["product fixer"] = product.id
    lab.add_bottle(SolutionKind.FIXER)
    process = lab.add_process()
    lab.add_places()
    induction = lab.add_induction("Handling it", hazards=frozenset({hazard}))
    lab.appoint(induction)
    subject = gate.work_by_process(lab.session)[process.id]
    assert hazard in subject.hazards
    assert subject.hazards == gate.hazards_of_process(process)
    member = as_role("member")
    starts = lab.now.replace(hour=14, minute=0)
    answer = fill_in(
        member,
        f"/bookings/book?station={lab.ids['Film sink']}&day={starts.date()}",
        starts="840",
        ends="960",
        process_id=str(process.id),
    )
    assert answer.status_code == 422
    assert f"Handling it is needed because a chemical in use {_SAID[hazard]}" in text(answer)
    page = text(as_role("technician").get(plan(lab, "fixer")))
    assert "Not yet: it asks for an induction that you do not hold today." in page
    assert f"Handling it is needed because a chemical in use {_SAID[hazard]}" in page


_SAID = {
    Hazard.CORROSIVE: "is corrosive as supplied",
    Hazard.TOXIC: "is toxic as supplied",
    Hazard.POWDER: "comes as a powder",
    Hazard.CONCENTRATE: "comes as a concentrate",
}
