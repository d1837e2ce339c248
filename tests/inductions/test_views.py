import pytest
from sqlalchemy import select

from labsys.chemistry.sizes import Material
from labsys.inductions import queries, service, signing
from labsys.inductions.models import Hazard, Induction, SignOff
from labsys.people import service as people
from labsys.people.acts import Act
from labsys.people.models import Role
from tests.support.pages import hidden_field, links, queries_of, send, source

pytestmark = pytest.mark.sqlite_only

NEW = {
    "name": "Enlarger",
    "text": "Lamp off before the lens is touched.\nFingers off the negative.",
    "valid_days": "730",
    "how_to_get": "Ask an instructor.",
    "materials": ["rc", "fibre"],
    "hazards": ["skin sensitiser"],
}


@pytest.fixture
def skin(lab):
    """An induction for film and sensitisers that the instructor holds."""
    induction = lab.add_induction(
        "Skin care", hazards=frozenset({Hazard.SENSITISER}), materials=frozenset({Material.FILM})
    )
    lab.appoint(induction)
    return induction


def waiting(lab):
    return queries.unconfirmed(lab.session, now=lab.now, limit=100)


def more_people(lab, number, *, first=0):
    return [
        people.invite_person(
            lab.act("manager"), name=f"Ученик {index:03}", email=f"s{index}@example.org", roles=[Role.MEMBER]
        ).person.id
        for index in range(first, first + number)
    ]

    # One's own


def test_a_lab_without_inductions_tells_who_keeps_them_to_add_the_first(as_role):
    assert "/inductions/add" in links(source(as_role("manager").get("/inductions")))
    page = source(as_role("member").get("/inductions"))
    assert "No inductions yet" in page
    assert "/inductions/add" not in links(page)


def test_what_is_missing_says_for_what_and_how_to_get_it(as_role, skin):
    page = source(as_role("member").get("/inductions"))
    assert "What you still need" in page
    assert "Needed for film and because a chemical in use is a sensitiser (it can cause an allergy)." in page
    assert "never signed off" in page
    assert "Come to the induction on Mondays at six." in page
    assert "Ines Carrow can teach it." in page


def test_confirming_is_the_obvious_act_and_one_touch(as_role, lab, skin):
    signed = lab.sign_off(skin, confirmed=False)
    client = as_role("member")
    page = source(client.get("/inductions"))
    assert page.count('class="primary"') + page.count("button primary") == 1
    assert "Tongs, never fingers." in page
    answer = send(client, f"/inductions/sign-offs/{signed.id}/confirm", at="/inductions")
    assert answer.status_code == 303
    page = source(client.get("/inductions"))
    assert "Confirmed. Skin care counts for you from now on." in page
    assert "current until 2 March 2027" in page
    assert waiting(lab) == []


def test_two_that_wait_are_confirmed_one_after_the_other(as_role, lab, skin):
    other = lab.add_induction("Enlarger")
    lab.appoint(other)
    for one in (skin, other):
        lab.sign_off(one, confirmed=False)
    client = as_role("member")
    page = source(client.get("/inductions"))
    keys = [part.split('value="')[1].split('"')[0] for part in page.split('name="submission_key"')[1:]]
    assert len(set(keys)) == 2
    for signed, key in zip(sorted(waiting(lab), key=lambda one: one.id), keys, strict=True):
        sent = {"csrf_token": hidden_field(page, "csrf_token"), "submission_key": key}
        client.post(f"/inductions/sign-offs/{signed.id}/confirm", data=sent)
    assert waiting(lab) == []


def test_a_double_tap_on_confirm_confirms_once_and_says_so(as_role, lab, skin):
    signed = lab.sign_off(skin, confirmed=False)
    client = as_role("member")
    page = source(client.get("/inductions"))
    sent = {name: hidden_field(page, name) for name in ("csrf_token", "submission_key")}
    path = f"/inductions/sign-offs/{signed.id}/confirm"
    assert [client.post(path, data=sent).status_code for _ in range(2)] == [303, 303]
    assert "it was saved once, not twice" in source(client.get("/inductions"))


def test_somebody_elses_sign_off_cannot_be_confirmed(as_role, lab, skin):
    signed = lab.sign_off(skin, confirmed=False)
    client = as_role("technician")
    sent = {"csrf_token": hidden_field(source(client.get("/inductions")), "csrf_token")}
    assert client.post(f"/inductions/sign-offs/{signed.id}/confirm", data=sent).status_code == 404
    assert waiting(lab) == [signed]


def test_what_was_withdrawn_meanwhile_cannot_be_confirmed_and_the_page_says_why(as_role, lab, skin):
    signed = lab.sign_off(skin, confirmed=False)
    client = as_role("member")
    sent = {"csrf_token": hidden_field(source(client.get("/inductions")), "csrf_token")}
    signing.withdraw(Act(lab.session, by=lab.person("manager"), now=lab.now), sign_off_id=signed.id, reason="No.")
    client.post(f"/inductions/sign-offs/{signed.id}/confirm", data=sent)
    assert "It can no longer be confirmed: withdrawn on 2 March." in source(client.get("/inductions"))

    # Keeping inductions


def test_an_induction_is_added_and_its_page_asks_for_somebody_to_teach_it(as_role, lab, add_station):
    station = add_station("Enlarger A")
    client = as_role("safety adviser")
    answer = send(client, "/inductions/add", **NEW, stations=[station.id])
    made = lab.session.execute(select(Induction)).scalar_one()
    assert (answer.status_code, answer.location) == (303, f"/inductions/{made.id}")
    page = source(client.get(answer.location))
    for words in (
        "Nobody here can teach it",
        "Fingers off the negative.",
        "730 days",
        "Needed for Enlarger A.",
        "Needed for RC paper.",
        "Needed because a chemical in use is a sensitiser",
    ):
        assert words in page


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"name": ""}, "Give it a name"),
        ({"name": "x" * 81}, "Use at most 80 characters"),
        ({"name": "Skin care"}, "called Skin care already"),
        ({"text": " \n-\n"}, "Write what is taught"),
        ({"how_to_get": ""}, "how somebody who lacks it gets it"),
        ({"valid_days": "0"}, "Enter 1 to 3650 days"),
        ({"valid_days": "a year"}, "Write a whole number"),
        ({"stations": ["99"]}, "Choose what is on the list"),
        ({"hazards": ["gravity"]}, "Choose what is on the list"),
    ],
)
def test_an_induction_that_cannot_be_so_is_refused_and_what_was_typed_stays(as_role, lab, skin, wrong, message):
    answer = send(as_role("manager"), "/inductions/add", **{**NEW, **wrong})
    assert answer.status_code == 422
    assert message in source(answer)
    assert NEW["how_to_get"] in source(answer) or "how_to_get" in wrong
    assert lab.count(Induction) == 1


def test_name_and_needs_are_changed(as_role, lab, skin, add_station):
    sink = add_station("Film sink")
    client = as_role("manager")
    send(client, f"/inductions/{skin.id}/change", name="Skin and eyes", how_to_get="Ask Sol.")
    assert "checked" in source(client.get(f"/inductions/{skin.id}/requirements"))
    send(client, f"/inductions/{skin.id}/requirements", stations=[sink.id])
    lab.session.expire_all()
    found = queries.induction_or_raise(lab.session, skin.id)
    assert (found.name, found.how_to_get) == ("Skin and eyes", "Ask Sol.")
    assert service.needs_of(found) == service.NeededFor(frozenset({sink.id}))


def test_a_version_that_must_be_repeated_closes_the_gate_at_once(as_role, lab, skin):
    lab.sign_off(skin)
    path = f"/inductions/{skin.id}/versions/add"
    client = as_role("manager")
    assert "Tongs, never fingers." in source(client.get(path))
    unchanged = send(
        client, path, text=skin.versions[0].text, valid_days="365", covers=["skin sensitiser"], earlier="stands"
    )
    assert (unchanged.status_code, "Nothing is different" in source(unchanged)) == (422, True)
    undecided = send(client, path, text="All new.", valid_days="", covers=["skin sensitiser"])
    assert (undecided.status_code, "Choose whether earlier sign-offs stand." in source(undecided)) == (422, True)
    send(client, path, text="All new.", valid_days="", covers=["skin sensitiser"], earlier="ends")
    assert "must be repeated: version 2 of 2 March" in source(as_role("member").get("/inductions"))


def test_the_first_holder_is_appointed_and_the_second_is_taught(as_role, lab):
    skin = lab.add_induction("Skin care")
    client = as_role("manager")
    path = f"/inductions/{skin.id}/appoint"
    page = source(client.get(path))
    assert "Ines Carrow" in page
    assert "Łukasz Żak" not in page  # a member signs nobody off
    send(client, path, person=lab.ids["instructor"])
    (made,) = waiting(lab)
    signing.confirm(Act(lab.session, by=lab.person("instructor"), now=lab.now), sign_off_id=made.id)
    answer = send(client, path, person=lab.ids["technician"])
    assert (answer.status_code, "Ines Carrow holds it and can teach it" in source(answer)) == (422, True)


@pytest.mark.parametrize("page", ["add", "1/change", "1/requirements", "1/versions/add", "1/appoint"])
def test_who_does_not_keep_inductions_does_not_see_the_forms(as_role, skin, page):
    assert as_role("instructor").get(f"/inductions/{page}").status_code == 403

    # Signing off a class


def test_a_class_is_signed_off_and_stands_on_the_sheet_to_sign(as_role, lab, skin):
    client = as_role("instructor")
    answer = send(
        client, "/inductions/sign-off", inductions=[skin.id], people=[lab.ids["member"], lab.ids["technician"]]
    )
    assert (answer.status_code, answer.location) == (303, "/inductions/waiting?by=me")
    assert "Łukasz Żak: Skin care" in source(client.get(answer.location))
    sheet = source(client.get("/inductions/sheet"))
    for words in ("Sol Haddad", "Łukasz Żak", "Tongs, never fingers.", "version 1 of 2 Mar 2026", "_____"):
        assert words in sheet


def test_the_page_says_who_is_current_and_what_one_may_not_sign_off_and_why(as_role, lab, skin):
    lab.sign_off(skin)
    lab.add_induction("Enlarger")
    page = source(as_role("instructor").get("/inductions/sign-off"))
    assert "Skin care: current until 2 March 2027" in page
    assert "Enlarger</a>: you do not hold it yourself (never signed off)." in page
    assert "Ines Carrow</label>" not in page  # nobody signs themselves off


def test_who_holds_nothing_is_told_so(as_role, skin):
    page = source(as_role("technician").get("/inductions/sign-off"))
    assert "You hold nothing that you could sign off" in page


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"people": []}, "Tick at least one person."),
        ({"inductions": []}, "Tick what was taught."),
        ({"taught_at": "2026-03-09T10:00"}, "That is in the future."),
        ({"taught_at": "2026-02-01T10:00"}, "You did not hold Skin care yourself at that time."),
        ({"taught_at": "never"}, "Write the date and time as on the clock"),
        ({"inductions": [99]}, "Choose what is on the list"),
        ({"people": ["me"]}, "Choose what is on the list"),
    ],
)
def test_a_class_that_cannot_be_signed_off_is_refused_and_ticks_are_kept(as_role, lab, skin, changes, message):
    before = lab.count(SignOff)
    fields = {"inductions": [skin.id], "people": [lab.ids["member"]], **changes}
    answer = send(as_role("instructor"), "/inductions/sign-off", **fields)
    assert answer.status_code == 422
    assert message in source(answer)
    if "people" not in changes:
        assert f'value="{lab.ids["member"]}" checked' in source(answer)
    assert lab.count(SignOff) == before


def test_the_signer_ticked_by_hand_is_refused_in_words(as_role, lab, skin):
    answer = send(as_role("instructor"), "/inductions/sign-off", inductions=[skin.id], people=[lab.ids["instructor"]])
    assert (answer.status_code, "Nobody signs themselves off" in source(answer)) == (422, True)


def test_somebody_who_left_while_the_page_was_open_is_named(as_role, lab, skin):
    people.close_account(lab.act("manager"), person_id=lab.ids["member"])
    answer = send(as_role("instructor"), "/inductions/sign-off", inductions=[skin.id], people=[lab.ids["member"]])
    assert (answer.status_code, "Łukasz Żak has left" in source(answer)) == (422, True)


def test_a_class_sent_twice_is_signed_off_once(as_role, lab, skin):
    client = as_role("instructor")
    key = "0f3b3a53-9a57-4c9f-8f62-6f6b7a1f0002"
    for _ in range(2):
        answer = send(client, "/inductions/sign-off", key=key, inductions=[skin.id], people=[lab.ids["member"]])
        assert answer.status_code == 303
    assert len(waiting(lab)) == 1


def test_somebody_is_found_by_part_of_the_name_while_ticks_are_kept(as_role, lab, skin):
    more_people(lab, 45)
    client = as_role("instructor")
    page = source(client.get("/inductions/sign-off"))
    assert "Show more people" in page
    ticked = {"inductions": [skin.id], "people": [lab.ids["member"]], "find": "044"}
    answer = send(client, "/inductions/sign-off", find_them="yes", **ticked)
    assert answer.status_code == 200
    assert "Ученик 044</label>" not in source(answer)  # a second line stands behind the name
    assert "Ученик 044" in source(answer)
    assert "Ученик 001" not in source(answer)
    assert f'value="{lab.ids["member"]}" checked' in source(answer)
    assert waiting(lab) == []


def test_a_class_may_come_ticked_by_the_address(as_role, lab, skin):
    page = source(as_role("instructor").get(f"/inductions/sign-off?person={lab.ids['member']}&induction={skin.id}"))
    assert f'value="{lab.ids["member"]}" checked' in page
    assert f'value="{skin.id}" checked' in page


def test_a_signed_sheet_confirms_those_who_are_ticked(as_role, lab, skin):
    for role in ("member", "technician"):
        lab.sign_off(skin, role, confirmed=False)
    newest, oldest = waiting(lab)
    client = as_role("technician")
    answer = send(client, "/inductions/waiting", sign_offs=[oldest.id], sheet="")
    assert (answer.status_code, "Say where the signed sheet is kept" in source(answer)) == (422, True)
    send(client, "/inductions/waiting", sign_offs=[oldest.id], sheet="Folder 3, page 12")
    lab.session.expire_all()
    assert waiting(lab) == [newest]
    assert "on a signed sheet: Folder 3, page 12" in source(
        as_role("member").get(f"/inductions/people/{lab.ids['member']}")
    )

    # Who holds what is the matrix: tests/matrix


@pytest.mark.parametrize(
    "path", ["/inductions/people", "/inductions/sign-off", "/inductions/waiting", "/inductions/sheet"]
)
def test_a_member_sees_nobody_elses_standing(as_role, lab, skin, path):
    assert as_role("member").get(path).status_code == 403
    assert as_role("member").get(f"/inductions/people/{lab.ids['technician']}").status_code == 403


def test_a_sign_off_is_withdrawn_with_a_reason_that_stays_to_be_seen(as_role, lab, skin):
    signed = lab.sign_off(skin)
    client = as_role("instructor")
    path = f"/inductions/sign-offs/{signed.id}/withdraw"
    history = f"/inductions/people/{lab.ids['member']}"
    assert path in links(source(client.get(history)))
    answer = send(client, path, reason="")
    assert (answer.status_code, "Say why" in source(answer)) == (422, True)
    assert send(client, path, reason="Wrong <b>person</b>.").location == history
    page = source(client.get(history))
    assert "withdrawn on 2 March" in page
    assert "Wrong &lt;b&gt;person&lt;/b&gt;." in page
    assert path not in links(page)
    again = send(client, path, reason="Again.")
    assert (again.status_code, "withdrawn already" in source(again)) == (422, True)


@pytest.mark.parametrize("role", ["member", "technician"])
def test_who_neither_signed_nor_keeps_inductions_withdraws_nothing(as_role, lab, skin, role):
    signed = lab.sign_off(skin)
    assert as_role(role).get(f"/inductions/sign-offs/{signed.id}/withdraw").status_code == 403


def test_what_is_not_there_is_not_found(as_role):
    client = as_role("manager")
    for path in ("/inductions/99", "/inductions/people/999", "/inductions/sign-offs/999/withdraw"):
        assert client.get(path).status_code == 404


def test_no_page_costs_more_queries_as_rows_double(as_role, lab, skin, add_station):
    skin_id = skin.id

    def more(number):
        first = lab.count(Induction) * 100
        ids = more_people(lab, number, first=first)
        for index in range(number):
            station = add_station(f"Place {first}-{index}")
            made = lab.add_induction(f"Induction {first}-{index}", station_ids=frozenset({station.id}))
            lab.appoint(made)
            lab.sign_off(made)
            lab.sign_off(made, "technician", confirmed=False)
        signing.sign_off_many(lab.act("instructor"), person_ids=ids, induction_ids=[skin_id], taught_at=lab.now)

    pages = [
        ("technician", "/inductions"),
        ("instructor", "/inductions/sign-off"),
        ("instructor", "/inductions/waiting"),
        ("instructor", "/inductions/sheet"),
        ("manager", "/inductions/people"),
        ("manager", f"/inductions/people/{lab.ids['member']}"),
        ("manager", f"/inductions/{skin_id}"),
        ("manager", "/inductions/add"),
    ]
    more(2)
    before = [queries_of(as_role(role), path) for role, path in pages]
    more(4)
    assert [queries_of(as_role(role), path) for role, path in pages] == before
    assert max(before) <= 20
