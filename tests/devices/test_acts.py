"""Shared tablets through the services: cards and PINs let the right person in, and guessing is stopped."""

import threading
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from flask import Flask
from sqlalchemy import func, select

from labsys.database import DbSession, db
from labsys.devices import queries, rules, service
from labsys.devices.models import Card, EnrolledDevice, Pin, WrongTry
from labsys.people import service as people
from labsys.people.acts import Act
from labsys.people.permissions import NotPermitted, Permission, may
from labsys.people.rules import TooManyAttempts
from labsys.records.models import RecordEntry
from labsys.records.rules import CodeRefused
from tests.support.lab import SmallLab

CHEAP = (1, 8, 1)
LONDON = ZoneInfo("Europe/London")
PIN = "2580"


@pytest.fixture
def device(lab: SmallLab) -> EnrolledDevice:
    return service.enrol_device(lab.act("manager"), name="Dry side, by the door").device


def issue(lab: SmallLab, role: str = "member") -> Card:
    return service.issue_card(lab.act("manager"), person_id=lab.ids[role])


def by_card(lab: SmallLab, device: EnrolledDevice, code: str, *, now: datetime | None = None) -> Card:
    return service.know_by_card(lab.session, device=device, code=code, prefix="AS", now=now or lab.tick())


def by_pin(lab: SmallLab, device: EnrolledDevice, pin: str, *, role: str = "member") -> int:
    person_id = lab.ids[role]
    return service.know_by_pin(
        lab.session, device=device, person_id=person_id, pin=pin, cost=CHEAP, now=lab.tick(seconds=1)
    ).id


def set_pin(lab: SmallLab, pin: str = PIN, *, role: str = "member") -> Pin:
    return service.choose_pin(lab.act(role), pin=pin, cost=CHEAP)


def wrong_tries(session: DbSession) -> int:
    session.rollback()
    return session.execute(select(func.count()).select_from(WrongTry)).scalar_one()

    # PINs


@pytest.mark.parametrize(
    "pin", ["0000", "1234", "4321", "8901", "2109", "99999999", "123", "123456789", "12a4", "２５８０"]
)
def test_a_pin_that_is_short_long_or_tried_first_is_refused(pin: str):
    with pytest.raises(rules.DeviceRefused):
        rules.check_pin(pin)


@pytest.mark.parametrize("pin", ["2580", "0102", "19283746"])
def test_other_digits_make_a_pin(pin: str):
    rules.check_pin(pin)


def test_a_pin_lets_its_person_in_and_nobody_else(lab: SmallLab, device: EnrolledDevice):
    set_pin(lab)
    assert by_pin(lab, device, PIN) == lab.ids["member"]
    with pytest.raises(rules.NotKnown):
        by_pin(lab, device, PIN, role="technician")
    set_pin(lab, "97531")
    with pytest.raises(rules.NotKnown):
        by_pin(lab, device, PIN)
    assert by_pin(lab, device, "97531") == lab.ids["member"]


def test_a_pin_is_kept_as_a_hash_and_never_on_the_record(lab: SmallLab):
    pin = set_pin(lab, "86420975")
    assert pin.pin_hash.startswith("$argon2")
    payloads = lab.session.execute(select(RecordEntry.payload)).scalars().all()
    assert not any("86420975" in (payload or "") for payload in payloads)
    assert any("person.chose_pin" in (payload or "") for payload in payloads)

    # Cards


def test_a_card_lets_its_person_in_until_it_is_revoked(lab: SmallLab, device: EnrolledDevice):
    card = issue(lab)
    assert by_card(lab, device, card.code.lower().replace("-", " ")).person_id == lab.ids["member"]
    service.revoke_card(lab.act("manager"), card_id=card.id)
    with pytest.raises(rules.NotKnown):
        by_card(lab, device, card.code)


def test_cards_cannot_be_worked_out_from_one_another(lab: SmallLab):
    """Codes on labels count up; of twenty cards no two are neighbours, and each has nine digits."""
    numbers = sorted(int(issue(lab).code.split("-")[1][1:]) for _ in range(20))
    assert all(after - before > 1 for before, after in pairwise(numbers))
    assert all(len(str(number)) == 9 for number in numbers)


def test_the_code_of_a_card_is_never_on_the_record(lab: SmallLab):
    code = issue(lab).code
    payloads = lab.session.execute(select(RecordEntry.payload)).scalars().all()
    assert not any(code in (payload or "") for payload in payloads)


def test_whoever_left_has_no_card_any_more(lab: SmallLab, device: EnrolledDevice):
    card = issue(lab)
    set_pin(lab)
    people.close_account(lab.act("manager"), person_id=lab.ids["member"])
    with pytest.raises(rules.NotKnown):
        by_card(lab, device, card.code)
    with pytest.raises(rules.NotKnown):
        by_pin(lab, device, PIN)
    with pytest.raises(rules.DeviceRefused, match="has left"):
        issue(lab)


def test_a_slip_of_the_finger_is_told_and_costs_no_try(lab: SmallLab, device: EnrolledDevice):
    code = issue(lab).code
    wrong = code[:-1] + ("A" if code[-1] != "A" else "B")
    with pytest.raises(CodeRefused, match="check character"):
        by_card(lab, device, wrong)
    assert wrong_tries(lab.session) == 0


def test_tonights_code_is_good_until_four_in_the_morning(lab: SmallLab, device: EnrolledDevice):
    lab.now = datetime(2026, 3, 28, 22, 30, tzinfo=UTC)  # the clocks go forward that night
    manager, member = lab.person("manager"), lab.ids["member"]
    card = service.give_code_for_tonight(Act(lab.session, by=manager, now=lab.now), person_id=member, zone=LONDON)
    four = datetime(2026, 3, 29, 3, 0, tzinfo=UTC)
    assert card.valid_until == four
    assert by_card(lab, device, card.code, now=four - timedelta(seconds=1)).person_id == member
    with pytest.raises(rules.NotKnown):
        by_card(lab, device, card.code, now=four)


@pytest.mark.parametrize(
    ("now", "ends"),
    [
        ("2026-05-14T03:59:00+01:00", "2026-05-14T04:00:00+01:00"),
        ("2026-05-14T04:00:00+01:00", "2026-05-15T04:00:00+01:00"),
        ("2026-10-24T20:00:00+01:00", "2026-10-25T04:00:00+00:00"),
        ("2026-12-31T23:59:59+00:00", "2027-01-01T04:00:00+00:00"),
    ],
)
def test_the_night_ends_by_the_clock_on_the_wall(now: str, ends: str):
    assert rules.night_ends(now=datetime.fromisoformat(now), zone=LONDON) == datetime.fromisoformat(ends)

    # Guessing


def test_of_fifty_guesses_five_are_looked_at_and_the_right_one_comes_too_late(lab: SmallLab, device: EnrolledDevice):
    set_pin(lab)
    looked_at = 0
    for number in range(50):
        try:
            by_pin(lab, device, PIN if number == 49 else f"{7000 + number}")
        except rules.NotKnown:
            looked_at += 1
        except TooManyAttempts:
            pass
        else:
            pytest.fail("the guess got in")
    assert looked_at == 5
    lab.tick(minutes=15)
    assert by_pin(lab, device, PIN) == lab.ids["member"]


def test_fifty_guesses_at_once_are_counted_as_fifty(lab: SmallLab, device: EnrolledDevice, app: Flask):
    set_pin(lab)
    device_id, now, outcomes = device.id, lab.tick(), []
    ready = threading.Barrier(10)

    def guess(first: int) -> None:
        with app.app_context():
            here = db.session.get_one(EnrolledDevice, device_id)
            ready.wait()
            for number in range(first, first + 5):
                try:
                    service.know_by_pin(
                        db.session,
                        device=here,
                        person_id=lab.ids["member"],
                        pin=f"{7000 + number}",
                        cost=CHEAP,
                        now=now,
                    )
                except (rules.NotKnown, TooManyAttempts) as refusal:
                    outcomes.append(type(refusal))
            db.session.remove()

    guessers = [threading.Thread(target=guess, args=(first,)) for first in range(0, 50, 5)]
    for guesser in guessers:
        guesser.start()
    for guesser in guessers:
        guesser.join()
    assert len(outcomes) == 50
    assert outcomes.count(rules.NotKnown) == 5
    assert wrong_tries(lab.session) == 5


def test_a_device_stops_after_ten_wrong_cards_and_another_device_goes_on(lab: SmallLab, device: EnrolledDevice):
    card = issue(lab)
    service.revoke_card(lab.act("manager"), card_id=card.id)
    good = issue(lab, "technician")
    for _ in range(10):
        with pytest.raises(rules.NotKnown):
            by_card(lab, device, card.code, now=lab.tick(seconds=1))
    with pytest.raises(TooManyAttempts):
        by_card(lab, device, good.code)
    other = service.enrol_device(Act(lab.session, by=lab.person("manager"), now=lab.now), name="Other").device
    assert by_card(lab, other, good.code).person_id == lab.ids["technician"]


def test_guesses_at_one_person_count_together_over_all_devices(lab: SmallLab, device: EnrolledDevice):
    set_pin(lab)
    other = service.enrol_device(Act(lab.session, by=lab.person("manager"), now=lab.now), name="Other").device
    for number in range(5):
        with pytest.raises(rules.NotKnown):
            by_pin(lab, (device, other)[number % 2], "7777777")
    with pytest.raises(TooManyAttempts):
        by_pin(lab, other, PIN)


def test_a_right_answer_leaves_no_wrong_try_behind(lab: SmallLab, device: EnrolledDevice):
    set_pin(lab)
    for _ in range(12):
        by_pin(lab, device, PIN)
    assert wrong_tries(lab.session) == 0

    # Who may


@pytest.mark.sqlite_only
@pytest.mark.parametrize("role", ["member", "instructor", "technician", "safety adviser"])
def test_only_a_manager_keeps_tablets_and_cards(lab: SmallLab, device: EnrolledDevice, role: str):
    actor, member = lab.person(role), lab.ids["member"]
    acts = [
        lambda: service.enrol_device(Act(lab.session, by=actor, now=lab.now), name="x"),
        lambda: service.revoke_device(Act(lab.session, by=actor, now=lab.now), device_id=device.id),
        lambda: service.issue_card(Act(lab.session, by=actor, now=lab.now), person_id=member),
        lambda: service.give_code_for_tonight(Act(lab.session, by=actor, now=lab.now), person_id=member, zone=LONDON),
        lambda: service.revoke_card(Act(lab.session, by=actor, now=lab.now), card_id=1),
    ]
    for one in acts:
        with pytest.raises(NotPermitted):
            one()


def test_a_revoked_device_is_none(lab: SmallLab):
    manager = lab.person("manager")
    enrolment = service.enrol_device(Act(lab.session, by=manager, now=lab.tick()), name="Tablet")
    assert queries.device_of_token(lab.session, enrolment.token) is not None
    assert queries.device_of_token(lab.session, enrolment.token + "x") is None
    service.revoke_device(Act(lab.session, by=manager, now=lab.tick()), device_id=enrolment.device.id)
    assert queries.device_of_token(lab.session, enrolment.token) is None


@pytest.mark.sqlite_only
@pytest.mark.parametrize("role", ["member", "instructor", "technician", "safety adviser", "manager"])
def test_at_a_tablet_nobody_may_do_more_than_a_member(lab: SmallLab, role: str):
    person = lab.person(role)
    person.confined_to = rules.TABLET_PERMISSIONS  # type: ignore[misc]
    held = {permission for permission in Permission if may(person, permission)}
    assert held <= {Permission.SEE_LAB, Permission.LOG_USE, Permission.BOOK_STATION, Permission.REPORT_INCIDENT}
    assert Permission.SEE_LAB in held
