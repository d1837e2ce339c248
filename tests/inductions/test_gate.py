from datetime import timedelta

import pytest

from labsys.chemistry.care import SolutionKind
from labsys.chemistry.sizes import Material
from labsys.inductions import gate, service, signing
from labsys.inductions.models import Hazard
from labsys.inductions.rules import InductionState, NotCleared, Subject
from labsys.people import service as people
from labsys.people.acts import Act
from labsys.people.models import Role
from labsys.processes import service as processes
from labsys.products.sheet import StatedIngredient
from tests.support.pages import statements

SENSITISER = frozenset({Hazard.SENSITISER})
FILM = Subject(material=Material.FILM)


def asked(lab, *subjects, role="member", at=None):
    found = gate.clearances(lab.session, person_ids=[lab.ids[role]], subjects=subjects, at=at or lab.now)
    return [found[lab.ids[role], subject] for subject in subjects]


def test_the_gate_opens_once_a_sign_off_is_confirmed(lab, add_station):
    sink = add_station("Film sink")
    skin = lab.add_induction("Skin care", station_ids=frozenset({sink.id}), hazards=frozenset({Hazard.SENSITISER}))
    lab.appoint(skin)
    subject = Subject(station_id=sink.id, material=Material.FILM, hazards=SENSITISER)
    (before,) = asked(lab, subject)
    assert before.missing[0].why == (
        "for Film sink and because a chemical in use is a sensitiser (it can cause an allergy)"
    )
    signed = lab.sign_off(skin, confirmed=False)
    (waiting,) = asked(lab, subject)
    assert [one.standing for one in waiting.missing] == [InductionState.WAITING]
    signing.confirm(lab.act("member"), sign_off_id=signed.id)
    assert asked(lab, subject)[0].is_clear


def test_a_lapse_a_withdrawal_and_a_version_to_repeat_close_it_again(lab):
    skin = lab.add_induction("Skin care", materials=frozenset({Material.FILM}))
    lab.appoint(skin)
    signed = lab.sign_off(skin)
    assert asked(lab, FILM)[0].is_clear
    assert asked(lab, FILM, at=lab.now + timedelta(days=366))[0].missing[0].state == "lapsed on 2 March"
    signing.withdraw(lab.act("instructor"), sign_off_id=signed.id, reason="Slept.")
    assert asked(lab, FILM)[0].missing[0].standing is InductionState.WITHDRAWN
    service.issue_version(lab.act("manager"), induction_id=skin.id, text="All new.", valid_days=None, must_repeat=True)
    assert asked(lab, FILM, role="instructor")[0].missing[0].state == "must be repeated: version 2 of 2 March"


def test_the_refusal_names_what_is_missing_and_where_to_get_it_once(lab, add_station):
    sink = add_station("Film sink")
    lab.add_induction("Skin care", station_ids=frozenset({sink.id}), materials=frozenset({Material.FILM}))
    member, instructor = lab.person("member"), lab.person("instructor")
    subjects = [Subject(station_id=sink.id), FILM]
    with pytest.raises(NotCleared) as own:
        gate.require_clear(Act(lab.session, by=member, now=lab.now), person=member, subjects=subjects, at=lab.now)
    assert str(own.value) == (
        "You are not cleared for this yet. Skin care is needed for Film sink and for film: never signed off. "
        "Come to the induction on Mondays at six."
    )
    with pytest.raises(NotCleared, match=r"^Łukasz Żak is not cleared for this yet"):
        gate.require_clear(Act(lab.session, by=instructor, now=lab.now), person=member, subjects=subjects, at=lab.now)
    gate.require_clear(
        Act(lab.session, by=member, now=lab.now), person=member, subjects=[Subject(material=Material.RC)], at=lab.now
    )


def test_three_queries_answer_for_one_as_for_many(lab, add_station):
    def cost(person_ids, subjects):
        with statements() as sent:
            gate.clearances(lab.session, person_ids=person_ids, subjects=subjects, at=lab.now)
        return len(sent)

    skin = lab.add_induction("Skin care", materials=frozenset(Material))
    lab.appoint(skin)
    lab.sign_off(skin)
    subjects = [Subject(station_id=add_station(f"Enlarger {letter}").id) for letter in "ABCDEF"]
    cost([], [])  # reads the lab, which the session holds on to
    assert cost([lab.ids["member"]], subjects[:1]) == 3
    assert cost(lab.ids.values(), [*subjects, FILM]) == 3
    assert cost([], []) == 3


def test_a_product_with_a_sensitiser_at_any_strength_is_a_hazard(lab):
    """The whole point of the rule: a trace that no dilution classifies still asks for the skin-care induction."""
    trace = {
        "name": "Wash aid",
        "h_codes": "not classified",
        "ingredients": [
            StatedIngredient("a preservative", "2634-33-5", 0, 10, "Skin Sens. 1 H317", "Skin Sens. 1 H317: C>=0.05")
        ],
    }
    traced = lab.add_product(SolutionKind.FIXER, **trace)
    named = lab.add_product(SolutionKind.STOP, name="Hardening stop", h_codes="EUH203", ingredients=[])
    plain = lab.ids["product fixer"]
    found = gate.hazards_by_product(lab.session, product_ids=[traced.id, named.id, plain, lab.ids["product developer"]])
    diluted = frozenset({Hazard.CONCENTRATE})
    assert found == {
        traced.id: SENSITISER | diluted,
        named.id: SENSITISER | diluted,
        plain: diluted,
        lab.ids["product developer"]: SENSITISER | diluted | {Hazard.CORROSIVE},  # H318
    }
    assert gate.hazards_of_products([traced]) == SENSITISER | diluted
    assert gate.hazards_of_products([]) == frozenset()


def test_the_hazards_of_a_process_are_those_of_its_products(lab):
    fixing = lab.add_process()
    both = processes.add_process(
        lab.act("technician"),
        name="All of it",
        material=Material.FILM,
        note="",
        steps=[
            processes.StepEntry(name="Develop", product_id=lab.ids["product developer"], water_parts_milli=6_000),
            processes.StepEntry(name="Rinse", seconds=60),
        ],
    )
    whole = SENSITISER | {Hazard.CONCENTRATE, Hazard.CORROSIVE}
    assert gate.hazards_of_process(both) == whole
    expected = {
        fixing.id: Subject(material=Material.FILM, hazards=frozenset({Hazard.CONCENTRATE})),
        both.id: Subject(material=Material.FILM, hazards=whole),
    }
    assert gate.work_by_process(lab.session, process_ids=[fixing.id, both.id]) == expected
    assert gate.work_by_process(lab.session) == expected


def test_sign_offs_of_people_beyond_the_first_page_count_too(lab):
    skin = lab.add_induction("Skin care", materials=frozenset({Material.FILM}))
    lab.appoint(skin)
    ids = [
        people.invite_person(
            lab.act("manager"), name=f"Student {number}", email=f"s{number}@example.org", roles=[Role.MEMBER]
        ).person.id
        for number in range(5)
    ]
    signing.sign_off_many(lab.act("instructor"), person_ids=ids, induction_ids=[skin.id], taught_at=lab.now)
    found = gate.clearances(lab.session, person_ids=ids, subjects=[FILM], at=lab.now)
    assert {one.missing[0].standing for one in found.values()} == {InductionState.WAITING}
