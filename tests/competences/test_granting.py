"""Granting, witnessing and revoking on the pages, as each person meets them; on both databases."""

from datetime import timedelta

import pytest

from labsys.competences.models import Competence, CompetenceGrant
from labsys.competences.reminders import letters_due
from labsys.mail.models import OutgoingMail
from labsys.mail.reminders import queue_reminders
from labsys.people import service as people
from labsys.people.models import Role
from labsys.records.models import RecordEntry
from tests.support.pages import fill_in, links, press, send, source, text

POWDERS = Competence.POWDERS.value


def grant_page(lab, role):
    return f"/competences/people/{lab.ids[role]}/grant"


def person_page(lab, role):
    return f"/competences/people/{lab.ids[role]}"


def newest(lab):
    lab.session.expire_all()
    return lab.session.query(CompetenceGrant).order_by(CompetenceGrant.id.desc()).first()


def granted_to_the_instructor(lab, client, **changes):
    told = {"competence": POWDERS, "witness": "Łukasz Żak", **changes}
    return fill_in(client, grant_page(lab, "instructor"), **told)


def test_it_counts_once_the_witness_says_that_they_saw_it(as_role, lab):
    answer = granted_to_the_instructor(lab, as_role("technician"))
    assert answer.status_code == 303, text(answer)
    page = text(as_role("instructor").get("/account"))
    assert "Powders" in page
    assert "waits until Łukasz Żak says that they saw it" in page
    member = as_role("member")
    assert "Ines Carrow, powders: did you see it?" in text(member.get("/competences"))
    answer = press(member, f"/competences/grants/{newest(lab).id}/witness", at="/competences")
    assert answer.status_code == 303
    assert "did you see it" not in text(member.get("/competences"))
    page = text(as_role("instructor").get("/account"))
    assert "granted by Sol Haddad, seen by Łukasz Żak" in page
    assert "current until 1 Mar 2027" in page


def test_nobody_but_the_witness_says_so_and_only_once(as_role, lab):
    granted_to_the_instructor(lab, as_role("technician"))
    address = f"/competences/grants/{newest(lab).id}/witness"
    assert send(as_role("instructor"), address, at="/account").status_code == 404
    member = as_role("member")
    opened = source(member.get("/competences"))
    press(member, address, opened=opened)
    send(member, address, at="/account")
    assert "You said so already." in text(member.get("/competences"))


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"witness": ""}, "Choose who saw it"),
        ({"witness": "", "because": "no time"}, "Choose who saw it"),  # four others are here
        ({"witness": "Sol Haddad"}, "A witness is a third person"),
        ({"witness": "Ines Carrow"}, "A witness is a third person"),
        ({"witness": "Nobody Known"}, "Nobody here is called that"),
        ({"witness": "Łukasz Żak", "because": "no time"}, "leave the reason empty"),
        ({"happened_on": "2026-03-03"}, "still to come"),
        ({"until": "2026-03-01"}, "That day is past"),
        ({"until": "2036-03-01"}, "over five years"),
        ({"competence": "anything"}, "Choose what is on the list"),
        ({"competence": ""}, "Choose what"),
    ],
)
def test_what_cannot_be_granted_so_is_said_by_its_field(as_role, lab, changes, said):
    before = lab.count(CompetenceGrant)
    answer = granted_to_the_instructor(lab, as_role("technician"), **changes)
    assert answer.status_code == 422
    assert said in text(answer)
    assert lab.count(CompetenceGrant) == before


@pytest.mark.sqlite_only
def test_a_witness_whose_name_two_share_is_named_by_the_address(as_role, lab):
    for number in (1, 2):
        people.invite_person(lab.act("manager"), name="Kit Same", email=f"kit{number}@example.org", roles=[Role.MEMBER])
    answer = granted_to_the_instructor(lab, as_role("technician"), witness="kit same")
    assert "Several are called that: Kit Same (kit1@example.org)" in text(answer)
    answer = granted_to_the_instructor(lab, as_role("technician"), witness="kit1@example.org")
    assert "has not come in yet" in text(answer)


def test_who_does_not_hold_it_cannot_grant_it_whatever_their_role(as_role, lab):
    """The safety adviser, the instructor and the member may grant nothing; the page says who can."""
    for role in ("safety adviser", "instructor", "member"):
        page = text(as_role(role).get(grant_page(lab, "member")))
        assert "You can grant nothing" in page
        assert "Sol Haddad" in page
        before = lab.count(CompetenceGrant)
        send(
            as_role(role),
            grant_page(lab, "member"),
            {"competence": POWDERS, "happened_on": "2026-03-02", "until": "2026-05-01", "witness": "Sol Haddad"},
        )
        assert lab.count(CompetenceGrant) == before


def test_one_who_holds_it_without_the_right_to_pass_it_on_cannot_grant_it(as_role, lab):
    lab.make_competent("instructor", Competence.POWDERS)
    assert "You can grant nothing" in text(as_role("instructor").get(grant_page(lab, "member")))


def test_nobody_grants_to_themself_who_holds_it(as_role, lab):
    answer = fill_in(as_role("technician"), grant_page(lab, "technician"), competence=POWDERS, witness="Łukasz Żak")
    assert answer.status_code == 422
    assert "Nobody grants to themself" in text(answer)


def test_the_manager_names_the_first_alone_and_it_says_so(as_role, lab, nobody_holds):
    nobody_holds(Competence.POWDERS)
    manager = as_role("manager")
    answer = fill_in(manager, grant_page(lab, "technician"), competence=POWDERS, because="")
    assert "Say why nobody saw it" in text(answer)
    answer = fill_in(manager, grant_page(lab, "technician"), competence=POWDERS, because="Trained in a trade lab")
    assert answer.status_code == 303
    assert "granted by Μαρία Ιωάννου alone, unwitnessed: Trained in a trade lab" in text(
        manager.get(person_page(lab, "technician"))
    )


def test_the_manager_may_name_themself_the_first_and_that_stands_there(as_role, lab, nobody_holds):
    nobody_holds(Competence.POWDERS)
    manager = as_role("manager")
    page = text(manager.get(grant_page(lab, "manager")))
    assert "It will say that you granted it to yourself alone." in page
    answer = fill_in(manager, grant_page(lab, "manager"), competence=POWDERS, because="Nobody else knows it")
    assert answer.status_code == 303
    assert "alone to themself, unwitnessed: Nobody else knows it" in text(manager.get(person_page(lab, "manager")))


def test_where_somebody_can_grant_it_the_manager_names_no_first(as_role, lab):
    page = source(as_role("manager").get(grant_page(lab, "member")))
    assert 'value="powders"' not in page


def test_in_a_lab_of_two_a_witness_may_be_left_out_with_a_reason(as_role, lab):
    for role in ("instructor", "member", "safety adviser"):
        people.close_account(lab.act("manager"), person_id=lab.ids[role])
    answer = fill_in(
        as_role("technician"), grant_page(lab, "manager"), competence=POWDERS, because="Nobody else is in the lab"
    )
    assert answer.status_code == 303
    assert newest(lab).witness_id is None


def test_revoked_it_stays_to_be_seen_with_the_reason_and_counts_no_more(as_role, lab):
    lab.make_competent("instructor", Competence.POWDERS)
    granted = newest(lab)
    adviser = as_role("safety adviser")
    address = f"/competences/grants/{granted.id}/revoke"
    assert address in links(source(adviser.get(person_page(lab, "instructor"))))
    assert fill_in(adviser, address, because="").status_code == 422
    answer = fill_in(adviser, address, because="Weighed out without gloves")
    assert answer.status_code == 303
    page = text(adviser.get(person_page(lab, "instructor")))
    assert "revoked on 2 Mar 2026" in page
    assert "Пётр Орлов: Weighed out without gloves" in page
    assert "Ines Carrow" not in text(adviser.get("/competences")).partition("Powders")[2].partition("Granted by")[0]
    answer = send(adviser, address, {"because": "Again"}, at="/account")
    assert "It was revoked already." in text(answer)


@pytest.mark.sqlite_only
def test_somebody_else_does_not_revoke_it(as_role, lab):
    lab.make_competent("instructor", Competence.POWDERS)
    for role in ("member", "instructor"):
        assert as_role(role).get(f"/competences/grants/{newest(lab).id}/revoke").status_code == 403


def test_the_person_page_of_the_manager_shows_them_with_ways_to_grant_and_revoke(as_role, lab):
    page = source(as_role("manager").get(f"/people/{lab.ids['technician']}"))
    assert "What was granted to Sol Haddad" in page
    assert person_page(lab, "technician") in links(page)
    assert grant_page(lab, "technician") in links(page)


@pytest.mark.sqlite_only
def test_a_form_sent_twice_grants_once(as_role, lab):
    technician = as_role("technician")
    opened = source(technician.get(grant_page(lab, "instructor")))
    before = lab.count(CompetenceGrant)
    for _ in range(2):
        told = {"competence": POWDERS, "witness": "Łukasz Żak", "happened_on": "2026-03-02", "until": "2026-05-01"}
        send(technician, grant_page(lab, "instructor"), told, opened=opened)
    assert lab.count(CompetenceGrant) == before + 1


def test_each_act_is_on_the_record(as_role, lab):
    lab.make_competent("instructor", Competence.POWDERS)
    told = [entry.payload for entry in lab.session.query(RecordEntry).order_by(RecordEntry.number)][-2:]
    assert '"act":"competence.granted"' in told[0]
    assert '"names_first":false' in told[0]
    assert '"act":"competence.witnessed"' in told[1]


def test_a_grant_entered_late_keeps_both_days(as_role, lab):
    lab.tick(days=5)
    answer = granted_to_the_instructor(lab, as_role("technician"), happened_on="2026-03-02")
    assert answer.status_code == 303
    made = newest(lab)
    assert (made.granted_at.date() - made.happened_on) == timedelta(days=5)
    assert "entered 7 Mar 2026" in text(as_role("technician").get(person_page(lab, "instructor")))


def duties_of(client):
    return text(client.get("/"))


@pytest.mark.sqlite_only
def test_today_asks_the_witness_and_tells_of_what_lapses(as_role, lab):
    granted_to_the_instructor(lab, as_role("technician"), until="2026-03-10")
    assert "You are named as witness of 1 grant" in duties_of(as_role("member"))
    press(as_role("member"), f"/competences/grants/{newest(lab).id}/witness", at="/competences")
    assert "You are named as witness" not in duties_of(as_role("member"))
    assert "Lapses after 10 Mar 2026: powders" in duties_of(as_role("instructor"))
    assert "Lapses after 10 Mar 2026: powders" in duties_of(as_role("technician"))
    assert "Lapses after 10 Mar 2026" not in duties_of(as_role("member"))
    for overseer in ("manager", "safety adviser"):
        assert duties_of(as_role(overseer)).count("Lapses after 10 Mar 2026: powders") == 1
    granted_to_the_instructor(lab, as_role("technician"), witness="Μαρία Ιωάννου", until="2026-06-10")
    assert "You are named as witness of 1 grant" in duties_of(as_role("manager"))
    assert "You are named as witness" not in duties_of(as_role("safety adviser"))


def test_who_holds_what_lapses_is_written_to_once(lab):
    made = lab.make_competent("instructor", Competence.POWDERS)[0]
    lab.tick(days=5 * 365 - 13)
    assert queue_reminders(lab.session, letters_due, now=lab.now) == lab.count(CompetenceGrant)  # all lapse on that day
    assert queue_reminders(lab.session, letters_due, now=lab.now) == 0
    written = lab.session.query(OutgoingMail).filter_by(person_id=lab.ids["instructor"]).all()
    assert [mail.subject for mail in written] == [f"Lapses after {made.until:%-d %b %Y}: powders"]


@pytest.mark.sqlite_only
def test_in_a_lab_upgraded_the_manager_is_told_what_nobody_can_grant(as_role, lab):
    lab.session.query(CompetenceGrant).delete()
    lab.session.commit()
    page = duties_of(as_role("manager"))
    for competence in ("concentrated acid or alkali", "releasing a stop", "signing waste away"):
        assert f"Nobody here can grant: {competence}." in page
    assert "Nobody here can grant" not in duties_of(as_role("technician"))
