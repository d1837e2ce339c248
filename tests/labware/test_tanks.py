"""Tanks and trays the lab owns, and what covers a load in them."""

import pytest

from labsys.chemistry.sizes import size_of
from labsys.labware import queries, service
from labsys.labware.models import VesselFill, WorkingVessel, WorkingVesselKind
from labsys.labware.rules import Fill, VesselRefused, fill_for, for_a_hand
from labsys.people.acts import Act
from tests.support.lab import SmallLab
from tests.support.pages import queries_of, send, source

FIVE_REELS = WorkingVessel(
    kind=WorkingVesselKind.TANK,
    capacity_ul=2_700_000,
    fills=[
        VesselFill(size="120", count=5, volume_ul=2_500_000),
        VesselFill(size="120", count=2, volume_ul=1_000_000),
        VesselFill(size="4x5 in", count=8, volume_ul=2_000_000),
    ],
)
TRAY = WorkingVessel(
    kind=WorkingVesselKind.TRAY, capacity_ul=3_500_000, length_mm=375, width_mm=300, depth_mm=20, fills=[]
)
TANK_FIELDS = {
    "name": "Πεντάρι",
    "capacity": "2.7 L",
    "fills-0-size": "120",
    "fills-0-count": "5",
    "fills-0-volume": "2.5 L",
    "source": "engraved on its base",
}
TRAY_FIELDS = {"name": "11x14 tray", "capacity": "3.5 L", "length_mm": "375", "width_mm": "300", "depth_mm": "20"}


@pytest.mark.parametrize(
    ("vessel", "size", "count", "fill"),
    [
        # A five-reel tank of 2.5 L: common practice, no source.
        (FIVE_REELS, "120", 5, Fill(2_500_000, 2_500_000, empty=0)),
        # Empty reels take up the room of missing ones: NAVEDTRA 14209, Photography (Basic).
        (FIVE_REELS, "120", 3, Fill(2_500_000, 2_500_000, empty=2)),
        (FIVE_REELS, "120", 1, Fill(1_000_000, 1_000_000, empty=1)),
        (FIVE_REELS, "120", 6, None),
        (FIVE_REELS, "135-36", 1, None),
        (FIVE_REELS, "4x5 in", 3, Fill(2_000_000, 2_000_000, empty=0)),  # a holder has no empty reels
        # 375 × 300 × 20 mm = 2.25 L, × 12.7 mm = 1.43 L, calculated; rounded up for a hand.
        (TRAY, "11x14 in", 30, Fill(2_300_000, 1_450_000)),
        (TRAY, "12x16 in", 1, None),  # 406 mm long: longer than the tray
        (TRAY, "120", 1, None),
    ],
)
def test_what_covers_a_load(vessel, size, count, fill):
    assert fill_for(vessel, size=size_of(key=size), count=count) == fill


@pytest.mark.parametrize("ul", [1, 333_333, 499_999, 500_001, 1_999_999, 2_000_001, 47_310_000])
def test_a_volume_for_a_hand_covers_and_is_round(ul):
    rounded = for_a_hand(ul)
    assert rounded >= ul
    assert rounded % 10_000 == 0
    assert rounded - ul < 100_000
    assert for_a_hand(rounded) == rounded


def test_a_tank_is_changed_and_taken_out_of_use(lab: SmallLab):
    tank = lab.add_vessel()
    entry = service.VesselEntry(
        name="Five-reel tank",
        kind=WorkingVesselKind.TANK,
        capacity_ul=2_600_000,
        fills=[service.FillEntry("120", 5, 2_500_000), service.FillEntry("135-36", 8, 2_500_000)],
    )
    technician = lab.person("technician")
    service.change_vessel(Act(lab.session, by=technician, now=lab.tick()), vessel_id=tank.id, entry=entry, in_use=False)
    (found,) = queries.working_vessels(lab.session)
    assert (found.capacity_ul, len(found.fills), found.closed_at) == (2_600_000, 2, lab.now)
    assert queries.working_vessels(lab.session, in_use_only=True) == []


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({}, "There is a tank or tray called Five-reel tank already"),
        ({"name": "Small", "capacity_ul": 2_000_000}, "It takes 2 L at most; a filling of 2.5 L is entered."),
        ({"name": "Bare", "fills": []}, "Enter one filling at least"),
        ({"name": "Tray", "kind": WorkingVesselKind.TRAY, "fills": []}, "Measure the tray inside"),
    ],
)
def test_what_cannot_be_is_refused(lab: SmallLab, changes, message):
    lab.add_vessel()
    with pytest.raises(VesselRefused, match=message):
        lab.add_vessel(**changes)
    assert len(queries.working_vessels(lab.session)) == 1


def test_tanks_and_trays_are_added_and_changed_on_their_pages(lab: SmallLab, client_as):
    technician = client_as("technician")
    assert "No tanks or trays yet" in source(technician.get("/store/tanks"))
    assert send(technician, "/store/tanks", TANK_FIELDS).status_code == 303
    assert send(technician, "/store/tanks?kind=tray", TRAY_FIELDS).status_code == 303
    page = source(technician.get("/store/tanks"))
    for words in ("Πεντάρι", "5 of 120 in 2.5 L", "engraved on its base", "375 × 300 mm inside; 2.3 L at 20 mm"):
        assert words in page, words
    tank = queries.working_vessel_by_name(lab.session, "Πεντάρι")
    address = f"/store/tanks/{tank.id}/change"
    assert 'value="2500"' in source(technician.get(address))
    assert send(technician, address, TANK_FIELDS).status_code == 303  # “in use” was unticked
    assert "out of use" in source(technician.get("/store/tanks"))


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("address", "fields", "message"),
    [
        ("/store/tanks", {**TANK_FIELDS, "name": ""}, "Name it as it is marked."),
        ("/store/tanks", {**TANK_FIELDS, "capacity": "much"}, "Write a number and its unit"),
        ("/store/tanks", {**TANK_FIELDS, "fills-0-count": ""}, "Enter how many go in at once."),
        ("/store/tanks", {**TANK_FIELDS, "capacity": "2 L"}, "a filling of 2.5 L is entered"),
        (
            "/store/tanks",
            {**TANK_FIELDS, "fills-1-size": "120", "fills-1-count": "5", "fills-1-volume": "2 L"},
            "A row above says the same",
        ),
        ("/store/tanks?kind=tray", {**TRAY_FIELDS, "width_mm": ""}, "Measure its width inside."),
        ("/store/tanks?kind=tray", {**TRAY_FIELDS, "depth_mm": "8"}, "Less than 13 mm does not cover a moving sheet."),
        ("/store/tanks?kind=tray", {**TRAY_FIELDS, "length_mm": "37"}, "That is smaller than any tray."),
    ],
)
def test_a_form_that_cannot_be_saved_says_what_to_do(lab: SmallLab, client_as, address, fields, message):
    answer = send(client_as("technician"), address, fields)
    assert answer.status_code == 422
    assert message in source(answer)
    assert queries.working_vessels(lab.session) == []


@pytest.mark.sqlite_only
def test_the_list_costs_the_same_queries_however_many_there_are(lab: SmallLab, client_as):
    technician = client_as("technician")
    lab.add_vessel()
    first = queries_of(technician, "/store/tanks")
    for number in range(5):
        lab.add_vessel(f"Tank {number}")
    assert queries_of(technician, "/store/tanks") == first <= 20
