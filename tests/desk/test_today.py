"""The first page: the baths in service, what is due in the lab, and what each role came for."""

from collections.abc import Callable
from datetime import timedelta

import pytest
import time_machine
from flask import Flask
from flask.testing import FlaskClient

from labsys.baths import service as baths
from labsys.baths.models import Place
from labsys.chemistry.care import SolutionKind
from labsys.database import db
from labsys.hazards.nations import ELSEWHERE
from labsys.lab.rules import Settings
from labsys.lab.service import set_up_lab
from labsys.people import service as people
from labsys.people.acts import Act
from labsys.people.models import Role
from labsys.products import service as products
from labsys.quantities import UL_PER_ML
from labsys.store import service as store
from labsys.store.rules import Noted
from labsys.waste import service as waste
from labsys.waste.models import WasteContainer, WasteKind
from labsys.waste.rules import Poured
from tests.conftest import Content
from tests.desk.conftest import Look
from tests.desk.reading import cards, duties, primary_acts
from tests.support.by_hand import change_by_hand
from tests.support.lab import START, SmallLab
from tests.support.pages import links, source

ClientAs = Callable[..., FlaskClient]


def pour(lab: SmallLab, container: WasteContainer, *, volume_ml: int, code: str = "09 01 04*") -> None:
    waste.pour(
        lab.act("technician"),
        container_id=container.id,
        poured=Poured("used fixer from a visitor", code, volume_ml * UL_PER_ML, kind=WasteKind.FIXER),
        poured_at=lab.now,
        is_done=True,
    )

    # Before there is a lab


def test_before_there_is_a_lab_the_page_says_how_to_begin(new_app: Callable[..., Flask]) -> None:
    client = new_app(Content.TABLES).test_client()
    answer = client.get("/")
    assert answer.status_code == 200
    assert "No lab here yet" in source(answer)
    assert "labsys init" in source(answer)
    assert client.get("/sign-in").location == "/"


@pytest.mark.sqlite_only
def test_the_page_is_for_people_signed_in(client_as: ClientAs) -> None:
    answer = client_as().get("/")
    assert (answer.status_code, answer.location) == (303, "/sign-in")


@pytest.mark.sqlite_only
def test_a_lab_without_lines_says_what_comes_first(new_app: Callable[..., Flask]) -> None:
    app = new_app(Content.TABLES)
    with app.app_context(), time_machine.travel(START):
        manager = set_up_lab(
            Act(db.session, by=None, now=START),
            settings=Settings(name="Фотолаборатория", timezone="Europe/Helsinki", nation=ELSEWHERE),
            code_prefix="TK",
            manager_name="Aino",
            manager_email="aino@example.org",
        ).person
        people.change_roles(
            Act(db.session, by=manager, now=START), person_id=manager.id, roles=[Role.MANAGER, Role.TECHNICIAN]
        )
        client = app.test_client()
        with client.session_transaction() as cookies:
            cookies["_user_id"] = manager.get_id()
        page = source(client.get("/"))
    assert "No baths yet" in page
    assert {"/store/products", "/baths/lines/add"} <= set(links(page))
    assert primary_acts(page) == ["Add a line of baths"]

    # The baths


@pytest.mark.sqlite_only
def test_the_date_is_in_words_and_that_of_the_wall_clock(
    client_as: ClientAs, lab: SmallLab, clock: time_machine.Traveller
) -> None:
    client = client_as("member")
    assert "<h1>Monday 2 March</h1>" in source(client.get("/"))
    clock.move_to("2026-03-31T23:30:00+00:00", tick=False)  # half past midnight in London, in summer time
    assert "<h1>Wednesday 1 April</h1>" in source(client.get("/"))


def test_the_baths_in_service_stand_in_working_order_with_the_life_they_have_left(look: Look, lab: SmallLab) -> None:
    fixer = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500)
    developer = lab.mix(SolutionKind.DEVELOPER, water_parts=6, working_ml=2_500)
    spare = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500, in_service=False)
    page = look("member")
    assert cards(page) == [f"{developer.name} {developer.code}", f"{fixer.name} {fixer.code}"]
    assert "Plenty: about 50 rolls of 120" in page
    assert page.count('class="drawing drawing-graduate"') == page.count('class="drawing drawing-life-bar"') == 2
    assert f'>{spare.name}</a> <span class="code small quiet">{spare.code}</span>' in page
    assert "No bath of this line is in service." in page  # the paper line


@pytest.mark.sqlite_only
def test_with_one_line_in_use_a_use_is_logged_at_a_touch(look: Look, lab: SmallLab) -> None:
    lab.mix_film_line()
    page = look("member")
    assert primary_acts(page) == ["Log a use"]
    assert f"/baths/lines/{lab.film_line_id}/log" in links(page)


@pytest.mark.sqlite_only
def test_with_several_lines_in_use_the_line_is_the_choice(look: Look, lab: SmallLab) -> None:
    lab.mix_film_line()
    lab.mix(SolutionKind.FIXER, water_parts=9, working_ml=1_000, paper=True)
    page = look("member")
    assert primary_acts(page) == ["Log a use: Film line"]
    assert {f"/baths/lines/{line_id}/log" for line_id in (lab.film_line_id, lab.paper_line_id)} <= set(links(page))

    # What is due


def test_an_exhausted_bath_comes_first_and_a_spare_is_named_where_there_is_one(look: Look, lab: SmallLab) -> None:
    """25 rolls: the developer's 10 a litre in 2.5 L."""
    developer = lab.mix_film_line()[Place.DEVELOPER]
    lab.add_product(SolutionKind.STOP, confirmed=False, name="Another stop concentrate")
    lab.log(25)
    first, second, third = duties(look("technician"))
    assert third.what == "Products not assessed as supplied"
    assert first.what == f"{developer.name} {developer.code}"
    assert first.why == "now Exhausted: do not use"
    assert first.act.startswith("Mix a new one")
    assert second.what == "Another stop concentrate"
    spare = lab.mix(SolutionKind.DEVELOPER, water_parts=6, working_ml=2_500, in_service=False)
    page = look("technician")
    assert duties(page)[0].act.startswith(f"Spare {spare.code}")
    assert f"/baths/{spare.id}" in links(page)


@pytest.mark.sqlite_only
def test_a_spare_for_another_place_does_not_help(look: Look, lab: SmallLab) -> None:
    lab.mix_film_line()
    lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500, in_service=False)
    lab.log(25)
    assert duties(look("technician"))[0].act.startswith("Mix a new one")


@pytest.mark.sqlite_only
@pytest.mark.parametrize(("rolls", "listed"), [(18, False), (19, True)])
def test_a_bath_with_a_quarter_left_is_near_its_end(look: Look, lab: SmallLab, rolls: int, listed: bool) -> None:
    """Of 25 rolls 18 leave 28 %, 19 leave 24 % (common practice, no source)."""
    lab.mix_film_line()
    lab.log(rolls)
    found = duties(look("technician"))
    assert [row.why.startswith("Near its end: about 6 rolls") for row in found] == ([True] if listed else [])


@pytest.mark.sqlite_only
def test_a_bath_whose_life_is_not_known_is_listed(look: Look, lab: SmallLab) -> None:
    bath = lab.mix(SolutionKind.STOP, water_parts=30, working_ml=1_000)
    (row,) = duties(look("technician"))
    assert (row.what, row.why) == (f"{bath.name} {bath.code}", "Not known: no capacity is set")


@pytest.mark.sqlite_only
def test_a_bath_out_of_service_waits_to_be_dumped_until_it_is(look: Look, lab: SmallLab) -> None:
    old = lab.mix_film_line()[Place.FIXER]
    new = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500, in_service=False)
    baths.put_in_service(lab.act("technician"), bath_id=new.id)
    page = look("technician")
    (row,) = duties(page)
    assert (row.what, row.why) == (f"{old.name} {old.code}", "Out of service, waits to be dumped")
    assert f"/baths/{old.id}/dump" in links(page)
    assert f"{old.name} {old.code}" not in cards(page)
    lab.dump(old, lab.open_container(), volume_ml=2_500)
    assert duties(look("technician")) == []


@pytest.mark.sqlite_only
def test_a_spare_that_went_off_is_to_be_dumped(look: Look, lab: SmallLab) -> None:
    """The developer keeps 30 days in a tank by the rule entered for it."""
    lab.mix(SolutionKind.DEVELOPER, water_parts=6, working_ml=2_500, in_service=False)
    assert duties(look("technician")) == []
    lab.tick(days=31)
    (row,) = duties(look("technician"))
    assert row.why == "A spare that went off unused"


@pytest.mark.sqlite_only
@pytest.mark.parametrize(("volume_ml", "listed"), [(8_999, False), (9_000, True)])
def test_a_container_nine_tenths_full_is_to_be_handed_over(
    look: Look, lab: SmallLab, volume_ml: int, listed: bool
) -> None:
    """Nine tenths: common practice, no source."""
    container = lab.open_container(capacity_ml=10_000)
    pour(lab, container, volume_ml=volume_ml)
    lab.state(container)
    page = look("manager")
    assert [(row.what, row.why) for row in duties(page)] == (
        [(f"Used fixer {container.label}", "Nearly full: 9 L of 10 L")] if listed else []
    )
    assert primary_acts(page) == (["Hand over waste"] if listed else ["People"])


@pytest.mark.sqlite_only
def test_a_full_container_that_may_not_leave_is_not_to_be_handed_over(look: Look, lab: SmallLab) -> None:
    container = lab.open_container(capacity_ml=10_000)
    pour(lab, container, volume_ml=9_000)
    said = "Nearly full: 9 L of 10 L. State its hazardous properties first: not worked out (of fixer only the kind"
    for role in ("technician", "safety adviser", "manager"):
        page = look(role)
        (row,) = [row for row in duties(page) if container.label in row.what]
        assert row.why.startswith(said)
        assert "State its hazardous properties" in row.act
        assert f"/waste/containers/{container.id}/properties" in links(page)
    assert "Hand over waste" not in look("manager")
    change_by_hand(lab, "UPDATE pours SET kind = NULL", table="pours")
    page = look("manager")
    (row,) = [row for row in duties(page) if container.label in row.what]
    assert "Nearly full: 9 L of 10 L. What is in it is not known" in row.why
    assert "Hand over waste" not in page


@pytest.mark.sqlite_only
def test_a_container_of_which_nobody_knows_what_is_in_it_is_listed(look: Look, lab: SmallLab) -> None:
    """As after an upgrade: nobody quarantined it."""
    container = lab.open_container()
    pour(lab, container, volume_ml=500)
    change_by_hand(lab, "UPDATE pours SET kind = NULL", table="pours")
    (row,) = duties(look("technician"))
    assert row.what == f"Used fixer {container.label}"
    assert row.why.startswith("Nothing goes in. What is in it is not known")


@pytest.mark.sqlite_only
def test_a_container_in_quarantine_says_why(look: Look, lab: SmallLab) -> None:
    container = lab.open_container()
    pour(lab, container, volume_ml=500, code="09 01 01*")
    (row,) = duties(look("technician"))
    assert row.what == f"Used fixer {container.label}"
    assert row.why.startswith("In quarantine, decide by 9 Mar 2026: Waste of code 09 01 01* was poured into Used fixer")


@pytest.mark.sqlite_only
def test_a_bottle_is_listed_from_the_day_after_its_date(look: Look, lab: SmallLab) -> None:
    today = lab.now.date()
    made = {
        days: store.receive_bottle(
            lab.act("technician"),
            product_id=lab.ids["product fixer"],
            amount=1_000 * UL_PER_ML,
            noted=Noted(lot="LOT 1", received_at=lab.now - timedelta(days=9), expires_on=today - timedelta(days=days)),
        )
        for days in (0, 1)
    }
    (row,) = duties(look("technician"))
    assert (row.what, row.why) == (f"Rapid fixer concentrate {made[1].code}", "Past its date, 1 Mar 2026")


@pytest.mark.sqlite_only
def test_an_empty_bottle_is_past_caring(look: Look, lab: SmallLab) -> None:
    bottle = lab.add_bottle(SolutionKind.FIXER)
    bottle.expires_on = lab.now.date() - timedelta(days=1)
    bottle.vessel.level = 0
    lab.session.commit()
    assert duties(look("technician")) == []


@pytest.mark.sqlite_only
def test_a_product_waits_again_once_its_entries_change(look: Look, lab: SmallLab) -> None:
    assert duties(look("safety adviser")) == []
    product = lab.add_product(SolutionKind.FIXER, confirmed=False, name="Φωτογραφικό στερεωτικό")
    page = look("safety adviser")
    (row,) = duties(page)
    assert row.what == "Φωτογραφικό στερεωτικό"
    assert row.act.startswith("Confirm")
    assert primary_acts(page) == ["Confirm products"]
    products.confirm_product(Act(lab.session, by=lab.person("safety adviser"), now=lab.tick()), product_id=product.id)
    assert duties(look("safety adviser")) == []
    product.version += 1
    lab.session.commit()
    assert len(duties(look("safety adviser"))) == 1

    # What each role came for


@pytest.fixture
def busy(lab: SmallLab) -> SmallLab:
    """An exhausted bath, a full container, a product that waits."""
    lab.mix_film_line()
    lab.log(25)
    full = lab.open_container(capacity_ml=1_000)
    pour(lab, full, volume_ml=1_000)
    lab.state(full)
    lab.add_product(SolutionKind.STOP, confirmed=False, name="Another stop concentrate")
    return lab


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("role", "primary", "listed", "acts"),
    [
        ("member", "Log a use", 0, 0),
        ("instructor", "Log a use", 0, 0),
        ("technician", "Film developer: mix a new one", 4, 3),
        ("safety adviser", "Confirm products", 4, 2),
        ("manager", "Hand over waste", 4, 2),
    ],
)
def test_each_role_sees_what_it_can_do_or_oversees(
    look: Look, busy: SmallLab, role: str, primary: str, listed: int, acts: int
) -> None:
    page = look(role)
    assert primary_acts(page) == [primary]
    found = duties(page)
    assert len(found) == listed
    assert len([row for row in found if row.act]) == acts
