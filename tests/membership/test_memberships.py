"""What a lab asks of who comes here, each a setting that may be off: from the form to the booking."""

from collections.abc import Callable
from datetime import date, timedelta

import pytest
import time_machine
from flask.testing import FlaskClient
from sqlalchemy import select

from labsys.bookings.models import Booking
from labsys.mail.models import OutgoingMail
from labsys.mail.reminders import queue_reminders
from labsys.membership import rules
from labsys.membership.enrolment import letters_due
from labsys.membership.models import EmergencyContact
from labsys.people import service as people
from labsys.places import service as places
from labsys.places.models import Room, RoomKind
from labsys.places.rules import RoomFacts
from labsys.records.models import RecordEntry
from tests.support.lab import SmallLab
from tests.support.pages import fill_in, links, pdf_text, press, send, source, text

AsRole = Callable[[str], FlaskClient]
AGREED = "Clean down after work.\n\nNobody lends a key."
DAY = "2026-03-10"  # a Tuesday, eight days ahead
OFF: dict[str, list[str]] = {name: [] for name in ("asks_term", "asks_agreement", "asks_contact", "keeps_fees")}


@pytest.fixture
def as_role(lab: SmallLab, client_as: Callable[..., FlaskClient]):
    lab.add_places()
    with time_machine.travel(lab.now, tick=False) as clock:

        def signed_in(role: str) -> FlaskClient:
            clock.move_to(lab.tick(), tick=False)
            return client_as(role)

        yield signed_in


def ask(as_role: AsRole, **changes: object) -> None:
    """Set what the lab asks, all else off."""
    answer = fill_in(as_role("manager"), "/membership/rules", **{**OFF, "most_guests": "0", **changes})
    assert answer.status_code == 303, text(answer)


def book(lab: SmallLab, client: FlaskClient, day: str = DAY, station: str = "Film sink", **fields: object) -> str:
    """Send the form to book, and read what comes of it."""
    typed = {"station": lab.ids[station], "day": day, "starts": "720", "ends": "840", "process_id": "0", "size": ""}
    typed |= {"count": "0", "note": "", "number": "0", **fields}
    answer = send(client, "/bookings/book", typed)
    return text(client.get(answer.location)) if answer.status_code == 303 else text(answer)


def test_a_membership_is_asked_for_ends_by_itself_and_is_reminded_of(lab: SmallLab, as_role: AsRole):
    page = f"/membership/{lab.ids['member']}"
    assert "Booked." in book(lab, as_role("member"))  # nothing is asked yet
    ask(as_role, asks_term="y")
    refused = book(lab, as_role("member"), station="Enlarger")
    assert "No membership is entered. Ask whoever keeps the memberships to renew it." in refused
    assert "To Łukasz Żak: No membership is entered." in book(lab, as_role("instructor"), person=lab.ids["member"])
    assert "Booked." in book(lab, as_role("technician"), station="Enlarger")  # comes here to work
    keeper = as_role("instructor")
    backwards = send(keeper, f"{page}/term", starts_on="2026-03-01", ends_on="2026-02-01")
    assert "It ends before it begins." in text(backwards)
    send(keeper, f"{page}/term", starts_on="2026-03-01", ends_on="2026-03-10")
    assert "Booked." in book(lab, as_role("member"), station="Enlarger")
    late = book(lab, as_role("member"), day="2026-03-11", station="Enlarger")
    assert "Your membership ends on 10 Mar 2026." in late
    assert "1 Mar 2026 to 10 Mar 2026" in text(as_role("member").get("/account/membership"))
    assert queue_reminders(lab.session, letters_due, now=lab.now) == 1
    assert queue_reminders(lab.session, letters_due, now=lab.tick(days=1)) == 0
    written = lab.session.execute(select(OutgoingMail).where(OutgoingMail.subject.startswith("Your membership")))
    assert [(mail.person_id, mail.path) for mail in written.scalars()] == [(lab.ids["member"], "/account/membership")]
    lab.tick(days=7, hours=3)  # the afternoon of the 10th
    booking = lab.session.execute(select(Booking).where(Booking.person_id == lab.ids["member"])).scalars().first()
    booking.starts_at, booking.ends_at = lab.now, lab.now + timedelta(hours=2)
    lab.session.commit()
    press(as_role("manager"), f"{page}/term/take-back", at=page)
    member = as_role("member")
    arrived = press(member, f"/bookings/{booking.id}/arrive", at=f"/bookings/{booking.id}")
    assert "No membership is entered." in text(member.get(arrived.location))
    assert "taken back 10 Mar 2026" in text(as_role("manager").get(page))


def test_the_agreement_is_signed_with_its_version_and_asked_again_as_the_lab_chooses(lab: SmallLab, as_role: AsRole):
    ask(as_role, asks_agreement="y")
    assert "Booked." in book(lab, as_role("member"))  # there is nothing to sign yet
    send(as_role("manager"), "/membership/agreement", text=AGREED, earlier="again")
    member = as_role("member")
    assert "The lab's agreement is not signed." in book(lab, member, station="Enlarger")
    opened = source(member.get("/account/agreement"))
    assert "Nobody lends a key." in opened
    assert "Tick it if you agree." in text(send(member, "/account/agreement", opened=opened))
    assert text(member.get("/account/membership")).count("The lab's agreement is not signed.") == 1
    undecided = send(as_role("manager"), "/membership/agreement", text="Clean down. Nobody lends a key.")
    assert "Choose whether it is signed again." in text(undecided)
    same = send(as_role("manager"), "/membership/agreement", text=AGREED, earlier="stands")
    assert "Nothing is different" in text(same)
    member = as_role("member")
    assert send(member, "/account/agreement", agrees="y").status_code == 303
    assert "You signed this version" in text(member.get("/account/agreement"))
    assert "Booked." in book(lab, as_role("member"), station="Enlarger")
    send(as_role("manager"), "/membership/agreement", text="Clean down. Nobody lends a key.", earlier="stands")
    assert "Booked." in book(lab, as_role("member"), station="Wet side")
    member = as_role("member")
    stale = source(member.get("/account/agreement"))
    send(as_role("manager"), "/membership/agreement", text="No key is lent.", earlier="again")
    assert "A new version was issued meanwhile." in text(send(member, "/account/agreement", opened=stale, agrees="y"))
    assert "The lab's agreement has a new version, 3, that everybody signs." in book(lab, member, day="2026-03-12")
    paper = f"/membership/{lab.ids['member']}/agreement"
    assert "Say where the signed paper is kept." in text(send(as_role("instructor"), paper, paper=""))
    send(as_role("instructor"), paper, paper="Folder 3")
    assert "Booked." in book(lab, as_role("member"), day="2026-03-12")
    assert "Version 3, 2 Mar 2026, on paper: Folder 3." in text(as_role("member").get("/account/membership"))


def test_whom_to_call_is_asked_for_and_read_by_staff_of_who_is_in_and_never_by_members(lab: SmallLab, as_role: AsRole):
    member_id = lab.ids["member"]
    ask(as_role, asks_contact="y")
    assert "Say first whom to call in an emergency" in book(lab, as_role("member"))
    own = send(as_role("member"), "/account/emergency-contact", name="Łukasz Żak", telephone="01632 960111")
    assert "That is their own name." in text(own)
    unreachable = send(as_role("member"), "/account/emergency-contact", name="Ada Żak", telephone="ask")
    assert "Write a telephone number." in text(unreachable)
    send(as_role("member"), "/account/emergency-contact", name="Ada Żak", telephone="01632 960111")
    assert "Booked." in book(lab, as_role("member"))
    assert "Ada Żak" not in text(as_role("technician").get("/building"))  # they are not in
    press(as_role("member"), "/building/touch", at="/building")
    assert "In an emergency: Ada Żak, 01632 960111" in text(as_role("technician").get("/building"))
    for role, path in (("member", "/building"), ("safety adviser", "/building"), ("member", "/people")):
        assert "Ada Żak" not in text(as_role(role).get(path))
    keeper = as_role("technician")
    issued = press(keeper, "/documents/fire-list", at="/building")
    assert "Ada Żak, 01632 960111" in pdf_text(keeper.get(issued.location).data)
    told = "".join(entry.payload or "" for entry in lab.session.execute(select(RecordEntry)).scalars())
    assert "person.emergency_contact_stated" in told
    assert "960111" not in told
    ask(as_role)
    assert "Ada Żak" not in text(as_role("technician").get("/building"))
    people.close_account(lab.act("manager"), person_id=member_id)
    assert lab.count(EmergencyContact) == 0


def test_guests_come_by_the_labs_rule_and_count_for_fire(lab: SmallLab, as_role: AsRole):
    assert 'name="guests"' not in source(as_role("member").get("/bookings/book"))
    assert "allows no guests" in book(lab, as_role("member"), guests="1") or not _guests(lab)
    ask(as_role, most_guests="2")
    room = lab.session.execute(select(Room)).scalar_one()
    facts = RoomFacts(kind=RoomKind.SAFELIGHT, most_people=3)
    places.change_room(lab.act("technician"), room_id=room.id, name=room.name, facts=facts)
    day = "2026-03-13"
    assert "At most 2 guests come along on a booking here." in book(lab, as_role("member"), day=day, guests="3")
    assert "Booked." in book(lab, as_role("member"), day=day, guests="2")
    assert _guests(lab) == [2]
    full = book(lab, as_role("technician"), day=day, station="Enlarger")
    assert "Booked." not in full
    assert "3 people" in full
    booking = lab.session.execute(select(Booking).where(Booking.guests > 0)).scalar_one()
    assert "Guests 2" in text(as_role("member").get(f"/bookings/{booking.id}"))
    fill_in(as_role("member"), f"/bookings/{booking.id}/change", guests="0")
    assert "Booked." in book(lab, as_role("technician"), day=day, station="Enlarger")


def _guests(lab: SmallLab) -> list[int]:
    return list(lab.session.execute(select(Booking.guests).where(Booking.guests > 0)).scalars())


@pytest.mark.sqlite_only
def test_fees_are_plain_notes_that_refuse_nothing(lab: SmallLab, as_role: AsRole):
    page = f"/membership/{lab.ids['member']}"
    assert f"{page}/fee" not in links(source(as_role("instructor").get(page)))
    assert "keeps no fees" in text(send(as_role("instructor"), f"{page}/fee", paid_until="2026-12-31"))
    ask(as_role, keeps_fees="y")
    assert "Enter until when it is paid" in text(send(as_role("instructor"), f"{page}/fee"))
    send(as_role("instructor"), f"{page}/fee", paid_until="2026-02-01", note="Receipt 114")
    send(as_role("instructor"), f"{page}/fee", hours_left="0")
    own = text(as_role("member").get("/account/membership"))
    assert own.index("0 hours left.") < own.index("Paid until 1 Feb 2026. Receipt 114")
    assert "Booked." in book(lab, as_role("member"))


@pytest.mark.parametrize(
    ("terms", "on", "why", "ends"),
    [
        ([], date(2026, 5, 1), "No membership", date(2026, 4, 30)),
        ([(date(2026, 5, 2), None)], date(2026, 5, 1), "begins on 2 May 2026", date(2026, 4, 30)),
        ([(date(2026, 1, 1), date(2026, 4, 30))], date(2026, 5, 1), "ends on 30 Apr 2026", date(2026, 4, 30)),
        ([(date(2026, 1, 1), date(2026, 5, 1))], date(2026, 5, 1), "", date(2026, 5, 1)),
        ([(date(2026, 1, 1), date(2026, 5, 1)), (date(2026, 5, 2), None)], date(2026, 5, 1), "", None),
        ([(date(2026, 1, 1), date(2026, 5, 1)), (date(2026, 5, 3), None)], date(2026, 5, 1), "", date(2026, 5, 1)),
    ],
)
def test_a_membership_holds_from_its_first_day_to_its_last(terms, on, why, ends):
    said = rules.why_no_member(terms, on=on)
    assert (why in said) if why else not said
    assert rules.ends_on(terms, on=on) == ends
