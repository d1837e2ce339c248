"""Places: opening hours as they are typed, the acts through the services, and the pages."""

from datetime import UTC, datetime, timedelta

import pytest

from labsys.closing import service as closing
from labsys.people.acts import Act
from labsys.people.permissions import NotPermitted
from labsys.places import queries, rules, service
from labsys.places.models import Closure, OpeningHours, Room, RoomKind, Station
from labsys.places.rules import PlaceRefused, RoomFacts, StationFacts, parse_hours
from labsys.records.errors import NotFound
from labsys.timetable.opening import Hours
from labsys.timetable.spans import Span
from tests.support.lab import do
from tests.support.pages import fill_in, hidden_field, press, send, source

TUESDAY = datetime(2026, 3, 3, tzinfo=UTC)


@pytest.fixture(autouse=True)
def stopped_clock(request, monkeypatch):
    if "lab" in request.fixturenames:
        lab = request.getfixturevalue("lab")
        monkeypatch.setattr("labsys.clock.now", lambda: lab.now)


@pytest.fixture
def technician(client_as):
    return client_as("technician")

    # Opening hours as they are typed


@pytest.mark.parametrize(
    ("typed", "spans"),
    [
        ("", []),
        ("10:00-22:00", [(600, 1320)]),
        (" 9:30 – 12:00 ; 14.00 to 24:00 ", [(570, 720), (840, 1440)]),
        ("14:00-22:00, 10:00-14:00", [(600, 840), (840, 1320)]),
        ("0:00-24:00", [(0, 1440)]),
    ],
)
def test_hours_are_read_as_people_write_them(typed, spans):
    hours = parse_hours(typed, weekday=2, field="wednesday")
    assert hours == [Hours(2, opens, closes) for opens, closes in spans]
    assert parse_hours(rules.hours_in_words(hours), weekday=2, field="wednesday") == hours


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("all day", "write from when to when, as 10:00-22:00"),
        ("10-22", "write from when to when"),
        ("10:00-25:00", "is not on the clock"),
        ("10:75-12:00", "is not on the clock"),
        ("24:00-24:00", "is not on the clock"),
        ("10:05-12:00", "use quarter-hours"),
        ("22:00-02:00", "closing comes after opening"),
        ("10:00-10:00", "closing comes after opening"),
        ("10:00-14:00, 13:00-18:00", "two of the times overlap"),
        ("١٠:٠٠-١٢:٠٠", "write from when to when"),
    ],
)
def test_hours_that_cannot_be_say_which_day_and_what_to_write(typed, words):
    with pytest.raises(PlaceRefused, match="Wednesday") as refused:
        parse_hours(typed, weekday=2, field="wednesday")
    assert words in str(refused.value)
    assert refused.value.field == "wednesday"

    # Acts, on both databases


def with_facts(arguments):
    """What is said of a place, gathered as its acts take it."""
    said = {name: arguments.pop(name) for name in ("margin_minutes", "position", "note")}
    return {**arguments, "facts": StationFacts(**said)}


def add(lab, **changes):
    arguments = {
        "actor": lab.person("technician"),
        "room_id": lab.session.query(Room).first().id,
        "name": "Loading room",
        "units": 2,
        "margin_minutes": 15,
        "position": 9,
        "note": "",
        "now": lab.tick(),
    }
    return do(service.add_station, lab.session, **with_facts({**arguments, **changes}))


def test_a_station_has_its_units_in_order(lab):
    lab.add_places()
    station = add(lab)
    assert [unit.number for unit in station.units] == [1, 2]


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"units": 0}, "units"),
        ({"units": 41}, "units"),
        ({"margin_minutes": 10}, "margin"),
        ({"margin_minutes": -15}, "margin"),
        ({"margin_minutes": 255}, "margin"),
        ({"name": "Film sink"}, "name"),
    ],
)
def test_a_station_that_cannot_be_is_refused_by_its_field(lab, changes, field):
    lab.add_places()
    with pytest.raises(PlaceRefused) as refused:
        add(lab, **changes)
    assert refused.value.field == field
    assert lab.session.query(Station).count() == 3


def change(lab, station, **changes):
    arguments = {
        "actor": lab.person("technician"),
        "station_id": station.id,
        "name": station.name,
        "units": len(station.units),
        "margin_minutes": 0,
        "position": 0,
        "note": "",
        "now": lab.tick(),
    }
    return do(closing.change_station, lab.session, **with_facts({**arguments, **changes}))


def test_units_are_added_and_go_when_nothing_stands_on_them(lab):
    enlarger = lab.add_places()["Enlarger"]

    def numbers():
        return [unit.number for unit in queries.station_or_raise(lab.session, enlarger.id).units]

    change(lab, enlarger, units=6)
    assert numbers() == [1, 2, 3, 4, 5, 6]
    for _ in range(3):  # each takes the lowest that is free
        lab.book("Enlarger", Span(TUESDAY + timedelta(hours=11), TUESDAY + timedelta(hours=12)))
    with pytest.raises(PlaceRefused, match="is booked on Enlarger 3 from 3 Mar 2026, 11:00"):
        change(lab, enlarger, units=2)
    change(lab, enlarger, units=3)
    assert numbers() == [1, 2, 3]
    change(lab, enlarger, units=4)
    assert numbers() == [1, 2, 3, 4]
    with pytest.raises(PlaceRefused, match="a place called Wet side already"):
        change(lab, enlarger, name="Wet side")


def test_what_comes_with_a_place_is_set_as_a_whole(lab):
    made = lab.add_places()
    technician, enlarger = lab.person("technician"), made["Enlarger"].id

    def bring(*names, station_id=enlarger):
        brings = [made[name].id for name in names]
        return service.set_companions(
            Act(lab.session, by=technician, now=lab.tick()), station_id=station_id, brings=brings
        )

    bring("Wet side", "Film sink")
    bring("Film sink")
    assert [one.brings.name for one in queries.station_or_raise(lab.session, enlarger).brings] == ["Film sink"]
    with pytest.raises(PlaceRefused, match="cannot bring itself"):
        bring("Enlarger")
    closing.take_out_of_use(Act(lab.session, by=technician, now=lab.tick()), station_id=made["Wet side"].id)
    with pytest.raises(PlaceRefused, match="out of use"):
        bring("Wet side")


def test_the_week_is_set_at_once_and_a_closure_comes_and_goes(lab):
    lab.add_places()
    technician = lab.person("technician")
    week = [Hours(1, 600, 780), Hours(1, 840, 1320)]
    service.set_opening_hours(Act(lab.session, by=technician, now=lab.tick()), hours=week)
    assert queries.week(lab.session) == week
    span = Span(TUESDAY + timedelta(hours=11), TUESDAY + timedelta(hours=12))
    closure = closing.close(Act(lab.session, by=technician, now=lab.tick()), span=span, reason="Painting")
    day = Span(TUESDAY, TUESDAY + timedelta(days=1))
    opening = queries.calendar(lab.session, within=day).lab
    assert [(one.start.hour, one.end.hour) for one in opening.on(TUESDAY.date())] == [(10, 11), (12, 13), (14, 22)]
    closing.lift(Act(lab.session, by=technician, now=lab.tick()), closure_id=closure.id)
    assert queries.calendar(lab.session, within=day).lab.closures == ()
    with pytest.raises(NotFound):
        closing.lift(Act(lab.session, by=technician, now=lab.tick()), closure_id=999)


def test_a_closure_that_is_over_is_refused(lab):
    span = Span(lab.now - timedelta(days=2), lab.now - timedelta(days=1))
    with pytest.raises(PlaceRefused, match="over already"):
        closing.close(lab.act("technician"), span=span, reason="Painting")


def test_who_does_not_keep_places_changes_none(lab):
    made = lab.add_places()
    member, now = lab.person("member"), lab.tick()
    refused = [
        lambda: service.add_room(
            Act(lab.session, by=member, now=now), name="x", facts=RoomFacts(kind=RoomKind.DRY_SIDE)
        ),
        lambda: add(lab, actor=member),
        lambda: change(lab, made["Enlarger"], actor=member),
        lambda: closing.take_out_of_use(Act(lab.session, by=member, now=now), station_id=made["Enlarger"].id),
        lambda: service.set_companions(Act(lab.session, by=member, now=now), station_id=made["Enlarger"].id, brings=[]),
        lambda: service.set_opening_hours(Act(lab.session, by=member, now=now), hours=[]),
        lambda: closing.lift(Act(lab.session, by=member, now=now), closure_id=1),
    ]
    for act in refused:
        with pytest.raises(NotPermitted):
            act()

            # Pages


@pytest.mark.sqlite_only
def test_an_empty_lab_is_told_what_to_do_first(lab, technician, client_as):
    page = source(technician.get("/places"))
    assert "No rooms yet" in page
    assert "/places/rooms/add" in page
    assert "Add a room" in source(technician.get("/places/stations/add"))
    assert "/places/rooms/add" not in source(client_as("member").get("/places"))
    assert client_as("member").get("/places/rooms/add").status_code == 403


@pytest.mark.sqlite_only
def test_a_room_a_place_and_what_comes_with_it_are_added_by_pages(lab, technician, client_as):
    answer = send(technician, "/places/rooms/add", name="Σκοτεινός θάλαμος", kind="safelight area", step_free="yes")
    room = lab.session.query(Room).one()
    assert answer.location == f"/places/stations/add?room={room.id}"
    for name in ("Enlarger", "Wet side"):
        sent = {"room": room.id, "name": name, "units": 4, "margin": 15, "position": 1, "note": "up to 4x5"}
        assert send(technician, "/places/stations/add", **sent).status_code == 303
    enlarger, wet = lab.session.query(Station).order_by(Station.id)
    path = f"/places/stations/{enlarger.id}"
    assert send(technician, f"{path}/companions", brings=[wet.id]).status_code == 303
    sent = {"name": "Enlarger", "units": 5, "margin": 0, "position": 1, "note": ""}
    assert send(technician, f"{path}/change", **sent).status_code == 303
    page = source(client_as("member").get("/places"))
    assert "Σκοτεινός θάλαμος" in page
    assert "Wet side" in source(client_as("member").get(path))


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"name": ""}, "Give the place a name"),
        ({"name": "Film sink"}, "a place called Film sink already"),
        ({"units": 99}, "Enter from 1 to 40 units"),
        ({"units": "many"}, "Write a whole number"),
        ({"margin": 20}, "in quarter-hours"),
        ({"position": -1}, "Enter a number from 0 to 999"),
        ({"room": 99}, "Choose what is on the list"),
    ],
)
def test_a_place_that_cannot_be_comes_back_as_typed(lab, technician, changes, message):
    lab.add_places()
    room = lab.session.query(Room).one().id
    sent = {"room": room, "name": "Loading room", "units": 1, "margin": 0, "position": 0, "note": "keep me", **changes}
    answer = send(technician, "/places/stations/add", **sent)
    assert answer.status_code == 422
    assert message in source(answer)
    assert 'value="keep me"' in source(answer)
    assert lab.session.query(Station).count() == 3


@pytest.mark.sqlite_only
def test_the_week_is_typed_and_comes_back_as_it_stands(lab, technician):
    sent = {"monday": "10:00-13:00, 14:00-22:00", "sunday": ""}
    assert send(technician, "/places/opening-hours", **sent).status_code == 303
    assert lab.session.query(OpeningHours).count() == 2
    assert 'value="10:00-13:00, 14:00-22:00"' in source(technician.get("/places/opening-hours"))
    answer = send(technician, "/places/opening-hours", monday="10:00-22:00", friday="ten to six")
    assert answer.status_code == 422
    assert "Friday: write from when to when" in source(answer)
    assert 'value="ten to six"' in source(answer)
    lab.session.rollback()
    assert lab.session.query(OpeningHours).count() == 2


@pytest.mark.sqlite_only
def test_a_closure_is_added_and_taken_back_by_pages(lab, technician):
    sent = {"what": "lab", "starts": "2026-03-28T10:00", "ends": "2026-03-29T10:00", "reason": "Ο χώρος βάφεται"}
    assert send(technician, "/places/closures/add", **sent).status_code == 303
    closure = lab.session.query(Closure).one()
    assert closure.ends_at - closure.starts_at == timedelta(hours=23)  # the clocks go forward in between
    page = source(technician.get("/places"))
    assert "Ο χώρος βάφεται" in page
    token = hidden_field(page, "csrf_token")
    technician.post(f"/places/closures/{closure.id}/remove", data={"csrf_token": token})
    lab.session.rollback()
    assert lab.session.query(Closure).count() == 0


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"reason": ""}, "Say why"),
        ({"ends": "2026-03-28T09:00"}, "It opens again after it closes"),
        ({"starts": "2026-03-29T01:30"}, "the clocks went forward over it"),
        ({"starts": "tomorrow"}, "Write the date and time as on the clock"),
        ({"starts": "2026-01-01T10:00", "ends": "2026-01-02T10:00"}, "That is over already"),
        ({"starts": "0001-01-01T00:00"}, "Check the year"),
    ],
)
def test_a_closure_that_cannot_be_comes_back_as_typed(lab, technician, changes, message):
    sent = {"what": "lab", "starts": "2026-03-28T10:00", "ends": "2026-03-29T10:00", "reason": "Painting", **changes}
    answer = send(technician, "/places/closures/add", **sent)
    assert answer.status_code == 422
    assert message in source(answer)
    assert lab.session.query(Closure).count() == 0


@pytest.mark.sqlite_only
def test_a_place_is_taken_out_of_use_once(lab, technician):
    station = lab.add_places()["Film sink"]
    path = f"/places/stations/{station.id}"
    asked = source(technician.get(f"{path}/close"))
    assert "Nobody is booked on it" in asked
    assert fill_in(technician, f"{path}/close").status_code == 303
    assert "Out of use since" in source(technician.get(path))
    assert "out of use already" in source(fill_in(technician, f"{path}/close"))
    assert press(technician, f"{path}/bring-back", at=path).status_code == 303
    assert "Out of use since" not in source(technician.get(path))
