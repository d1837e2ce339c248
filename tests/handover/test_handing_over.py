"""The technician's round, the note to the next, and the end of term: as they are met on pages."""

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import pytest
from flask.testing import FlaskClient
from sqlalchemy.exc import IntegrityError

from labsys.baths.models import Place
from labsys.equipment import service as equipment
from labsys.equipment.models import CheckKind, EquipmentKind, FaultKind
from labsys.equipment.service import EquipmentFacts, Found
from labsys.handover import service
from labsys.handover.models import HandoverNote
from labsys.lab.rules import settings_of
from labsys.lab.service import change_lab
from labsys.people import service as people
from labsys.people.models import Role
from labsys.places.models import Station
from labsys.records.queries import the_lab
from tests.support.lab import SmallLab
from tests.support.pages import hidden_field, press, send, source, text

ClientAs = Callable[..., FlaskClient]


@pytest.fixture
def furnished(lab: SmallLab, monkeypatch: pytest.MonkeyPatch) -> SmallLab:
    lab.add_places()
    monkeypatch.setattr("labsys.clock.now", lambda: lab.now)
    return lab


def second_technician(lab: SmallLab) -> None:
    invited = people.invite_person(
        lab.act("manager"), name="Hana Second", email="hana@example.org", roles=[Role.TECHNICIAN]
    )
    lab.come_in("second technician", invited)


def test_the_round_is_in_walking_order_and_what_is_done_goes_from_it(furnished: SmallLab, client_as: ClientAs):
    lab, technician = furnished, client_as("technician")
    room_id = lab.session.get_one(Station, lab.ids["Film sink"]).room_id
    eyewash = equipment.add(
        lab.act("technician"), kind=EquipmentKind.EYEWASH, facts=EquipmentFacts(name="Eyewash", room_id=room_id)
    )
    equipment.check(
        lab.act("technician"),
        equipment_id=eyewash.id,
        kind=CheckKind.INSPECTION,
        happened_on=lab.now.date(),
        found=Found(has_passed=True),
    )
    equipment.report_fault(lab.act("member"), kind=FaultKind.OTHER, words="Wobbles", station_id=lab.ids["Enlarger"])
    lab.mix_film_line()
    lab.now += timedelta(days=40)  # every bath is past its age
    lab.tick()
    page = source(technician.get("/round"))
    order = [page.index(part) for part in ("Wet room", "Eyewash", "Wobbles", "At the baths", "Mix a new one")]
    assert order == sorted(order)
    press(technician, f"/equipment/{eyewash.id}/passed/run?back=walk", opened=page)
    lab.tick()
    after = text(technician.get("/round"))
    assert "Run, due" not in after
    assert "Wobbles" in after
    assert client_as("member").get("/round").status_code == 403


def test_a_note_stands_on_today_until_somebody_else_has_read_it(furnished: SmallLab, client_as: ClientAs):
    lab = furnished
    second_technician(lab)
    first, second = client_as("technician"), client_as("second technician")
    assert send(first, "/handover", text="").status_code == 422
    assert send(first, "/handover", text="The hot tap drips: plumber on Friday.").status_code == 303
    lab.tick()
    assert "Handover from Sol Haddad" in text(second.get("/"))
    assert "Handover from" not in text(first.get("/"))
    assert "I have read it" not in text(first.get("/handover"))
    note = lab.session.query(HandoverNote).one()
    token = hidden_field(source(first.get("/handover")), "csrf_token")
    refused = first.post(f"/handover/{note.id}/read", data={"csrf_token": token})
    assert "You wrote it" in text(first.get(refused.location))
    press(second, f"/handover/{note.id}/read", at="/handover")
    lab.tick()
    assert "Handover from" not in text(second.get("/"))
    assert "Hana Second" in text(first.get("/handover"))
    lab.session.expire_all()
    writer = note.written_by_id
    own = HandoverNote(text="x", written_at=lab.now, written_by_id=writer, read_at=lab.now, read_by_id=writer)
    lab.session.add(own)
    with pytest.raises(IntegrityError):
        lab.session.flush()
    lab.session.rollback()


def test_the_end_of_term_begins_with_what_is_left_alone_and_lists_what_is_here(
    furnished: SmallLab, client_as: ClientAs
):
    lab, technician, member = furnished, client_as("technician"), client_as("member")
    said = replace(settings_of(the_lab(lab.session)), emergency="Front desk 01632 960147")
    change_lab(lab.act("manager"), settings=said)
    line = lab.mix_film_line()
    container = lab.open_container()
    lab.dump(line[Place.FIXER], container, volume_ml=2_400)
    typed = {"what": "One 120 in a sleeve", "whereabouts": "drying cupboard", "owner": lab.ids["member"]}
    assert send(technician, "/handover/films", typed).status_code == 303
    sheet = {"what": "Contact sheet", "owner": "", "owner_words": "B. Crane"}
    assert send(technician, "/handover/films", sheet).status_code == 303
    lab.tick()
    page = text(technician.get("/clear-out"))
    assert page.index("What you leave alone") < page.index("2. Baths")
    for named in ("crystals", "bulging cap", "Picric acid", "Ether", "Cyanide", "Nitrate film"):
        assert named.lower() in page.lower(), named
    assert "Front desk 01632 960147" in page
    assert line[Place.STOP].name in page
    assert "“B. Crane” is on it" in page
    assert "One 120 in a sleeve" in text(member.get("/"))
    film = service.queries.films_here(lab.session, owner_id=lab.ids["member"])[0]
    assert send(technician, f"/handover/films/{film.id}", how="").status_code == 422
    assert send(technician, f"/handover/films/{film.id}", how="Collected").status_code == 303
    assert "One 120 in a sleeve" not in text(member.get("/"))
    # By hand: 2.4 L at 0.95 to 1.3 kg a litre (from memory) weigh 2.3 to 3.1 kg.
    assert "2.4 L 2.3 to 3.1 kg" in page
