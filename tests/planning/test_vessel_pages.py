"""Choosing the vessel on the page of a plan, and what a developer's own sheet does to it."""

import pytest

from labsys.chemistry.care import SolutionKind
from labsys.labware import service as labware
from labsys.people.acts import Act
from labsys.products import service as products
from tests.planning.furnishing import add_film_process
from tests.planning.looking import address
from tests.support.lab import SOURCE, SmallLab, product_entry
from tests.support.pages import hidden_field, text


def test_the_vessel_chosen_in_the_address_gives_the_volume(lab: SmallLab, member):
    process = add_film_process(lab)
    five = lab.add_vessel()
    tall = lab.add_vessel("Tall tank", capacity_ul=3_200_000, fills=[labware.FillEntry("120", 5, 3_000_000)])
    assert "5 of 120 in 2.5 L, Five-reel tank" in text(member.get(address(process)))
    page = member.get(address(process, vessel=tall.id))
    assert "5 of 120 in 3 L, Tall tank" in text(page)
    assert f'<option selected value="{tall.id}">Tall tank</option>' in page.get_data(as_text=True)
    assert "Fill the tank up with 2 empty reels" in text(member.get(address(process, count=3, vessel=five.id)))


def test_the_sheet_is_issued_for_the_vessel_on_the_page(lab: SmallLab, member):
    process = add_film_process(lab)
    tall = lab.add_vessel("Tall tank", capacity_ul=3_200_000, fills=[labware.FillEntry("120", 5, 3_000_000)])
    page = member.get(address(process, vessel=tall.id)).get_data(as_text=True)
    fields = {"process_id": process.id, "size": "120", "count": 5, "vessel": tall.id}
    keys = {name: hidden_field(page, name) for name in ("csrf_token", "submission_key")}
    issued = member.post("/documents/session-sheet", data={**fields, **keys})
    assert issued.location.startswith("/documents/")
    assert member.get(issued.location).mimetype == "application/pdf"


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("told", "message"),
    [
        ({"count": 6}, "Five-reel tank takes 5 of 120 at most, not 6."),
        ({"volume": "3 L"}, "Five-reel tank takes 2.7 L at most."),
        ({"volume": "2 L"}, "Five-reel tank needs 2.5 L to cover 5 of 120."),
        ({"size": "4x5 in"}, "No such tank or tray takes 4x5 in. Choose again."),
    ],
)
def test_what_the_chosen_vessel_does_not_take_is_said(lab: SmallLab, member, told, message):
    process = add_film_process(lab)
    page = member.get(address(process, **{"vessel": lab.add_vessel().id, **told}))
    assert page.status_code == 422
    assert message in text(page)


@pytest.mark.sqlite_only
def test_a_vessel_out_of_use_is_not_offered(lab: SmallLab, member):
    process = add_film_process(lab)
    tank = lab.add_vessel()
    entry = labware.VesselEntry(
        name=tank.name, kind=tank.kind, capacity_ul=tank.capacity_ul, fills=[labware.FillEntry("120", 5, 2_500_000)]
    )
    technician = lab.person("technician")
    labware.change_vessel(Act(lab.session, by=technician, now=lab.tick()), vessel_id=tank.id, entry=entry, in_use=False)
    page = member.get(address(process))
    assert "Five-reel tank" not in text(page)
    assert member.get(address(process, vessel=tank.id)).status_code == 422


def test_the_developers_own_data_reach_the_plan(lab: SmallLab, member):
    process = add_film_process(lab)
    own = {"q10_milli": 2_000, "low_milli_c": 18_000, "high_milli_c": 26_000, "least_seconds": 240}
    own |= {"least_concentrate_ul": 80_000, "developing_source": SOURCE}
    products.change_product(
        lab.act("technician"),
        product_id=lab.ids["product developer"],
        sheet=product_entry(SolutionKind.DEVELOPER, **own),
    )
    told = text(member.get(address(process, celsius=25)))
    assert "5:40 min" in told  # 480 s × 2^(−0.5), counted in steps of 5 s
    assert f"own factor of 2 for 10 °C ({SOURCE})" in told
    assert "Mix 2.8 L: 2.5 L covers the film, but holds too little concentrate, 80 mL for each roll" in told
    told = text(member.get(f"/store/products/{lab.ids['product developer']}"))
    assert "Works 2 times as fast 10 °C warmer. Its times hold from 18 to 26 °C." in told
    assert f"A roll of film needs at least 80 mL of it undiluted. {SOURCE}" in told
