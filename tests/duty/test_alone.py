"""Nobody works alone against the lab's rule, or at all with what nobody does alone: as people read it on the pages."""

import json
from datetime import date, timedelta

import pytest

from labsys.bookings.models import Booking
from labsys.bookings.rules import Plan
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.sizes import Material
from labsys.duty import service as duty
from labsys.duty.calling import LEFT_ALONE_KIND, run_left_alone
from labsys.duty.models import AloneRule, CallIn, DutyKind
from labsys.duty.rules import CompanyRefused, Settings
from labsys.jobs.models import Job
from labsys.membership.ages import state_age
from labsys.processes import service as processes
from tests.bookings.conftest import at
from tests.bookings.test_views import bookings, fields
from tests.duty.conftest import DICHROMATE, FORMALDEHYDE, SULFIDE, mails, process_with, safe_plan, safe_process
from tests.support.lab import SmallLab
from tests.support.pages import press, send, source, text

NEVER = "Nobody does this alone, by no setting"
RULES = list(AloneRule)


def allow(lab: SmallLab, alone: AloneRule) -> None:
    duty.set_rules(lab.act("manager"), settings=Settings(alone=alone))


def book(lab: SmallLab, client, **changes):
    return send(client, "/bookings/book", **fields(lab, **changes))


def plan(process_id: int) -> dict[str, object]:
    return {"process_id": process_id, "size": "120", "count": 1}


@pytest.mark.parametrize(
    ("alone", "status", "said"),
    [
        (AloneRule.NEVER, 422, "Nobody works alone in this lab."),
        (AloneRule.CALL_IN, 303, "That is allowed with a call-in: you are asked every 30 minutes"),
        (AloneRule.ADULTS, 303, "That is allowed here, as nothing dangerous is done."),
    ],
)
def test_a_booking_that_leaves_somebody_alone_follows_the_labs_rule(stopped_clock, client_as, alone, status, said):
    lab = stopped_clock
    allow(lab, alone)
    answer = book(lab, client_as("member"), **plan(safe_process(lab)))
    assert answer.status_code == status
    page = text(answer) if status == 422 else text(client_as("member").get("/bookings/1"))
    assert "Nobody else is booked or on duty from 10:00 to 12:00." in page
    assert said in page


def test_until_the_lab_has_said_what_holds_it_is_a_call_in(stopped_clock, client_as):
    lab = stopped_clock
    assert book(lab, client_as("member"), **plan(safe_process(lab))).status_code == 303
    assert "allowed with a call-in" in text(client_as("member").get("/bookings/1"))
    assert "The lab has not said yet what it does" in text(client_as("member").get("/duty"))
    assert "Working alone" in text(client_as("manager").get("/"))


DANGEROUS = {
    "dichromate": ({"h_codes": "H317 H350", "ingredients": [DICHROMATE]}, "holds dichromate"),
    "dichromate, not classified": (
        {"h_codes": "not classified", "ingredients": [DICHROMATE]},
        "holds dichromate or another compound of chromium",
    ),
    "formaldehyde": ({"h_codes": "H317 H350", "ingredients": [FORMALDEHYDE]}, "holds formaldehyde"),
    "sulfide": ({"h_codes": "H314 H400", "ingredients": [SULFIDE]}, "a sulfide"),
    "named only": ({"name": "Sulphide toner", "h_codes": "not classified"}, "a sulfide"),
    "concentrate": ({"h_codes": "H314", "ingredients": []}, "a concentrated acid or alkali"),
    "toxic powder": (
        {"h_codes": "H301 H331", "powder_mg_per_l": 100_000, "density_mg_per_ml": None, "ingredients": []},
        "an acutely toxic powder",
    ),
    "nothing said": ({"h_codes": "", "confirmed": False}, "nobody has entered what its SDS says"),
    "not confirmed": ({"confirmed": False}, "nobody has confirmed what its SDS says"),
    "contents not said": ({"h_codes": "H350", "ingredients": []}, "nobody has entered what is in it"),
}


@pytest.mark.parametrize("alone", RULES)
@pytest.mark.parametrize("case", DANGEROUS)
def test_no_setting_allows_alone_what_nobody_does_alone(stopped_clock, client_as, case, alone):
    lab = stopped_clock
    _, said = DANGEROUS[case]
    process_id = _make(lab, case)
    allow(lab, alone)
    answer = book(lab, client_as("member"), **plan(process_id))
    assert answer.status_code == 422
    page = text(answer)
    assert NEVER in page
    assert said in page
    assert bookings(lab) == []


def _make(lab: SmallLab, case: str) -> int:
    changes, _ = DANGEROUS[case]
    return process_with(lab, case.capitalize(), **changes)


@pytest.mark.parametrize("alone", RULES)
def test_nobody_under_18_is_alone_by_any_setting(stopped_clock, client_as, alone):
    """Booked alone they are refused before, for want of a supervisor; whoever becomes alone is told to stop."""
    lab = stopped_clock
    allow(lab, alone)
    state_age(lab.act("manager"), person_id=lab.ids["member"], until=date(2027, 1, 1))
    member = client_as("member")
    assert book(lab, member, **plan(safe_process(lab))).status_code == 422
    assert bookings(lab) == []
    press(member, "/building/touch", at="/building")
    page = text(member.get("/duty/alone"))
    assert "Stop this work" in page
    assert "Nobody under 18 works alone, by no setting." in page


def test_somebody_who_is_booked_or_on_duty_is_company(stopped_clock, client_as):
    lab = stopped_clock
    allow(lab, AloneRule.NEVER)
    dangerous, safe = _make(lab, "dichromate"), safe_process(lab)
    assert book(lab, client_as("member"), **plan(dangerous)).status_code == 422
    lab.fill_rota(alone=AloneRule.NEVER)
    assert book(lab, client_as("member"), **plan(dangerous)).status_code == 303
    assert text(client_as("member").get("/bookings/1")).count("Not alone") == 0
    # on duty oneself is no company to oneself, but the first aider is
    assert book(lab, client_as("technician"), station=lab.ids["Enlarger"], **plan(safe)).status_code == 303


def test_company_for_part_of_the_time_is_not_enough(stopped_clock, client_as):
    lab = stopped_clock
    allow(lab, AloneRule.CALL_IN)
    lab.book("Enlarger", at(9 + 1, 11), role="instructor", plan=safe_plan(lab))
    allow(lab, AloneRule.NEVER)
    page = text(book(lab, client_as("member"), process_id=safe_process(lab), size="120", count=1))
    assert "Nobody else is booked or on duty from 11:00 to 12:00." in page


def test_a_shared_bath_spares_its_users_the_concentrate(stopped_clock, client_as):
    lab = stopped_clock
    process_id = _stop_process(lab)
    allow(lab, AloneRule.ADULTS)
    refused = text(book(lab, client_as("member"), **plan(process_id)))
    assert "a concentrated acid or alkali" in refused
    lab.mix_film_line()
    assert book(lab, client_as("member"), **plan(process_id)).status_code == 303


def _stop_process(lab: SmallLab) -> int:

    entry = processes.StepEntry(name="Stop", product_id=lab.ids["product stop"], water_parts_milli=19_000)
    return processes.add_process(
        lab.act("technician"), name="Stop only", material=Material.FILM, note="", steps=[entry]
    ).id


def test_what_is_not_decided_counts_as_all_that_could_be_done(stopped_clock, client_as):
    lab = stopped_clock
    allow(lab, AloneRule.ADULTS)
    _make(lab, "formaldehyde")
    safe = safe_process(lab)
    undecided = text(book(lab, client_as("member")))
    assert "What will be done is not decided yet" in undecided
    assert NEVER in undecided
    assert book(lab, client_as("member"), **plan(safe)).status_code == 303

    # Becoming alone


def _two_at_work(lab: SmallLab, alone: AloneRule) -> tuple[Booking, Booking]:
    """A member and the instructor, both booked and here."""
    allow(lab, alone)
    process = safe_plan(lab)
    one = lab.book("Film sink", at(10, 12), plan=process)
    other = lab.book("Enlarger", at(10, 12), role="instructor", plan=process)
    return one, other


def _arrive(lab: SmallLab, client, booking: Booking) -> str:
    path = f"/bookings/{booking.id}"
    press(client, f"{path}/arrive", at=path)
    return text(client.get(path))


def test_a_partner_who_leaves_begins_the_call_in_and_stops_what_nobody_does_alone(stopped_clock, client_as):
    lab = stopped_clock
    lab.fill_rota(alone=AloneRule.CALL_IN)

    dangerous = _make(lab, "dichromate")
    one = lab.book("Film sink", at(10, 12), plan=Plan(process_id=dangerous))
    other = lab.book("Enlarger", at(10, 12), role="instructor", plan=Plan(process_id=dangerous))
    lab.now = at(10, 12).start
    member, instructor = client_as("member"), client_as("instructor")
    refused = _arrive(lab, instructor, other)
    assert "Nobody else is known to be in the building." in refused
    press(member, "/building/touch", at="/building")
    lab.tick()
    assert "here now" in _arrive(lab, instructor, other)
    assert "here now" in _arrive(lab, member, one)
    before = text(member.get("/duty/alone"))
    assert "Nobody is asked" in before
    assert "You are not alone" not in before  # whoever is not known to be in may well be alone
    lab.tick(minutes=20)
    press(instructor, f"/bookings/{other.id}/leave", at=f"/bookings/{other.id}")
    page = text(member.get("/duty/alone"))
    assert "Are you all right?" in page
    assert "Stop this work" in page
    assert "holds dichromate" in page
    assert "labsys is no alarm" in page
    assert "01632 960123" in page
    today = source(member.get("/"))
    assert "I am all right" in today
    # the keyholder and whoever is on call are told
    told = [name for name, subject in mails(lab) if subject == "Łukasz Żak is alone in the building"]
    both = [lab.person("technician").name, lab.person("manager").name]
    assert sorted(told) == sorted(both * 2)  # once as the first who came, once now
    # somebody comes back: nobody is asked any more
    lab.tick()
    press(instructor, "/building/touch", at="/building")
    assert "Nobody is asked" in text(member.get("/duty/alone"))
    assert lab.session.query(CallIn).filter(CallIn.ended_at.is_(None)).count() == 0


def test_one_touch_answers_and_silence_tells_one_after_the_other(stopped_clock, client_as, each_minute):
    lab = stopped_clock
    one, other = _two_at_work(lab, AloneRule.CALL_IN)
    duty.set_contacts(lab.act("manager"), person_ids=[lab.ids["technician"], lab.ids["manager"]])
    lab.now = at(10, 12).start
    member, instructor = client_as("member"), client_as("instructor")
    _arrive(lab, instructor, other)
    _arrive(lab, member, one)
    press(instructor, f"/bookings/{other.id}/leave", at=f"/bookings/{other.id}")
    call_in = lab.session.query(CallIn).filter_by(person_id=lab.ids["member"]).one()
    answer = f"/duty/call-ins/{call_in.id}/answer"
    lab.tick(minutes=30)
    each_minute()
    assert ("Łukasz Żak", "Are you all right?") in mails(lab)
    press(member, answer, at="/duty/alone")
    lab.tick(minutes=29)
    each_minute()
    assert sum(subject == "Are you all right?" for _, subject in mails(lab)) == 1
    lab.tick(minutes=2)
    each_minute()
    assert sum(subject == "Are you all right?" for _, subject in mails(lab)) == 2
    lab.tick(minutes=10)
    each_minute()
    each_minute()
    technician, manager = lab.person("technician").name, lab.person("manager").name
    alerts = [name for name, subject in mails(lab) if "no answer since" in subject]
    assert alerts == [technician]
    lab.tick(minutes=10)
    each_minute()
    alerts = [name for name, subject in mails(lab) if "no answer since" in subject]
    assert alerts == [technician, manager]
    assert "Alone in the building, and no answer since" in text(client_as("technician").get("/"))
    seen = send(client_as("manager"), "/duty/alerts/1", answer="I am going there.")
    assert seen.status_code == 303
    lab.tick(minutes=30)
    each_minute()
    assert len([name for name, subject in mails(lab) if "no answer since" in subject]) == 2
    assert "Seen to by" in text(client_as("technician").get("/duty/alerts/1"))


def test_the_baths_refuse_what_nobody_does_alone_to_who_is_alone(stopped_clock, client_as):
    """Logged before it is begun it is refused; work already done is always taken down."""
    lab = stopped_clock
    allow(lab, AloneRule.NEVER)
    lab.mix_film_line()
    technician = client_as("technician")
    press(technician, "/building/touch", at="/building")

    with pytest.raises(CompanyRefused, match=r"Stop: you are alone in the building\. Nobody does this alone"):
        lab.mix(SolutionKind.STOP, water_parts=19, working_ml=500)
    press(client_as("instructor"), "/building/touch", at="/building")
    assert lab.mix(SolutionKind.STOP, water_parts=19, working_ml=500).id

    # Who has to be there


def test_a_place_may_ask_for_two_for_a_role_and_for_staffed_hours(stopped_clock, client_as):
    lab = stopped_clock
    allow(lab, AloneRule.ADULTS)
    keeper = client_as("technician")
    asked = {
        "subject": f"station-{lab.ids['Film sink']}",
        "least_people": "2",
        "who": "role-instructor",
        "staffed_only": "y",
    }
    assert send(keeper, "/duty/staffing", **asked).status_code == 303
    assert "2 people in the building, an instructor, staffed hours only" in text(keeper.get("/duty"))
    process = plan(safe_process(lab))
    member = client_as("member")
    assert "Film sink asks for 2 people in the building; from 10:00 there would be 1." in text(
        book(lab, member, **process)
    )
    lab.book("Enlarger", at(10, 12), role="technician", plan=safe_plan(lab))
    assert "Film sink asks for an instructor to be there; from 10:00 nobody is." in text(book(lab, member, **process))
    lab.book("Enlarger", at(10, 12), role="instructor", plan=safe_plan(lab))
    assert "Film sink is for staffed hours only" in text(book(lab, member, **process))
    lab.fill_rota()
    assert book(lab, member, **process).status_code == 303


@pytest.mark.sqlite_only
def test_a_place_may_ask_for_somebody_who_is_competent(stopped_clock, client_as):
    lab = stopped_clock
    allow(lab, AloneRule.ADULTS)
    subject = f"station-{lab.ids['Film sink']}"
    send(client_as("technician"), "/duty/staffing", subject=subject, least_people="1", who="competence-toners")
    member, process = client_as("member"), plan(safe_process(lab))
    lab.book("Enlarger", at(10, 12), role="instructor", plan=safe_plan(lab))
    said = "Film sink asks for somebody competent for toners to be there; from 10:00 nobody is."
    assert said in text(book(lab, member, **process))
    lab.book("Enlarger", at(10, 12), role="technician", plan=safe_plan(lab))
    assert book(lab, member, **process).status_code == 303


def test_a_partner_who_cancels_is_told_to_who_is_left(stopped_clock, client_as, new_task):
    lab = stopped_clock
    one, other = _two_at_work(lab, AloneRule.CALL_IN)
    press(client_as("instructor"), f"/bookings/{other.id}/cancel", at=f"/bookings/{other.id}")

    job = lab.session.query(Job).filter_by(kind=LEFT_ALONE_KIND.name).one()
    for _ in range(2):
        run_left_alone(new_task(**json.loads(job.parameters)))
    told = [name for name, subject in mails(lab) if subject.startswith("Nobody beside you: Film sink")]
    assert told == ["Łukasz Żak"]
    assert "Nobody else is booked or on duty from 10:00 to 12:00." in text(
        client_as("member").get(f"/bookings/{one.id}")
    )

    # The rota


def test_the_rota_is_filled_on_its_page_shown_on_help_and_today_and_due_until_it_is(stopped_clock, client_as):
    lab = stopped_clock
    keeper = client_as("manager")
    assert "No keyholder or first aider or on call on 2 Mar 2026" in text(keeper.get("/"))
    assert client_as("member").get("/duty/turns?day=2026-03-02&from=600").status_code == 403
    lab.now = at(10, 12, day=at(0, 1).start.replace(day=2, hour=0)).start
    address = "/duty/turns?day=2026-03-02&from=600"
    filled = send(
        keeper,
        address,
        keyholder=str(lab.ids["technician"]),
        first_aider=str(lab.ids["instructor"]),
        on_call=str(lab.ids["manager"]),
        on_call_telephone="01632 960123",
        holds="week",
    )
    assert filled.status_code == 303
    name = lab.person("technician").name
    for page in ("/help", "/", "/duty"):
        shown = text(client_as("member").get(page))
        assert name in shown
        assert "01632 960123" in shown
    assert "tel:01632960123" in source(client_as(None).get("/help"))
    send(keeper, address, keyholder="0", first_aider=str(lab.ids["instructor"]), on_call="0", holds="date")
    assert f"keyholder {name}" not in text(client_as("member").get("/"))
    assert f"{DutyKind.KEYHOLDER} nobody yet" in text(client_as("member").get("/"))
    next_week = text(client_as("member").get("/duty"))
    assert name in next_week
    lab.now += timedelta(hours=14)
    assert "On duty now" not in text(client_as(None).get("/help"))
