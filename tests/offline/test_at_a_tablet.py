"""At a tablet no PIN can be checked without a network: what is entered waits for its person's next visit."""

from datetime import timedelta

import pytest

from labsys.baths.models import Use
from labsys.devices import service as devices
from labsys.incidents.models import Incident
from labsys.mail.models import OutgoingMail
from labsys.offline.models import KeptEntry, State
from tests.offline.test_from_a_phone import log_path, rows
from tests.support.kept import kept, send_kept
from tests.support.pages import press, send, source, text


def test_an_entry_made_at_a_tablet_counts_once_its_person_says_so_at_the_next_visit(at_noon, tablet, client_as):
    lab = at_noon
    earlier = lab.now - timedelta(minutes=20)
    sent = [
        kept(log_path(lab), at=earlier, key="by name 1", went_film_120="2", claimed="łukasz  żak"),
        kept(log_path(lab), at=earlier, key="by name 2", went_film_120="7", claimed="Łukasz Żak"),
        kept(log_path(lab), at=earlier, key="by nobody", went_film_120="3", claimed="Luke"),
        kept(log_path(lab), at=earlier, key="in a visit", went_film_120="1", entered_by=str(lab.ids["technician"])),
    ]
    for _ in range(3):
        answers = send_kept(tablet, *sent)
        assert {answer["needs"] for answer in answers.values()} == {False}
        assert "not confirmed" in answers["by name 1"]["said"]
    assert rows(lab, Use) == []
    waits, nobodys = State.NOT_CONFIRMED, State.NOBODYS
    assert [entry.state for entry in rows(lab, KeptEntry)] == [waits, waits, nobodys, waits]
    assert "2 entries made at a tablet in your name" in text(client_as("member").get("/"))
    assert "made at a tablet in your name" not in text(client_as("instructor").get("/"))
    card = devices.issue_card(lab.act("manager"), person_id=lab.ids["member"])
    visit = send(tablet, "/tablet", code=card.code)
    assert visit.location == "/kept"
    page = source(tablet.get("/kept"))
    assert "2 of 120 through Film line" in page
    assert send(tablet, "/kept", {"mine-1": "yes", "mine-2": "no"}).status_code == 303
    (use,) = rows(lab, Use)
    assert (use.person_id, use.count, use.used_at) == (lab.ids["member"], 2, earlier)
    assert [entry.state for entry in rows(lab, KeptEntry)][:2] == [State.SETTLED, State.NOBODYS]
    assert rows(lab, KeptEntry)[0].typed == ""
    # Staff says whose the third is, and what became of the second; the third then waits for that person.
    instructor = client_as("instructor")
    assert "2 entries could not be taken over, or nobody knows whose it is" in text(instructor.get("/"))
    everybody = text(instructor.get("/kept/all"))
    assert "By “Luke”, whom nobody knows by that." in everybody
    assert "Łukasz Żak says that it was not theirs." in everybody
    answer = press(instructor, "/kept/3/settle", at="/kept/all", whose="Nobody At All")
    assert "Nobody here is called so." in text(instructor.get(answer.location))
    press(instructor, "/kept/3/settle", at="/kept/all", whose="Sol Haddad")
    press(instructor, "/kept/2/settle", at="/kept/all", came_to="entered by hand for Ama")
    assert "2 entries made at a tablet in your name" in text(client_as("technician").get("/"))
    send(client_as("technician"), "/kept", {"mine-3": "yes", "mine-4": "yes"})
    assert sorted(use.count for use in rows(lab, Use)) == [1, 2, 3]
    assert {entry.state for entry in rows(lab, KeptEntry)} == {State.SETTLED}
    # Sent again after all that, nothing more comes of it.
    send_kept(tablet, *sent)
    assert len(rows(lab, Use)) == 3
    assert len(rows(lab, KeptEntry)) == 4


@pytest.mark.sqlite_only
def test_an_incident_from_a_tablet_is_written_about_at_once_and_nobody_reads_who_was_hurt(at_noon, tablet, client_as):
    lab = at_noon
    sent = kept(
        "/incidents/report",
        at=lab.now - timedelta(hours=1),
        key="incident at the tablet",
        kind="splash",
        what="Developer in the eyes",
        hurt="Ama from the class",
        claimed="Łukasz Żak",
    )
    said = send_kept(tablet, sent)["incident at the tablet"]["said"]
    assert "those who see to incidents were written to" in said
    assert rows(lab, Incident) == []
    letters = [letter for letter in rows(lab, OutgoingMail) if letter.kind == "incident"]
    assert {letter.person_id for letter in letters} == {lab.ids["safety adviser"], lab.ids["manager"]}
    assert all("Developer in the eyes" in letter.body and "Ama" not in letter.body for letter in letters)
    adviser = client_as("safety adviser")
    page = text(adviser.get("/kept/all"))
    assert "Developer in the eyes" in page
    assert "Ama" not in page
    send(client_as("member"), "/kept", {"mine-1": "yes"})
    (incident,) = rows(lab, Incident)
    assert incident.happened_at == lab.now - timedelta(hours=1)
    assert incident.hurt == "Ama from the class"


@pytest.mark.sqlite_only
def test_what_a_device_keeps_holds_nothing_of_anybody(at_noon, tablet, client_as):
    phone = client_as("technician")
    for client, asks in ((phone, False), (tablet, True)):
        answer = client.get("/offline")
        page = source(answer)
        assert ("Your name, or the code of your card" in page) is asks
        assert "NOBODY HAS BEEN TOLD. Ring 999" in text(answer)
        assert "csrf_token" not in page
        for name in ("Sol Haddad", "Łukasz Żak", "@example.org"):
            assert name not in page
    assert client_as().get("/offline").location == "/sign-in?next=/offline"
    policy = phone.get("/").headers["Content-Security-Policy"]
    for allowed in ("connect-src 'self'", "worker-src 'self'", "manifest-src 'self'"):
        assert allowed in policy
    assert "kept on this device with its time" in text(client_as("instructor").get("/building"))
    elsewhere = client_as("instructor")
    elsewhere.set_cookie("session", elsewhere.get_cookie("session").value, domain="darkroom.example")
    plain = elsewhere.get("/building", base_url="http://darkroom.example")
    assert "Note on paper who is in." in text(plain)
    assert "without a network nothing that you enter is kept" in text(plain)
