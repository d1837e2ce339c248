"""What people do with bookings, through the services on both databases."""

from datetime import timedelta

import pytest
from sqlalchemy import select
from sqlalchemy.exc import IntegrityError

from labsys.bookings import holding, queries, service
from labsys.bookings.free import UnitsWanted
from labsys.bookings.models import NO_OVERLAP, Booking, Hold
from labsys.bookings.rules import BookingRefused, ChangedMeanwhile, Plan, SlotTaken
from labsys.chemistry.sizes import Material
from labsys.closing import service as closing
from labsys.database import violates
from labsys.inductions.models import Hazard
from labsys.inductions.rules import NotCleared
from labsys.mail.models import OutgoingMail
from labsys.people import service as people
from labsys.people.acts import Act, AlreadyDone
from labsys.people.permissions import NotPermitted
from labsys.processes import service as processes
from labsys.records.errors import NotFound
from tests.bookings.conftest import TOMORROW, at
from tests.support.lab import do


def holds(lab):
    """Each hold as station, unit, and the hours of the day after the start."""
    chosen = select(Hold).order_by(Hold.id)

    def hour(instant):
        return (instant - TOMORROW) / timedelta(hours=1)

    return [
        (hold.unit.station.name, hold.unit.number, hour(hold.starts_at), hour(hold.ends_at))
        for hold in lab.session.execute(chosen).scalars()
    ]


def letters(lab):
    return [(mail.person_id, mail.subject.partition(":")[0]) for mail in lab.session.query(OutgoingMail).all()]

    # Booking


def test_a_booking_holds_the_unit_and_the_place_that_comes_with_it_each_with_its_margin(furnished):
    furnished.book("Enlarger", at(10, 12))
    assert holds(furnished) == [("Enlarger", 1, 10, 12), ("Wet side", 1, 10, 12.5)]
    assert letters(furnished) == []


def test_the_lowest_free_unit_is_taken(furnished):
    for _ in range(3):
        furnished.book("Enlarger", at(10, 12))
    assert [unit for name, unit, *_ in holds(furnished) if name == "Enlarger"] == [1, 2, 3]


def test_what_is_taken_is_refused_with_the_nearest_free_times(furnished):
    furnished.book("Film sink", at(12, 14))
    with pytest.raises(SlotTaken) as refused:
        furnished.book("Film sink", at(13, 15))
    assert "Film sink is taken then. Free near then: Tue 3 Mar 2026, 14:15 to 16:15" in str(refused.value)
    assert at(14.25, 16.25) in refused.value.nearest
    assert furnished.session.query(Booking).count() == 1


def test_the_margin_keeps_the_next_booking_away(furnished):
    furnished.book("Film sink", at(10, 12))
    with pytest.raises(SlotTaken):
        furnished.book("Film sink", at(12, 13))
    furnished.book("Film sink", at(12.25, 13))


def test_a_full_companion_refuses_and_is_named(furnished):
    for _ in range(6):
        furnished.book("Wet side", at(10, 12))
    with pytest.raises(SlotTaken, match="Wet side is taken then"):
        furnished.book("Enlarger", at(10, 12))
    assert len(holds(furnished)) == 6


def test_the_database_has_the_last_word(furnished):
    """The step that takes units, told that a unit is free which is not."""
    furnished.book("Film sink", at(10, 12))
    other = furnished.book("Film sink", at(14, 16))
    unit_id = other.holds[0].unit_id
    full = UnitsWanted("Film sink", (unit_id,), timedelta())
    assert holding.insert_holds(furnished.session, booking=other, to_hold=[(full, (unit_id,))], span=at(11, 13)) == full
    furnished.session.rollback()
    furnished.session.add(
        Hold(booking_id=other.id, unit_id=unit_id, starts_at=at(11, 13).start, ends_at=at(11, 13).end)
    )
    with pytest.raises(IntegrityError) as error:
        furnished.session.flush()
    assert violates(error.value, NO_OVERLAP)


def test_outside_opening_hours_nothing_is_written(furnished):
    with pytest.raises(BookingRefused, match="open 10:00-22:00"):
        furnished.book("Film sink", at(21, 23))
    assert furnished.session.query(Booking).count() == 0


def test_a_closure_refuses_with_its_reason(furnished):
    closing.close(furnished.act("technician"), span=at(0, 24), reason="The floor is painted")
    with pytest.raises(BookingRefused, match="The floor is painted"):
        furnished.book("Film sink", at(10, 12))


def test_a_place_out_of_use_refuses_and_so_does_what_needs_it(furnished):
    technician = furnished.person("technician")
    closing.take_out_of_use(
        Act(furnished.session, by=technician, now=furnished.tick()), station_id=furnished.ids["Wet side"]
    )
    with pytest.raises(BookingRefused, match="Wet side is out of use"):
        furnished.book("Wet side", at(10, 12))
    with pytest.raises(BookingRefused, match="Enlarger comes with Wet side, which is out of use"):
        furnished.book("Enlarger", at(10, 12))


def test_the_same_form_books_once(furnished):
    first = furnished.book("Enlarger", at(10, 12), submission_key="booking-0001")
    with pytest.raises(AlreadyDone) as again:
        furnished.book("Enlarger", at(10, 12), submission_key="booking-0001")
    assert (again.value.outcome_kind, again.value.outcome_id) == ("bookings", first.id)

    # For others


def test_booking_for_somebody_else_takes_the_permission_and_writes_to_them(furnished):
    booking = furnished.book("Film sink", at(10, 12), actor="technician")
    assert booking.person_id == furnished.ids["member"]
    assert letters(furnished) == [(furnished.ids["member"], "Booked for you")]
    with pytest.raises(NotPermitted):
        furnished.book("Film sink", at(14, 16), actor="member", role="technician")


def test_nobody_books_for_a_person_who_left(furnished):
    booking = furnished.book("Film sink", at(10, 12))
    people.close_account(furnished.act("manager"), person_id=furnished.ids["member"])
    with pytest.raises(BookingRefused, match="has left the lab"):
        furnished.book("Film sink", at(14, 16), actor="technician")
    with pytest.raises(BookingRefused, match="has left the lab"):
        service.arrive(
            Act(furnished.session, by=furnished.person("technician"), now=at(10, 12).start), booking_id=booking.id
        )


def test_nobody_changes_cancels_or_arrives_for_somebody_else_without_permission(furnished):
    booking = furnished.book("Film sink", at(10, 12), role="technician")
    member, now = furnished.person("member"), at(10, 12).start
    for act in (service.cancel, service.arrive, service.leave):
        with pytest.raises(NotPermitted):
            act(furnished.act("member", now=now), booking_id=booking.id)
    with pytest.raises(NotPermitted):
        service.change(
            Act(furnished.session, by=member, now=furnished.now),
            booking_id=booking.id,
            version=1,
            span=at(14, 16),
            plan=Plan(),
        )
    service.arrive(Act(furnished.session, by=furnished.person("instructor"), now=now), booking_id=booking.id)

    # A class


def book_class(lab, *, units=3, role="instructor", actor="instructor", **changes):
    arguments = {
        "actor": lab.person(actor),
        "person_id": lab.ids[role],
        "station_id": lab.ids["Enlarger"],
        "span": at(18, 21),
        "units": units,
        "class_name": "First prints",
        "plan": Plan(),
        "now": lab.tick(),
    }
    return do(service.book_class, lab.session, **{**arguments, **changes})


def test_a_class_takes_its_units_and_as_many_of_what_comes_with_them(furnished):
    book_class(furnished)
    assert [(name, unit) for name, unit, *_ in holds(furnished)] == [
        *(("Enlarger", unit) for unit in (1, 2, 3)),
        *(("Wet side", unit) for unit in (1, 2, 3)),
    ]


@pytest.mark.parametrize("units", [0, 5])
def test_a_class_of_more_units_than_there_are_is_refused(furnished, units):
    with pytest.raises(BookingRefused, match="has 4 in all"):
        book_class(furnished, units=units)


def test_a_class_is_for_who_may_hold_one(furnished):
    with pytest.raises(NotPermitted):
        book_class(furnished, actor="member", role="member")
    with pytest.raises(BookingRefused, match="may not hold a class"):
        book_class(furnished, actor="technician", role="member")
    with pytest.raises(BookingRefused, match="Name the class"):
        book_class(furnished, class_name="")


def test_the_instructor_of_a_class_must_be_cleared(furnished):
    furnished.add_induction("Enlarger", station_ids=frozenset({furnished.ids["Enlarger"]}))
    with pytest.raises(NotCleared, match="You are not cleared for this yet"):
        book_class(furnished)

        # Changing


def change(lab, booking, span, *, version=None, actor="member", plan=None, now=None, **changes):
    return service.change(
        lab.act(actor, now=now),
        booking_id=booking.id,
        version=booking.version if version is None else version,
        span=span,
        plan=plan or Plan(),
        **changes,
    )


def test_a_change_moves_all_holds_and_stays_at_its_unit(furnished):
    furnished.book("Enlarger", at(10, 12))
    booking = furnished.book("Enlarger", at(10, 12))
    change(furnished, booking, at(11, 13))
    assert holds(furnished)[2:] == [("Enlarger", 2, 11, 13), ("Wet side", 2, 11, 13.5)]
    assert booking.version == 2
    assert letters(furnished) == []  # nobody is written to about what they did themselves
    change(furnished, booking, at(12, 14), actor="technician")
    assert letters(furnished) == [(furnished.ids["member"], "Changed")]


def test_a_change_that_does_not_fit_leaves_the_booking_as_it_was(furnished):
    furnished.book("Film sink", at(14, 16))
    booking = furnished.book("Film sink", at(10, 12))
    before = holds(furnished)
    with pytest.raises(SlotTaken):
        change(furnished, booking, at(13, 15))
    assert holds(furnished) == before
    assert booking.version == 1
    assert booking.starts_at == at(10, 12).start


def test_two_stale_forms_do_not_overwrite_each_other(furnished):
    booking = furnished.book("Film sink", at(10, 12))
    change(furnished, booking, at(11, 13), version=1)
    with pytest.raises(ChangedMeanwhile):
        change(furnished, booking, at(15, 16), actor="technician", version=1)
    assert holds(furnished) == [("Film sink", 1, 11, 13.25)]


def test_a_class_may_grow(furnished):
    booking = book_class(furnished)
    change(furnished, booking, at(18, 21), actor="instructor", units=4)
    assert [unit for name, unit, *_ in holds(furnished) if name == "Wet side"] == [1, 2, 3, 4]
    with pytest.raises(BookingRefused, match="in all"):
        change(furnished, booking, at(18, 21), actor="instructor", units=0)


def test_a_booking_that_is_over_stays_as_it_is(furnished):
    booking = furnished.book("Film sink", at(10, 12))
    with pytest.raises(BookingRefused, match="is over"):
        change(furnished, booking, at(15, 16), now=at(12, 13).start)
    service.cancel(furnished.act("member"), booking_id=booking.id)
    with pytest.raises(BookingRefused, match="was cancelled"):
        change(furnished, booking, at(15, 16))

        # Cancelling


def test_cancelling_frees_the_time_keeps_the_booking_and_writes(furnished):
    booking = furnished.book("Enlarger", at(10, 12))
    service.cancel(furnished.act("technician"), booking_id=booking.id)
    assert holds(furnished) == []
    assert booking.cancelled_by_id == furnished.ids["technician"]
    assert letters(furnished) == [(furnished.ids["member"], "Cancelled")]
    with pytest.raises(BookingRefused, match="was cancelled"):
        service.cancel(furnished.act("member"), booking_id=booking.id)


def test_after_arrival_one_leaves_instead_of_cancelling(furnished):
    booking = furnished.book("Film sink", at(10, 12))
    member = furnished.person("member")
    service.arrive(Act(furnished.session, by=member, now=at(10, 12).start), booking_id=booking.id)
    with pytest.raises(BookingRefused, match="Leave instead"):
        service.cancel(Act(furnished.session, by=member, now=at(10.5, 12).start), booking_id=booking.id)

        # Arriving and leaving


def test_leaving_early_makes_the_place_free_again_but_for_the_clearing_up(furnished):
    booking = furnished.book("Enlarger", at(10, 14))
    member = furnished.person("member")
    service.arrive(Act(furnished.session, by=member, now=at(9.75, 12).start), booking_id=booking.id)
    service.leave(Act(furnished.session, by=member, now=at(11.1, 12).start), booking_id=booking.id)
    assert holds(furnished) == [("Enlarger", 1, 10, 11.25), ("Wet side", 1, 10, 11.75)]
    assert booking.ends_at == at(10, 14).end
    furnished.book("Enlarger", at(11.25, 13), now=at(11.2, 12).start)


def test_leaving_late_is_recorded_and_leaves_the_holds(furnished):
    booking = furnished.book("Film sink", at(10, 12))
    member = furnished.person("member")
    service.arrive(Act(furnished.session, by=member, now=at(10, 12).start), booking_id=booking.id)
    service.leave(Act(furnished.session, by=member, now=at(12.5, 13).start), booking_id=booking.id)
    assert holds(furnished) == [("Film sink", 1, 10, 12.25)]
    with pytest.raises(BookingRefused, match="noted already"):
        service.leave(Act(furnished.session, by=member, now=at(12.5, 13).start), booking_id=booking.id)


def test_nobody_leaves_who_has_not_come_and_nobody_comes_when_it_is_over(furnished):
    booking = furnished.book("Film sink", at(10, 12))
    member = furnished.person("member")
    with pytest.raises(BookingRefused, match="Nobody has arrived"):
        service.leave(Act(furnished.session, by=member, now=at(10, 12).start), booking_id=booking.id)
    with pytest.raises(BookingRefused, match="is over"):
        service.arrive(Act(furnished.session, by=member, now=at(12, 13).start), booking_id=booking.id)

        # The clearance gate


def test_booking_asks_for_the_place_what_comes_with_it_and_the_process(furnished):
    furnished.add_induction("Trays", station_ids=frozenset({furnished.ids["Wet side"]}))
    with pytest.raises(NotCleared, match="Trays is needed for Wet side"):
        furnished.book("Enlarger", at(10, 12))
    furnished.add_induction("Film work", materials=frozenset({Material.FILM}))
    with pytest.raises(NotCleared, match="Film work is needed for film"):
        furnished.book("Film sink", at(10, 12), plan=Plan(process_id=furnished.add_process().id))
    with pytest.raises(NotCleared, match=r"Film work is needed for film.*not decided yet"):
        furnished.book("Film sink", at(10, 12))
    assert furnished.session.query(Booking).count() == 0


def test_a_sensitiser_in_the_process_asks_for_skin_care(furnished):
    process = processes.add_process(
        furnished.act("technician"),
        name="Film, PQ 1+6",
        material=Material.FILM,
        note="",
        steps=[
            processes.StepEntry(name="Develop", product_id=furnished.ids["product developer"], water_parts_milli=6_000)
        ],
    )
    furnished.add_induction("Skin care", hazards=frozenset({Hazard.SENSITISER}))
    with pytest.raises(NotCleared, match="Skin care"):
        furnished.book("Film sink", at(10, 12), plan=Plan(process_id=process.id))
    with pytest.raises(NotCleared, match="Łukasz Żak is not cleared"):
        furnished.book("Film sink", at(10, 12), actor="technician", plan=Plan(process_id=process.id))


def test_change_and_arrival_ask_again(furnished):
    booking = furnished.book("Film sink", at(10, 12))
    furnished.add_induction("Film sink", station_ids=frozenset({furnished.ids["Film sink"]}))
    with pytest.raises(NotCleared):
        change(furnished, booking, at(11, 13))
    with pytest.raises(NotCleared):
        service.arrive(
            Act(furnished.session, by=furnished.person("member"), now=at(10, 12).start), booking_id=booking.id
        )
    assert booking.arrived_at is None


def test_a_booking_or_place_that_is_not_there(furnished):
    with pytest.raises(NotFound):
        furnished.book("Film sink", at(10, 12), station_id=999_999)
    with pytest.raises(NotFound):
        furnished.book("Film sink", at(10, 12), plan=Plan(process_id=999_999))
    with pytest.raises(NotFound):
        queries.booking_or_raise(furnished.session, 999_999)
