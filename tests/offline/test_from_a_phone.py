"""What a phone kept without a network becomes what the same entry becomes with one, once, as of when it happened."""

from collections import Counter
from datetime import timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from labsys.baths.models import LateUse, Use
from labsys.bookings.not_coming import give_free
from labsys.duty.models import Presence
from labsys.incidents.models import Incident
from labsys.offline.models import KeptEntry
from labsys.people.acts import Act
from labsys.records.queries import the_lab
from labsys.timetable.spans import Span
from tests.support.kept import Sent, kept, send_kept
from tests.support.lab import SmallLab
from tests.support.pages import press, send, text


def rows(lab: SmallLab, model: type) -> list:
    lab.session.rollback()
    return lab.session.query(model).order_by(model.id).all()


def log_path(lab: SmallLab) -> str:
    return f"/baths/lines/{lab.film_line_id}/log"


def evening(lab: SmallLab) -> list[Sent]:
    """Four hours without a network: 12 arrivals, 60 rolls in 12 entries, one incident; a minute apart, as it was."""
    began = lab.now - timedelta(hours=4)
    guests = [
        kept("/building/guests", at=began + timedelta(minutes=n), key=f"guest {n:06}", name=f"Guest {n}")
        for n in range(11)
    ]
    own = kept("/building/touch", at=began + timedelta(minutes=11), key="touch 000", who="me", way="in")
    rolls = [
        kept(log_path(lab), at=began + timedelta(hours=1, minutes=n), key=f"rolls {n:06}", went_film_120="5")
        for n in range(12)
    ]
    incident = kept(
        "/incidents/report", at=began + timedelta(hours=2), key="incident", kind="spill", what="Fixer", hurt="a thumb"
    )
    return [*guests, own, *rolls, incident]


def in_parts(entries: list[Sent]) -> list[list[Sent]]:
    return [entries[first : first + 20] for first in range(0, len(entries), 20)]


def test_four_hours_without_a_network_are_entered_once_however_often_and_in_whatever_order(at_noon, client_as):
    lab = at_noon
    instructor = client_as("instructor")
    entries = evening(lab)
    for order in (entries, entries[::-1], entries[::2], entries, sorted(entries, key=lambda one: one["key"])):
        for part in in_parts(order):
            answers = send_kept(instructor, *part)
            assert set(answers) == {one["key"] for one in part}
            assert not any(answer["needs"] for answer in answers.values()), answers
    uses, present, incidents = rows(lab, Use), rows(lab, Presence), rows(lab, Incident)
    assert (len(uses), sum(use.count for use in uses)) == (12, 60)
    assert len(present) == 12
    (incident,) = incidents
    assert incident.happened_at == lab.now - timedelta(hours=2)
    assert [use.used_at for use in uses] == [lab.now - timedelta(hours=3) + timedelta(minutes=n) for n in range(12)]
    fixer = uses[0].baths[-1].bath
    assert fixer.pieces == 60
    assert rows(lab, KeptEntry) == []
    page = text(instructor.get("/building"))
    assert "12 people are known to be in the building." in page
    assert "in since 08:00" in page
    # The last ten rolls went through a fixer rated for 50: recorded as done, and said by its own page.
    assert "past its capacity" in text(instructor.get(f"/uses/{uses[-1].id}"))


@pytest.mark.sqlite_only
@settings(max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(order=st.lists(st.sampled_from(range(4)), min_size=1, max_size=12))
def test_there_is_at_most_one_row_for_a_key_whatever_the_order(order, at_noon, client_as):
    """Two keys of uses, one of an arrival, one that is refused each time; sent as often and in any order."""
    lab = at_noon
    member = client_as("member")
    lab.tick(minutes=1)
    mark = f"{lab.now:%H%M%S}"
    before = Counter({model: len(rows(lab, model)) for model in (Use, Presence, KeptEntry)})
    earlier = lab.now - timedelta(minutes=30)
    kinds = [
        kept(log_path(lab), at=earlier, key=f"use one {mark}", went_film_120="1"),
        kept(log_path(lab), at=earlier, key=f"use two {mark}", went_film_120="1"),
        {
            **kept("/building/touch", at=earlier, key=f"touched {mark}", way="in"),
            "fields": [["who", "me"], ["way", "in"]],
        },
        kept("/building/guests", at=earlier, key=f"not mine {mark}", name="A guest"),
    ]
    for number in order:
        send_kept(member, kinds[number])
    sent = set(order)
    after = {model: len(rows(lab, model)) - before[model] for model in (Use, Presence, KeptEntry)}
    assert after == {Use: len(sent & {0, 1}), Presence: len(sent & {2}), KeptEntry: len(sent & {3})}


def test_a_late_use_on_a_dumped_bath_waits_for_the_technician_online_and_offline(at_noon, client_as):
    lab = at_noon
    member, technician = client_as("member"), client_as("technician")
    earlier = lab.now - timedelta(minutes=30)
    fixer = lab.log(1).baths[-1].bath
    lab.dump(fixer, lab.open_container(), volume_ml=2_400)
    before = fixer.pieces
    sent = kept(log_path(lab), at=earlier, key="late by phone", went_film_120="2")
    assert "waits for the technician" in send_kept(member, sent)["late by phone"]["said"]
    assert "noted already" in send_kept(member, sent)["late by phone"]["said"]
    typed = {"went-film-120": "3", "used_at": f"{earlier:%Y-%m-%dT%H:%M}"}
    online = send(member, log_path(lab), typed, key="late at the page")
    assert online.location == "/baths/late"
    assert "waits for the technician" in text(member.get("/baths/late"))
    assert send(member, log_path(lab), typed, key="late at the page").location == "/baths/late"
    assert len(rows(lab, LateUse)) == 2
    lab.session.refresh(fixer)
    assert fixer.pieces == before
    assert "2 uses told after the bath was dumped" in text(technician.get("/"))
    assert f"{fixer.code}, dumped since" in text(technician.get("/baths/late"))
    assert press(
        member, "/baths/late/1/accept", opened=technician.get("/baths/late").get_data(as_text=True)
    ).status_code in (400, 403)
    press(technician, "/baths/late/1/accept", at="/baths/late")
    assert "Write why" in text(
        technician.get(press(technician, "/baths/late/2/refuse", at="/baths/late", reason=" ").location)
    )
    press(technician, "/baths/late/2/refuse", at="/baths/late", reason="It was the paper line")
    lab.session.refresh(fixer)
    assert fixer.pieces == before + 2
    page = text(member.get("/baths/late"))
    assert "refused, It was the paper line" in page
    accepted = rows(lab, Use)[-1]
    assert (accepted.person_id, accepted.used_at, accepted.count) == (lab.ids["member"], earlier, 2)
    assert "uses told after" not in text(technician.get("/"))


def test_an_arrival_is_judged_by_the_time_it_happened(at_noon, client_as):
    """The place was given free since nobody was known to have come: it is no absence. Too early, they are only in."""
    lab = at_noon
    start = lab.now + timedelta(hours=1)
    booking = lab.book("Film sink", Span(start, start + timedelta(hours=2)))
    late = lab.book("Enlarger", Span(start + timedelta(hours=4), start + timedelta(hours=5)))
    lab.now = start + timedelta(hours=1)
    the_lab(lab.session).free_after_minutes = 30
    lab.session.commit()
    give_free(Act(lab.session, by=None, now=lab.now), booking_id=booking.id)
    assert "given free" in text(client_as("member").get(f"/bookings/{booking.id}"))
    member = client_as("member")
    came = kept(f"/bookings/{booking.id}/arrive", at=start + timedelta(minutes=5), key="came in time")
    assert send_kept(member, came)["came in time"] == {"said": "Arrived.", "needs": False}
    lab.session.expire_all()
    assert (booking.arrived_at, booking.missed_at) == (start + timedelta(minutes=5), None)
    early = kept(f"/bookings/{late.id}/arrive", at=start + timedelta(minutes=6), key="far too early")
    answer = send_kept(member, early)["far too early"]
    assert answer["needs"]
    assert "Noted as in the building, but not on the booking: It begins" in answer["said"]
    assert "Arrive up to 30 minutes before" in text(member.get("/kept"))
    assert len(rows(lab, Presence)) == 1
    assert "1 entry could not be taken over" in text(client_as("instructor").get("/"))


@pytest.mark.sqlite_only
def test_what_no_page_sends_is_answered_with_words_and_changes_nothing(at_noon, client_as):
    lab = at_noon
    member = client_as("member")
    good = kept(log_path(lab), at=lab.now, key="a good key", went_film_120="1")
    wrong = {
        "in the future": ({**good, "key": "wrong 01", "happened": good["happened"] + 3_600_000}, "in the future"),
        "long ago": ({**good, "key": "wrong 02", "happened": 0}, "more than 60 days ago"),
        "no such form": ({**good, "key": "wrong 03", "path": "/look"}, "not taken over from a device"),
        "no page": ({**good, "key": "wrong 04", "path": "/nowhere"}, "There is no such form."),
        "not filled in": ({**good, "key": "wrong 05", "fields": []}, "Say how many went through"),
        "no numbers": ({**good, "key": "wrong 06", "fields": [["went-film-120", "many"]]}, "Write a whole number"),
        "time is text": ({**good, "key": "wrong 07", "happened": "noon"}, "could not be read"),
        "fields are text": ({**good, "key": "wrong 08", "fields": "120"}, "could not be read"),
    }
    for name, (entry, said) in wrong.items():
        answer = send_kept(member, entry)[entry["key"]]
        assert answer["needs"], name
        assert said in answer["said"], (name, answer)
    another = {**good, "key": "not theirs", "who": str(lab.ids["instructor"])}
    assert send_kept(member, another) == {}  # it stays on the device until they sign in
    token = member.get("/offline/hello").get_json()["token"]
    for body in ("[]", '{"entries": 3}', "no JSON", '{"entries": [' + ",".join(["1"] * 21) + "]}"):
        answer = member.post("/offline/entries", data=body, headers={"X-CSRFToken": token})
        assert answer.status_code == 400
    assert client_as().post("/offline/entries", json={"entries": []}).status_code == 400  # no token
    assert rows(lab, Use) == []
