from datetime import timedelta
from threading import Barrier, Thread

import pytest
from sqlalchemy import select

from labsys.chemistry.sizes import Material
from labsys.database import db
from labsys.inductions import queries, service, signing
from labsys.inductions.models import ConfirmedBy, Hazard, Induction, SignOff, Withdrawal
from labsys.inductions.reminders import letters_due
from labsys.inductions.rules import InductionRefused
from labsys.mail.models import OutgoingMail
from labsys.mail.reminders import queue_reminders
from labsys.people import service as people
from labsys.people.acts import Act, AlreadyDone
from labsys.people.models import Person
from labsys.people.permissions import NotPermitted
from labsys.records import queries as records
from labsys.records.errors import NotFound
from tests.support.lab import do

KEY = "0f3b3a53-9a57-4c9f-8f62-6f6b7a1f0001"


@pytest.fixture
def skin(lab):
    """An induction that the instructor holds."""
    induction = lab.add_induction("Skin care", hazards=frozenset({Hazard.SENSITISER}))
    lab.appoint(induction)
    return induction


def sign(lab, induction, *roles, by="instructor", **changes):
    arguments = {
        "actor": lab.person(by),
        "person_ids": [lab.ids[role] for role in roles],
        "induction_ids": [induction.id],
        "taught_at": lab.tick(),
        "now": lab.now,
    }
    return do(signing.sign_off_many, lab.session, **{**arguments, **changes})


def refused(lab, message, act, *args, **changes):
    """The act is refused with the message, and nothing was written."""
    before = lab.count(SignOff), lab.count(Withdrawal), records.head(lab.session)
    with pytest.raises(InductionRefused, match=message):
        act(*args, **changes)
    assert (lab.count(SignOff), lab.count(Withdrawal), records.head(lab.session)) == before

    # Inductions


def test_an_induction_begins_with_a_version_and_what_needs_it(lab, add_station):
    sink = add_station("Film sink")
    made = lab.add_induction("Films", station_ids=frozenset({sink.id}), materials=frozenset({Material.FILM}))
    found = queries.induction_or_raise(lab.session, made.id)
    assert [(one.number, one.must_repeat) for one in found.versions] == [(1, False)]
    assert service.needs_of(found) == service.NeededFor(frozenset({sink.id}), frozenset({Material.FILM}))


def test_two_inductions_do_not_share_a_name(lab, skin):
    with pytest.raises(InductionRefused, match="called Skin care already"):
        lab.add_induction("Skin care")
    assert lab.count(Induction) == 1


@pytest.mark.sqlite_only
@pytest.mark.parametrize(("text", "valid_days"), [("", 1), (" \n - \n", 1), ("Gloves.", 0), ("Gloves.", 3_651)])
def test_an_induction_without_points_or_of_no_sensible_time_is_refused(lab, text, valid_days):
    with pytest.raises(InductionRefused):
        service.add_induction(
            lab.act("manager"),
            name="Empty",
            how_to_get="Ask.",
            text=text,
            valid_days=valid_days,
            needed_for=service.NeededFor(),
        )
    assert lab.count(Induction) == 0


def test_requirements_are_set_anew_and_those_that_stay_keep_their_rows(lab, skin, add_station):
    sink = add_station("Film sink")
    before = {row.id for row in skin.requirements}
    wanted = service.NeededFor(frozenset({sink.id}), frozenset({Material.RC}), frozenset({Hazard.SENSITISER}))
    arguments = {"actor": lab.person("manager"), "induction_id": skin.id, "now": lab.tick()}
    do(service.set_requirements, lab.session, needed_for=wanted, **arguments)
    found = queries.induction_or_raise(lab.session, skin.id)
    assert service.needs_of(found) == wanted
    assert before < {row.id for row in found.requirements}
    do(service.set_requirements, lab.session, needed_for=service.NeededFor(), **arguments)
    lab.session.expire_all()
    assert queries.induction_or_raise(lab.session, skin.id).requirements == []


@pytest.mark.sqlite_only
def test_a_station_that_is_not_there_cannot_need_an_induction(lab, skin):
    with pytest.raises(NotFound):
        service.set_requirements(
            lab.act("manager"), induction_id=skin.id, needed_for=service.NeededFor(station_ids=frozenset({99}))
        )


@pytest.mark.sqlite_only
def test_a_new_version_that_changes_nothing_is_refused(lab, skin):
    newest = skin.versions[-1]
    with pytest.raises(InductionRefused, match="Nothing is different"):
        service.issue_version(
            lab.act("manager"),
            induction_id=skin.id,
            text=f"\n• {newest.text}",
            valid_days=newest.valid_days,
            must_repeat=False,
        )


@pytest.mark.sqlite_only
@pytest.mark.parametrize("role", ["member", "instructor", "technician"])
def test_who_does_not_keep_the_inductions_changes_none(lab, skin, role):
    common = {"actor": lab.person(role), "induction_id": skin.id, "now": lab.tick()}
    for act, arguments in (
        (service.change_induction, {"name": "Else", "how_to_get": "Ask."}),
        (service.set_requirements, {"needed_for": service.NeededFor()}),
        (service.issue_version, {"text": "New.", "valid_days": None, "must_repeat": True}),
        (signing.appoint_holder, {"person_id": lab.ids[role], "taught_at": lab.now}),
    ):
        with pytest.raises(NotPermitted):
            do(act, lab.session, **common, **arguments)

            # The first holders


def test_somebody_who_may_teach_is_appointed_where_nobody_could_teach_them(lab):
    skin = lab.add_induction("Skin care")
    signed = lab.appoint(skin)
    assert signed.is_appointment
    assert [one.name for one in queries.teachers(lab.session, induction_ids=[skin.id], at=lab.now)[skin.id]] == [
        "Ines Carrow"
    ]


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("role", "message"), [("technician", "Ines Carrow holds it and can teach it"), ("member", "may not sign others")]
)
def test_who_could_be_taught_here_or_could_not_teach_is_not_appointed(lab, skin, role, message):
    arguments = {"induction_id": skin.id, "person_id": lab.ids[role], "taught_at": lab.tick(), "now": lab.now}
    refused(lab, message, do, signing.appoint_holder, lab.session, actor=lab.person("manager"), **arguments)

    # Signing off


def test_a_class_is_signed_off_in_one_act_for_several_inductions(lab, skin):
    enlarger = lab.add_induction("Enlarger", valid_days=None)
    lab.appoint(enlarger)
    before = records.head(lab.session).number
    sign(lab, skin, "member", "technician", induction_ids=[skin.id, enlarger.id])
    assert records.head(lab.session).number == before + 1
    made = queries.history(lab.session, person_id=lab.ids["member"])
    assert [(one.version.induction_id, one.lapses_at) for one in made] == [
        (enlarger.id, None),
        (skin.id, lab.now + timedelta(days=365)),
    ]
    assert {one.recorded_at for one in made} == {lab.now}
    assert not any(one.confirmed_at for one in made)


def test_the_person_is_written_to_once_for_all_of_it(lab, skin):
    enlarger = lab.add_induction("Enlarger")
    lab.appoint(enlarger)
    sign(lab, skin, "member", induction_ids=[skin.id, enlarger.id])
    (mail,) = lab.session.execute(select(OutgoingMail).where(OutgoingMail.person_id == lab.ids["member"])).scalars()
    assert mail.subject == "Your sign-off waits for you: Skin care, Enlarger"
    assert "Ines Carrow signed you off" in mail.body


def test_who_does_not_hold_it_signs_nobody_off(lab, skin):
    refused(lab, "do not hold Skin care yourself: never signed off", sign, lab, skin, "member", by="technician")
    sign(lab, skin, "technician")
    refused(lab, "waits for your own confirmation", sign, lab, skin, "member", by="technician")


def test_who_held_it_once_signs_nobody_off(lab, skin):
    lab.tick(days=366)
    refused(lab, "yourself: lapsed on 2 March", sign, lab, skin, "member")


@pytest.mark.sqlite_only
def test_who_learned_it_after_the_class_did_not_teach_it(lab, skin):
    refused(lab, "at that time", sign, lab, skin, "member", taught_at=lab.now - timedelta(days=1))


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("message", "roles", "changes"),
    [
        ("Nobody signs themselves off", ["member", "instructor"], {}),
        ("at least one person", [], {}),
        ("what was taught", ["member"], {"induction_ids": []}),
    ],
)
def test_a_class_that_cannot_be_signed_is_refused_as_a_whole(lab, skin, message, roles, changes):
    refused(lab, message, sign, lab, skin, *roles, **changes)


@pytest.mark.sqlite_only
def test_a_teaching_in_the_future_is_refused(lab, skin):
    refused(lab, "in the future", sign, lab, skin, "member", taught_at=lab.now + timedelta(days=1))


def test_somebody_who_left_is_not_signed_off_and_neither_is_the_class_with_them(lab, skin):
    people.close_account(lab.act("manager"), person_id=lab.ids["member"])
    refused(lab, "Łukasz Żak has left", sign, lab, skin, "technician", "member")


def test_nobody_is_signed_off_twice_for_the_same_teaching(lab, skin):
    signed = sign(lab, skin, "member")
    refused(lab, "only has to confirm", sign, lab, skin, "technician", "member")
    signing.confirm(lab.act("member"), sign_off_id=signed.id)
    refused(lab, "of that day already", sign, lab, skin, "member")
    lab.tick(days=30)
    assert sign(lab, skin, "member").lapses_at == lab.now + timedelta(days=365)


def test_the_same_form_signs_once(lab, skin):
    sign(lab, skin, "member", submission_key=KEY)
    with pytest.raises(AlreadyDone):
        sign(lab, skin, "member", submission_key=KEY)
    assert len(queries.history(lab.session, person_id=lab.ids["member"])) == 1


@pytest.mark.sqlite_only
def test_people_and_inductions_that_are_not_there_are_not_found(lab, skin):
    for changes in ({"person_ids": [999]}, {"induction_ids": [999]}):
        with pytest.raises(NotFound):
            sign(lab, skin, "member", **changes)


def test_a_class_entered_late_was_taught_the_version_of_its_day(lab, skin):
    taught_at = lab.tick()
    service.issue_version(
        Act(lab.session, by=lab.person("manager"), now=lab.tick(days=1)),
        induction_id=skin.id,
        text="Another way.",
        valid_days=30,
        must_repeat=False,
    )
    late = sign(lab, skin, "member", taught_at=taught_at, now=lab.tick())
    today = sign(lab, skin, "technician")
    assert [(one.version.number, one.lapses_at - one.taught_at) for one in (late, today)] == [
        (1, timedelta(days=365)),
        (2, timedelta(days=30)),
    ]


def test_two_who_sign_the_same_person_at_the_same_moment_sign_once(app, lab, skin):
    signed = sign(lab, skin, "technician")
    signing.confirm(lab.act("technician"), sign_off_id=signed.id)
    taught_at, outcomes = lab.tick(), []
    lab.session.rollback()

    def work(signer):
        with app.app_context():
            actor, ids = db.session.get_one(Person, lab.ids[signer]), [lab.ids["member"]]
            common = {"person_ids": ids, "induction_ids": [skin_id], "taught_at": taught_at}
            start.wait()
            try:
                signing.sign_off_many(Act(db.session, by=actor, now=taught_at), **common)
            except InductionRefused:
                outcomes.append("refused")
            else:
                outcomes.append("signed")

    skin_id, start = skin.id, Barrier(2)
    lab.session.rollback()
    threads = [Thread(target=work, args=[signer]) for signer in ("instructor", "technician")]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert sorted(outcomes) == ["refused", "signed"]
    assert len(queries.history(lab.session, person_id=lab.ids["member"])) == 1

    # Confirming


def test_the_person_confirms_on_their_own_account(lab, skin):
    signed = lab.sign_off(skin)
    assert (signed.confirmed_by, signed.confirmed_at) == (ConfirmedBy.OWN_ACCOUNT, lab.now)


def test_somebody_elses_sign_off_is_not_found(lab, skin):
    signed = sign(lab, skin, "member")
    for role in ("technician", "instructor", "manager"):
        with pytest.raises(NotFound):
            signing.confirm(lab.act(role), sign_off_id=signed.id)
    assert not signed.confirmed_at


def test_what_is_confirmed_withdrawn_or_over_is_not_confirmed_again(lab, skin):
    def confirm(signed):
        return signing.confirm(lab.act("member"), sign_off_id=signed.id)

    signed = lab.sign_off(skin)
    refused(lab, "confirmed already", confirm, signed)
    lab.tick(days=1)
    withdrawn = sign(lab, skin, "member")
    signing.withdraw(lab.act("manager"), sign_off_id=withdrawn.id, reason="No.")
    refused(lab, "no longer be confirmed: withdrawn", confirm, withdrawn)
    waiting = sign(lab, skin, "member")
    lab.tick(days=365)
    refused(lab, "no longer be confirmed: lapsed", confirm, waiting)


def test_a_signed_sheet_confirms_a_whole_class_with_where_it_is_kept(lab, skin):
    sign(lab, skin, "member", "technician")
    ids = [one.id for one in queries.unconfirmed(lab.session, now=lab.now, limit=10)]
    signing.confirm_by_sheet(lab.act("technician"), sign_off_ids=ids, sheet="Folder 3, page 12")
    for role in ("member", "technician"):
        (made,) = queries.history(lab.session, person_id=lab.ids[role])
        assert (made.confirmed_by, made.sheet) == (ConfirmedBy.SIGNATURE_SHEET, "Folder 3, page 12")
    assert queries.unconfirmed(lab.session, now=lab.now, limit=10) == []


def test_a_sheet_with_one_who_confirmed_meanwhile_confirms_nobody(lab, skin):
    sign(lab, skin, "member", "technician")
    newest, oldest = queries.unconfirmed(lab.session, now=lab.now, limit=10)
    signing.confirm(Act(lab.session, by=newest.person, now=lab.tick()), sign_off_id=newest.id)
    arguments = {"actor": lab.person("technician"), "sign_off_ids": [oldest.id, newest.id], "now": lab.tick()}
    refused(lab, "confirmed already", do, signing.confirm_by_sheet, lab.session, sheet="Folder 3", **arguments)
    refused(lab, "where the signed sheet", do, signing.confirm_by_sheet, lab.session, sheet="  ", **arguments)
    assert [one.id for one in queries.unconfirmed(lab.session, now=lab.now, limit=10)] == [oldest.id]
    with pytest.raises(NotPermitted):
        do(signing.confirm_by_sheet, lab.session, sheet="Mine", **{**arguments, "actor": lab.person("member")})


def test_what_waits_leaves_out_what_can_no_longer_be_confirmed(lab, skin):
    def waiting():
        return [one.person_id for one in queries.unconfirmed(lab.session, now=lab.now, limit=10)]

    sign(lab, skin, "member", "technician")
    people.close_account(lab.act("manager"), person_id=lab.ids["member"])
    assert waiting() == [lab.ids["technician"]]
    service.issue_version(lab.act("manager"), induction_id=skin.id, text="All new.", valid_days=None, must_repeat=True)
    assert waiting() == []

    # Withdrawing


def test_a_withdrawal_is_a_row_of_its_own_and_happens_once(lab, skin):
    signed = lab.sign_off(skin)
    withdrawal = signing.withdraw(lab.act("instructor"), sign_off_id=signed.id, reason="Wrong person.")
    assert (withdrawal.sign_off_id, withdrawal.reason) == (signed.id, "Wrong person.")
    arguments = {"actor": lab.person("instructor"), "sign_off_id": signed.id, "now": lab.tick()}
    refused(lab, "withdrawn already", do, signing.withdraw, lab.session, reason="Again.", **arguments)


def test_who_withdraws_signed_it_or_keeps_the_inductions_and_says_why(lab, skin):
    signed = lab.sign_off(skin)
    for role in ("member", "technician"):
        with pytest.raises(NotPermitted):
            signing.withdraw(lab.act(role), sign_off_id=signed.id, reason="Mine.")
    arguments = {"actor": lab.person("manager"), "sign_off_id": signed.id, "now": lab.tick()}
    refused(lab, "Say why", do, signing.withdraw, lab.session, reason=" ", **arguments)

    # Reminders


def reminders_to(lab, role):
    chosen = select(OutgoingMail.subject).where(
        OutgoingMail.person_id == lab.ids[role], OutgoingMail.reason_key.startswith("induction lapses")
    )
    return list(lab.session.execute(chosen).scalars())


def test_a_lapse_is_written_about_once_fourteen_days_before(lab, skin):
    lab.sign_off(skin)
    lab.tick(days=350)
    assert queue_reminders(lab.session, letters_due, now=lab.now) == 0
    lab.tick(days=2)
    assert queue_reminders(lab.session, letters_due, now=lab.now) == 2  # the member, and the instructor
    assert reminders_to(lab, "member") == ["Skin care lapses on 2 March"]
    assert queue_reminders(lab.session, letters_due, now=lab.tick(days=1)) == 0


def test_who_has_renewed_it_or_left_is_not_reminded(lab, skin):
    lab.sign_off(skin)
    lab.tick(days=300)
    lab.sign_off(skin)
    lab.sign_off(skin, "technician")
    lab.tick(days=56)
    assert queue_reminders(lab.session, letters_due, now=lab.now) == 1
    assert (reminders_to(lab, "member"), len(reminders_to(lab, "instructor"))) == ([], 1)
