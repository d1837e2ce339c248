"""Equipment as people meet it: a failed check closes, a passed one opens, faults in two touches, errors into sums."""

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

import pytest
from flask.testing import FlaskClient
from sqlalchemy import select

from labsys.bookings.models import Booking
from labsys.bookings.rules import Plan
from labsys.closing.by_equipment import tell_booked
from labsys.drawing.qr import scan_code_of
from labsys.equipment import service
from labsys.equipment.models import CheckKind, Equipment, EquipmentFault, EquipmentKind, FaultKind
from labsys.equipment.service import EquipmentFacts, Found
from labsys.mail.models import OutgoingMail
from labsys.people.models import Role
from labsys.records.models import Code
from labsys.risk.models import Level
from labsys.timetable.spans import Span
from tests.support import assessing
from tests.support.lab import SmallLab
from tests.support.pages import fill_in, page_at, pdf_text, press, send, text

TUESDAY = datetime(2026, 3, 3, tzinfo=UTC)  # London keeps UTC then
ClientAs = Callable[..., FlaskClient]


def at(start: float, end: float, *, days: int = 0) -> Span:
    return Span(TUESDAY + timedelta(days=days, hours=start), TUESDAY + timedelta(days=days, hours=end))


@pytest.fixture
def furnished(lab: SmallLab, monkeypatch: pytest.MonkeyPatch) -> SmallLab:
    lab.add_places()
    monkeypatch.setattr("labsys.clock.now", lambda: lab.now)
    return lab


def enter(lab: SmallLab, kind: EquipmentKind, name: str, **facts) -> Equipment:
    return service.add(lab.act("technician"), kind=kind, facts=EquipmentFacts(name=name, **facts))


def checked(lab: SmallLab, equipment: Equipment, kind: CheckKind, *, on: date | None = None, **found) -> None:
    service.check(
        lab.act("technician"),
        equipment_id=equipment.id,
        kind=kind,
        happened_on=on or lab.now.date(),
        found=Found(**{"has_passed": True, **found}),
    )


def eyewash(lab: SmallLab, **facts) -> Equipment:
    """One at the film sink, run and inspected today."""
    entered = enter(lab, EquipmentKind.EYEWASH, "Eyewash", station_id=lab.ids["Film sink"], **facts)
    for kind in (CheckKind.RUN, CheckKind.INSPECTION):
        checked(lab, entered, kind)
    return entered


def test_a_failed_check_closes_its_place_until_it_passes(furnished: SmallLab, client_as: ClientAs):
    lab, technician, member = furnished, client_as("technician"), client_as("member")
    typed = {"kind": "plumbed eyewash", "name": "Eyewash", "serves": f"place-{lab.ids['Film sink']}"}
    page = send(technician, "/equipment/add", typed).location
    lab.tick()
    for check in ("run", "inspection"):
        assert fill_in(technician, f"{page}/check/{check}", outcome="passed").status_code == 303
        lab.tick()
    booking = lab.book("Film sink", at(12, 14))
    lab.now = at(11.9, 12).start
    assert fill_in(technician, f"{page}/check/run", outcome="failed", note="Brown water").status_code == 303
    lab.tick()
    why = "Film sink is closed: Eyewash failed: run, 3 Mar 2026"
    times = {"station": lab.ids["Film sink"], "day": "2026-03-04", "starts": "720", "ends": "780"}
    assert why in text(fill_in(member, "/bookings/book", **times))
    assert why in text(member.get(press(member, f"/bookings/{booking.id}/arrive", at="/").location))
    assert "No start: Eyewash failed" in text(member.get("/"))
    assert "now Film sink is closed: Eyewash failed" in text(technician.get("/"))
    assert "Eyewash failed: run" in text(member.get("/bookings"))  # the board
    assert (tell_booked(lab.session, now=lab.now), tell_booked(lab.session, now=lab.tick())) == (1, 0)
    mail = lab.session.scalars(select(OutgoingMail).where(OutgoingMail.kind == "closure")).one()
    assert why in mail.body
    press(technician, f"{page}/passed/run", at=page)
    lab.tick()
    assert "is closed" not in text(technician.get(page))
    assert fill_in(member, "/bookings/book", **times).status_code == 303
    press(member, f"/bookings/{booking.id}/arrive", at=f"/bookings/{booking.id}")
    lab.session.expire_all()
    assert lab.session.get_one(Booking, booking.id).arrived_at is not None


def test_overdue_warns_and_closes_after_the_labs_grace_and_the_law_has_none(furnished: SmallLab, client_as: ClientAs):
    lab, technician = furnished, client_as("technician")
    eyewash(lab)
    lab.now = at(11, 12, days=9).start  # run on Monday the second, due on the ninth, and this is the twelfth
    assert "Film sink is closed: Eyewash: run overdue since 9 Mar 2026" in text(technician.get("/"))
    manager = client_as("manager")
    assert fill_in(manager, "/lab", check_grace_days="5").status_code == 303
    warned = text(technician.get("/"))
    assert "1 check overdue" in warned
    assert "Film sink closes on 15 Mar 2026" in warned
    assert lab.book("Film sink", at(12, 13, days=10)).id
    lab.now = at(11, 12, days=12).start
    assert "Film sink is closed: Eyewash: run overdue" in text(technician.get("/"))
    hood = enter(lab, EquipmentKind.LOCAL_EXHAUST, "Slot at the trays", station_id=lab.ids["Wet side"])
    checked(lab, hood, CheckKind.LOOK)
    report = {
        "outcome": "passed",
        "happened_on": "2025-01-14",
        "employer": "Kelder Print Trust, 2 Mill Lane",
        "plant": "Slot behind the trays: fixer, stop bath",
        "conditions": "as in use",
        "intended": "0.5 m/s at the slot",
        "performance": "0.55 m/s at the slot",
        "method": "air speed, smoke",
        "examiner": "R. Vane, examiner, Vane Air",
    }
    path = f"/equipment/{hood.id}/check/thorough-examination-and-test"
    assert "The record has to say this" in text(fill_in(technician, path, **{**report, "method": ""}))
    assert fill_in(technician, path, **report).status_code == 303  # fourteen months: until 14 March 2026, yesterday
    lab.tick()
    page = text(technician.get(f"/equipment/{hood.id}"))
    assert "Wet side is closed." in page
    assert "thorough examination and test overdue since 14 Mar 2026" in page
    assert "kept until 14 Jan 2030 at least" in page
    assert "air speed, smoke" in page


@pytest.mark.sqlite_only
def test_a_sealed_bottle_needs_its_date_and_closes_when_it_has_gone_by(furnished: SmallLab, client_as: ClientAs):
    lab, technician = furnished, client_as("technician")
    typed = {"kind": "eyewash bottle", "name": "Bottle", "serves": f"place-{lab.ids['Film sink']}"}
    assert "one without a date is none" in text(send(technician, "/equipment/add", typed))
    page = send(technician, "/equipment/add", typed, lapses_on="2026-03-03").location
    press(technician, f"{page}/passed/look", at=page)
    lab.now = at(12, 13).start
    assert "is closed" not in text(technician.get(page))
    lab.now = at(0.1, 1, days=1).start
    assert "Bottle is past its date, 3 Mar 2026" in text(technician.get(page))
    assert fill_in(technician, f"{page}/change", lapses_on="2027-03-01").status_code == 303
    assert "is closed" not in text(technician.get(page))
    assert fill_in(technician, f"{page}/retire", because="").status_code == 422


def test_anybody_reports_a_fault_in_two_touches_and_it_stands_until_cleared(furnished: SmallLab, client_as: ClientAs):
    lab, technician, member = furnished, client_as("technician"), client_as("member")
    piece = eyewash(lab)
    lab.tick()
    scanned = member.get(f"/c/{piece.code}").location
    assert f'href="{scanned}/fault"' in page_at(member, scanned)  # first touch; the second says what is wrong
    reported = send(member, f"{scanned}/fault", kind="it does not work")
    assert "Film sink is closed until then." in text(member.get(reported.location))
    assert "Reported: it does not work." in text(technician.get("/"))
    assert "Clear it" not in text(member.get("/"))
    lab.tick()
    press(technician, f"/places/stations/{lab.ids['Enlarger']}/code", at=f"/places/stations/{lab.ids['Enlarger']}")
    code = lab.session.scalars(select(Code.code).where(Code.kind == "S")).one()
    assert scan_code_of(code, public_url="http://x").title == f"Leads to {code}"
    place = member.get(f"/c/{code}").location
    assert f'href="{place}/fault"' in page_at(member, place)
    send(member, f"{place}/fault", kind="something else", words="The baseboard wobbles")
    today = text(technician.get("/"))
    assert "something else. The baseboard wobbles" in today
    lab.tick()
    for fault in lab.session.scalars(select(EquipmentFault).order_by(EquipmentFault.id)).all():
        path = f"/equipment/faults/{fault.id}"
        assert member.post(f"{path}/clear", data={"how": "me"}).status_code in (400, 403)
        assert send(technician, f"{path}/clear", at=path, how="").status_code == 422
        assert send(technician, f"{path}/clear", at=path, how="Mended").status_code == 303
        lab.tick()
    assert "Reported:" not in text(technician.get("/"))
    assert "is closed" not in text(member.get(scanned))


@pytest.mark.sqlite_only
def test_the_error_found_at_a_check_enters_the_sums_and_never_checked_is_not_known(
    furnished: SmallLab, client_as: ClientAs
):
    lab, technician = furnished, client_as("technician")
    asked = {"ask": "develop", "minutes": "8", "at": "20", "now": "20", "q10": "2.5", "low": "18", "high": "24"}
    asked |= {"q10_error": "0.3", "tau": "60"}
    first = enter(lab, EquipmentKind.THERMOMETER, "Long thermometer")
    assert 'value="1"' in page_at(technician, "/bench").split('id="develop-thermometer"')[1].split(">")[0]
    told = text(technician.get("/bench", query_string={**asked, "thermometer": "1"}))
    assert "never checked, so how far off is not known: ± 1 °C counts" in told
    page = f"/equipment/{first.id}"
    reading = f"{page}/check/check-of-its-reading"
    assert send(technician, reading, outcome="passed").status_code == 422
    assert send(technician, reading, outcome="passed", error="-0.3", doubt="0.1").status_code == 303
    assert "counts as ± 0.4 °C" in text(technician.get(page))
    # By hand: 2.5^(0.4/10) - 1 is 3.7 %.
    told = text(technician.get("/bench", query_string={**asked, "thermometer": "0.4"}))
    assert "Development ± 3.7 % for a thermometer good to ± 0.4 °C" in told
    assert 'value="0.4"' in page_at(technician, "/bench").split('id="develop-thermometer"')[1].split(">")[0]
    enter(lab, EquipmentKind.BALANCE, "Balance", step_micro=100_000)
    # By hand: twice one step of 0.1 g of 2 g is 10 %.
    powders = {"ask": "powders", "lines": "metol 2 g", "volume": "1 L", "step": "0.1"}
    told = text(technician.get("/bench", query_string=powders))
    assert "2 g ± 10.0 %" in told
    assert "This balance was never checked" in told


@pytest.mark.sqlite_only
def test_a_cylinder_is_equipment_and_its_check_decides_what_is_measured_with_it(
    furnished: SmallLab, client_as: ClientAs
):
    lab, technician = furnished, client_as("technician")
    fields = {"nominal_ml": "100", "division": "1", "accuracy_class": "a", "kept_for": "developer"}
    assert send(technician, "/store/cylinders", fields).status_code == 303
    shown = text(technician.get("/store/cylinders"))
    assert "± 2 mL never checked: not known. The wider of its class and two divisions counts" in shown
    asked = {"ask": "dilute", "dilution": "1+9", "volume": "1 L", "kind": "developer"}
    told = text(technician.get("/bench", query_string=asked))
    assert "1 of them was never checked, so how far off is not known" in told
    cylinder = lab.session.scalars(select(Equipment).where(Equipment.name.contains("100 mL"))).one()
    path = f"/equipment/{cylinder.id}/check/check-of-its-reading"
    assert send(technician, path, outcome="passed", error="0.2", doubt="0.1").status_code == 303
    # One mark that is better than class A allows at all of them, ± 0.5 mL (ISO 4788, from memory), makes it no better.
    assert "± 0.5 mL" in text(technician.get("/store/cylinders"))
    lab.tick()
    assert send(technician, path, outcome="passed", error="-2.4", doubt="0.1").status_code == 303
    assert "± 2.5 mL" in text(technician.get("/store/cylinders"))
    lab.tick()
    assert send(technician, path, outcome="failed", error="9", doubt="0.1").status_code == 303
    assert "failed 2 Mar 2026: not used" in text(technician.get("/store/cylinders"))
    assert "the 100 mL cylinder" not in text(technician.get("/bench", query_string=asked))


def test_who_begins_says_that_the_extraction_runs_where_the_approved_assessment_asks(
    furnished: SmallLab, client_as: ClientAs
):
    lab, member = furnished, client_as("member")
    process = lab.add_process()
    assessing.approved(lab, process, controls=((Level.ENGINEERING, "Local exhaust running at the trays."),))
    booking = lab.book("Film sink", at(12, 14), plan=Plan(process_id=process.id))
    lab.now = at(11.9, 12).start
    page = f"/bookings/{booking.id}"
    refused = member.get(press(member, f"{page}/arrive", at="/").location)
    assert "Switch it on, see that it draws, and say so when you begin." in text(refused)
    assert "The extraction runs: arrive" in text(refused)
    lab.session.expire_all()
    assert lab.session.get_one(Booking, booking.id).arrived_at is None
    press(member, f"{page}/arrive", at=page)
    lab.session.expire_all()
    begun = lab.session.get_one(Booking, booking.id)
    assert begun.fan_confirmed_at == begun.arrived_at is not None


@pytest.mark.sqlite_only
def test_the_list_for_an_inspector_says_last_and_next_of_every_check(furnished: SmallLab, client_as: ClientAs):
    lab, adviser = furnished, client_as(str(Role.SAFETY_ADVISER))
    eyewash(lab, whereabouts="by the door")
    service.report_fault(lab.act("member"), kind=FaultKind.OTHER, words="A slow drip", station_id=lab.ids["Enlarger"])
    enter(lab, EquipmentKind.SPILL_KIT, "Spill kit")
    page = text(adviser.get("/documents/equipment-list"))
    issued = press(adviser, "/documents/equipment-list", at="/documents/equipment-list")
    paper = pdf_text(adviser.get(issued.location).data)
    for told in (page, paper):
        for said in ("Eyewash", "by the door", "9 Mar 2026", "2 Mar 2027", "ANSI Z358.1-2014", "never", "A slow drip"):
            assert said in told, said
