"""The clearance gate as people meet it on the pages of bookings: what is not decided, arriving, the time booked."""

from datetime import timedelta

import pytest

from labsys.bookings.rules import Plan
from labsys.chemistry.sizes import Material
from labsys.inductions import service as inductions
from labsys.inductions import signing
from labsys.inductions.models import Hazard
from labsys.places import service as places
from labsys.places.models import RoomKind
from labsys.places.rules import RoomFacts, StationFacts
from labsys.processes import service as processes
from labsys.products import service as products
from tests.bookings.conftest import TOMORROW, at
from tests.bookings.test_views import bookings, fields
from tests.support.lab import SmallLab, product_entry
from tests.support.pages import fill_in, press, send, source, text

NOT_DECIDED = "What will be done is not decided yet, so all that could be done there is asked for."


def film_in(lab: SmallLab, kind: str = "fixer", *, name: str = "Film") -> int:
    step = processes.StepEntry(name="Step", product_id=lab.ids[f"product {kind}"], water_parts_milli=4_000)
    return processes.add_process(lab.act("technician"), name=name, material=Material.FILM, note="", steps=[step]).id


def skin_care(lab: SmallLab, **changes):
    """Asked for by the developer of the small lab, which declares H317; its fixer declares nothing."""
    return lab.add_induction("Skin care", hazards=frozenset({Hazard.SENSITISER}), **changes)


def arrival(lab, client, booking):
    """What somebody reads who presses Arrive, or notes an arrival, at ten."""
    lab.now = at(10, 12).start
    path = f"/bookings/{booking.id}"
    press(client, f"{path}/arrive", at=path)
    return text(client.get(path))

    # Not decided yet


def test_what_is_not_decided_asks_for_everything_that_could_be_done(stopped_clock, member):
    lab = stopped_clock
    fixing = film_in(lab)
    film_in(lab, "developer", name="Film, developed")
    skin_care(lab)
    lab.add_induction("Film processing", materials=frozenset({Material.FILM}))
    refused = text(send(member, "/bookings/book", **fields(lab)))
    assert "Skin care is needed because a chemical in use is a sensitiser" in refused
    assert "Film processing is needed for film: never signed off. Come to the induction on Mondays at six." in refused
    assert NOT_DECIDED in refused
    decided = text(send(member, "/bookings/book", **fields(lab, process_id=fixing, size="120", count=1)))
    assert "Film processing is needed for film" in decided
    assert "Skin care" not in decided
    assert NOT_DECIDED not in decided
    assert bookings(lab) == []


def test_who_may_do_all_that_could_be_done_need_not_decide(stopped_clock, member):
    lab = stopped_clock
    film_in(lab, "developer")
    skin = skin_care(lab)
    lab.appoint(skin)
    lab.sign_off(skin)
    assert send(member, "/bookings/book", **fields(lab)).status_code == 303
    (booking,) = bookings(lab)
    assert "here now" in arrival(lab, member, booking)


def test_on_the_dry_side_nothing_wet_could_be_done(stopped_clock, member):
    lab = stopped_clock
    film_in(lab, "developer")
    skin_care(lab)
    room = places.add_room(lab.act("technician"), name="Dry room", facts=RoomFacts(kind=RoomKind.DRY_SIDE))
    table = places.add_station(
        lab.act("technician"),
        room_id=room.id,
        name="Mounting table",
        units=1,
        facts=StationFacts(margin_minutes=0, position=9, note=""),
    )
    assert send(member, "/bookings/book", **fields(lab, station=table.id)).status_code == 303
    places.set_companions(lab.act("technician"), station_id=table.id, brings=[lab.ids["Wet side"]])
    assert NOT_DECIDED in text(send(member, "/bookings/book", **fields(lab, station=table.id, starts=780, ends=840)))

    # Arriving


def test_a_hazard_entered_after_the_booking_stops_the_arrival(stopped_clock, member, technician):
    lab = stopped_clock
    booking = lab.book("Film sink", at(10, 12), plan=Plan(process_id=film_in(lab)))
    skin_care(lab)
    product_id = lab.ids["product fixer"]
    products.change_product(lab.act("technician"), product_id=product_id, sheet=product_entry("fixer", h_codes="H317"))
    told = arrival(lab, member, booking)
    assert "You are not cleared for this yet. Skin care is needed because a chemical in use is a sensitiser" in told
    assert "Come to the induction on Mondays at six." in told
    assert "here now" not in told
    told = arrival(lab, technician, booking)
    assert "Łukasz Żak is not cleared for this yet. Skin care is needed" in told
    assert bookings(lab)[0].arrived_at is None


def test_a_step_added_to_the_process_after_the_booking_stops_the_arrival(stopped_clock, member):
    lab = stopped_clock
    process_id = film_in(lab)
    booking = lab.book("Film sink", at(10, 12), plan=Plan(process_id=process_id))
    skin_care(lab)
    steps = [processes.StepEntry(name="Develop", product_id=lab.ids["product developer"], water_parts_milli=6_000)]
    processes.change_process(lab.act("technician"), process_id=process_id, name="Film", note="", steps=steps)
    assert "Skin care is needed" in arrival(lab, member, booking)


@pytest.mark.parametrize("ended_by", ["withdrawal", "new version"])
def test_a_sign_off_that_counts_no_more_stops_the_arrival(stopped_clock, member, ended_by):
    lab = stopped_clock
    skin = lab.add_induction("Sink", station_ids=frozenset({lab.ids["Film sink"]}))
    lab.appoint(skin)
    signed = lab.sign_off(skin)
    booking = lab.book("Film sink", at(10, 12))
    if ended_by == "withdrawal":
        signing.withdraw(lab.act("instructor"), sign_off_id=signed.id, reason="Slept.")
        state = "withdrawn on 2 March"
    else:
        inductions.issue_version(
            lab.act("manager"), induction_id=skin.id, text="All new.", valid_days=None, must_repeat=True
        )
        state = "must be repeated: version 2 of 2 March"
    assert f"Sink is needed for Film sink: {state}. Come to the induction" in arrival(lab, member, booking)
    assert bookings(lab)[0].arrived_at is None

    # The time booked


def lapsing(lab: SmallLab, days: int):
    """An induction for the film sink, taught at nine on 2 March, that lapses so many days later."""
    sink = lab.add_induction("Sink", valid_days=days, station_ids=frozenset({lab.ids["Film sink"]}))
    lab.appoint(sink)
    return lab.sign_off(sink)


@pytest.mark.parametrize(("day", "allowed"), [("2026-03-03", True), ("2026-03-04", False), ("2026-03-05", False)])
def test_a_booking_is_judged_for_its_own_time(stopped_clock, member, day, allowed):
    """Taught on Monday 2 March for two days: it lapses on Wednesday just after nine, before ten."""
    lab = stopped_clock
    lapsing(lab, 2)
    answer = send(member, "/bookings/book", **fields(lab, day=day))
    assert (answer.status_code == 303) is allowed
    if not allowed:
        assert "Sink is needed for Film sink: lapses on 4 March, before that time is over." in text(answer)


def test_what_lapses_in_the_middle_of_the_time_stops_it_too(stopped_clock, member):
    lab = stopped_clock
    signed = lapsing(lab, 2)
    signed.lapses_at = TOMORROW + timedelta(hours=11)
    lab.session.commit()
    assert "before that time is over" in text(send(member, "/bookings/book", **fields(lab)))
    assert send(member, "/bookings/book", **fields(lab, ends=660 - 15)).status_code == 303


def test_a_booking_is_not_changed_to_past_a_lapse_until_the_induction_is_taught_anew(stopped_clock, member):
    lab = stopped_clock
    lapses = lapsing(lab, 2)
    send(member, "/bookings/book", **fields(lab))
    (booking,) = bookings(lab)
    path = f"/bookings/{booking.id}/change"
    assert "lapses on 4 March" in text(fill_in(member, path, day="2026-03-05"))
    lab.tick(days=1)
    again = signing.sign_off_many(
        lab.act("instructor"),
        person_ids=[lab.ids["member"]],
        induction_ids=[lapses.version.induction_id],
        taught_at=lab.now,
    )
    assert send(member, "/bookings/book", **fields(lab, day="2026-03-04", starts=780, ends=840)).status_code == 422
    signing.confirm(lab.act("member"), sign_off_id=again.id)
    assert send(member, "/bookings/book", **fields(lab, day="2026-03-04", starts=780, ends=840)).status_code == 303

    # A class


def test_a_class_says_that_only_who_books_it_is_checked(stopped_clock, client_as):
    lab = stopped_clock
    instructor = client_as("instructor")
    assert "Only the instructor is named here, and only the instructor is checked." in text(
        instructor.get("/bookings/book-class")
    )
    sink = lab.add_induction("Enlarger care", station_ids=frozenset({lab.ids["Enlarger"]}))
    told = fields(lab, station=lab.ids["Enlarger"], class_name="First prints", units=3)
    assert "Enlarger care is needed for Enlarger" in text(send(instructor, "/bookings/book-class", **told))
    lab.appoint(sink)
    page = source(instructor.get(send(instructor, "/bookings/book-class", **told).headers["Location"]))
    assert "Only Ines Carrow is checked here." in page
    assert "A booking does not name the others of the class, so nobody here checks" in page
