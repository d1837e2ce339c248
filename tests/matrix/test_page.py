"""Who holds what as of any day, as whoever signs off meets it: the page, the spreadsheet, the papers."""

import csv
import io
from datetime import timedelta

import pytest
from flask.testing import FlaskClient

from labsys.competences import service as competences
from labsys.competences.models import Competence
from labsys.courses import service as courses
from labsys.courses.dates import Decided
from labsys.courses.roster import Row
from labsys.courses.rules import Term
from labsys.inductions import service as inductions
from labsys.inductions import signing
from labsys.people import service as people
from labsys.people.models import Role
from labsys.timetable.spans import Span
from tests.support.pages import HTML, page_at, pdf_text, press, queries_of, source, statements, text, tree, words

pytestmark = pytest.mark.sqlite_only


@pytest.fixture
def skin(lab, monkeypatch):
    """An induction, good for 100 days, that the instructor holds since 2 March 2026."""
    monkeypatch.setattr("labsys.clock.now", lambda: lab.now)
    induction = lab.add_induction("Skin care", valid_days=100)
    lab.appoint(induction)
    return induction


def cells(page, name):
    """What stands in a person's row, by column."""
    for row in tree(page).iter(HTML + "tr"):
        heads = row.findall(HTML + "th")
        if heads and words(heads[0]).startswith(name):
            return {cell.get("data-of"): words(cell) for cell in row.findall(HTML + "td")}
    return None


def look(page, name, column="Skin care"):
    """How a cell is drawn."""
    for row in tree(page).iter(HTML + "tr"):
        heads = row.findall(HTML + "th")
        if heads and words(heads[0]).startswith(name):
            (cell,) = [cell for cell in row.findall(HTML + "td") if cell.get("data-of") == column]
            return next((part.get("class") for part in cell if "square" in (part.get("class") or "")), "blank")
    return None


def member_of(lab):
    return lab.person("member").name


def as_of(client: FlaskClient, day="", **asked):
    written = "&".join(f"{name}={value}" for name, value in {**({"day": day} if day else {}), **asked}.items())
    return page_at(client, f"/inductions/people?{written}")


def test_each_state_is_said_in_a_word_and_drawn_by_texture(lab, skin, client_as):
    name, instructor = member_of(lab), client_as("instructor")
    page = as_of(instructor)
    assert (cells(page, name)["Skin care"], look(page, name)) == ("never", "blank")
    signed = lab.sign_off(skin, confirmed=False)
    page = as_of(instructor)
    assert (cells(page, name)["Skin care"], look(page, name)) == ("to confirm", "square wait")
    signing.confirm(lab.act("member"), sign_off_id=signed.id)
    page = as_of(instructor)
    assert (cells(page, name)["Skin care"], look(page, name)) == ("current until 10 Jun", "square held")
    page = as_of(instructor, "2026-05-29")
    assert (cells(page, name)["Skin care"], look(page, name)) == ("until 10 Jun", "square near")
    page = as_of(instructor, "2026-06-10")
    assert (cells(page, name)["Skin care"], look(page, name)) == ("lapsed 10 Jun", "square done")
    signing.withdraw(lab.act("instructor"), sign_off_id=signed.id, reason="it was somebody else")
    page = as_of(instructor)
    assert (cells(page, name)["Skin care"], look(page, name)) == ("withdrawn 2 Mar", "square done")
    assert cells(as_of(instructor, "2026-03-01"), name) is None, "nobody had come yet"


def test_a_version_to_be_repeated_stops_who_signed_an_earlier_one(lab, skin, client_as):
    lab.sign_off(skin)
    lab.tick(days=3)
    inductions.issue_version(
        lab.act("safety adviser"), induction_id=skin.id, text="New gloves.", valid_days=100, must_repeat=True
    )
    page = as_of(client_as("manager"))
    assert cells(page, member_of(lab))["Skin care"] == "repeat version 2, of 5 Mar"
    assert look(page, member_of(lab)) == "square done"
    assert cells(as_of(client_as("manager"), "2026-03-04"), member_of(lab))["Skin care"] == "current until 10 Jun"


def test_what_was_true_and_what_was_known_differ_where_it_was_entered_later(lab, skin, client_as):
    """Taught and shown on 2 March, entered and confirmed on 9 March."""
    instructor, name = client_as("instructor"), member_of(lab)
    happened_at = lab.now
    lab.tick(days=7)
    signed = signing.sign_off_many(
        lab.act("instructor"), person_ids=[lab.ids["member"]], induction_ids=[skin.id], taught_at=happened_at
    )
    signing.confirm(lab.act("member"), sign_off_id=signed.id)
    granted = competences.grant(
        lab.act("technician"),
        person_id=lab.ids["member"],
        competence=Competence.POWDERS,
        may_grant=False,
        happened_on=happened_at.date(),
        until=happened_at.date() + timedelta(days=300),
        witness_id=lab.ids["instructor"],
    )
    competences.witness(lab.act("instructor"), grant_id=granted.id)
    told = {
        (day, by): (found := cells(as_of(instructor, day, by=by), name)) and (found["Skin care"], found["Powders"])
        for day in ("2026-03-02", "2026-03-08", "2026-03-09")
        for by in ("happened", "entered")
    }
    held = ("current until 10 Jun", "current until 27 Dec")
    assert told == {
        ("2026-03-02", "happened"): held,
        ("2026-03-02", "entered"): ("never", "never"),
        ("2026-03-08", "happened"): held,
        ("2026-03-08", "entered"): ("never", "never"),
        ("2026-03-09", "happened"): held,
        ("2026-03-09", "entered"): held,
    }
    page = text(instructor.get("/inductions/people?day=2026-03-05&by=entered"))
    assert "What the lab knew on that day: what was entered or confirmed later is left out." in page


def test_who_left_is_shown_where_asked_for_and_counts_for_nobody_who_holds_it(lab, skin, client_as):
    lab.sign_off(skin)
    lab.tick(days=5)
    people.close_account(lab.act("manager"), person_id=lab.ids["member"])
    name, adviser = member_of(lab), client_as("safety adviser")
    assert cells(as_of(adviser), name) is None
    page = as_of(adviser, who="all")
    assert cells(page, name)["Skin care"] == "current until 10 Jun"
    assert f"{name} left on 7 Mar 2026" in text(adviser.get("/inductions/people?who=all"))
    assert cells(as_of(adviser, "2026-03-06"), name) is not None, "then they were here"
    head = next(head for head in tree(page).iter(HTML + "th") if words(head).startswith("Skin care"))
    assert words(head) == "Skin care1 hold it"


def test_of_a_course_it_shows_its_roster_with_those_who_have_no_account_yet(lab, skin, client_as):
    lab.add_places()
    start = lab.now.replace(hour=18, minute=0) + timedelta(days=1)
    course = courses.set_up(
        lab.act("instructor"),
        entry=courses.CourseEntry(
            name="First prints",
            term_name="spring",
            term=Term(start.date(), 1080, 1200, "FREQ=WEEKLY;COUNT=1"),
            station_id=lab.ids["Enlarger"],
            units=2,
            instructor_ids=(lab.ids["instructor"],),
        ),
        dates=[Decided(start.date(), Span(start, start + timedelta(hours=2)))],
        rows=[Row(1, "Mina", "member@example.org"), Row(2, "Nobody Yet", "nobody.yet@example.org")],
    )
    lab.sign_off(skin)
    page = as_of(client_as("instructor"), who=course.id)
    assert cells(page, member_of(lab))["Skin care"] == "current until 10 Jun"
    assert cells(page, "Nobody Yet")["Skin care"] == "never"
    assert "Nobody Yet no account yet" in text(client_as("instructor").get(f"/inductions/people?who={course.id}"))
    assert cells(page, "Ines Carrow") is None


def test_a_day_before_the_lab_began_says_so(lab, skin, client_as):
    page = text(client_as("manager").get("/inductions/people?day=2020-01-01"))
    assert "before anything was entered here" in page
    assert "Nobody was here then" in page


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ("day=yesterday", "Write the day as year-month-day"),
        ("day=0026-03-01", "Check the year."),
        ("day=", "Choose a day."),
        ("by=guessed", "Choose what is on the list"),
        ("who=999", "Choose what is on the list"),
        ("who=²", "Choose what is on the list"),
        ("find=" + "x" * 200, "Use at most 120 characters"),
    ],
)
@pytest.mark.parametrize("path", ["/inductions/people", "/inductions/people.csv"])
def test_what_cannot_be_asked_is_said(lab, skin, client_as, path, asked, said):
    answer = client_as("manager").get(f"{path}?{asked}")
    assert (answer.status_code, said in text(answer)) == (422, True)


def test_a_member_sees_nobody_elses(lab, skin, client_as):
    member = client_as("member")
    for path in ("/inductions/people", "/inductions/people.csv", f"/inductions/people/{lab.ids['technician']}"):
        assert member.get(path).status_code == 403


def test_the_spreadsheet_says_all_with_its_day_and_runs_nothing(lab, skin, client_as):
    lab.sign_off(skin)
    people.change_name(lab.act("manager"), person_id=lab.ids["member"], name="=cmd|' /C calc'!A0")
    answer = client_as("manager").get("/inductions/people.csv?day=2026-03-05&by=entered")
    heads, *rows = list(csv.reader(io.StringIO(source(answer))))
    assert heads[:4] == ["Person", "Group", "Remark", "Skin care"]
    assert heads[-2:] == ["As of", "By"]
    by_name = {row[0]: dict(zip(heads, row, strict=True)) for row in rows}
    row = by_name["'=cmd|' /C calc'!A0"]
    assert (row["Group"], row["Skin care"], row["Powders"]) == ("Members", "current until 2026-06-10", "never")
    assert (row["As of"], row["By"]) == ("2026-03-05", "what was known that day")


def test_the_matrix_is_issued_as_it_is_shown(lab, skin, client_as):
    lab.sign_off(skin)
    adviser = client_as("safety adviser")
    issued = press(adviser, "/documents/who-holds-what", at="/inductions/people?day=2026-06-05&who=all")
    assert issued.status_code == 303
    paper = pdf_text(adviser.get(issued.location).data)
    assert "As of 5 Jun 2026, by what was true that day." in paper
    assert f"{member_of(lab)} until 10 Jun" in paper
    assert client_as("member").get(issued.location).status_code == 403


def test_ones_own_record_is_issued_and_nobody_elses(lab, skin, client_as):
    signed = lab.sign_off(skin)
    lab.tick(days=2)
    signing.withdraw(lab.act("instructor"), sign_off_id=signed.id, reason="Gloves were never worn.")
    competences.revoke(lab.act("safety adviser"), grant_id=_a_grant(lab).id, because="Not weighed.")
    member = client_as("member")
    own = f"/inductions/people/{lab.ids['member']}"
    issued = press(member, f"/documents/training-record/{lab.ids['member']}", at=own)
    paper = pdf_text(member.get(issued.location).data)
    for told in (
        f"Training record: {member_of(lab)}",
        "Skin care, version 1",
        "withdrawn on 4 March. Gloves were never worn.",
        "Powders",
        "Not weighed.",
        "Ines Carrow",
    ):
        assert told in paper, told
    token = {"csrf_token": _token(member)}
    assert member.post(f"/documents/training-record/{lab.ids['technician']}", data=token).status_code == 403


def _a_grant(lab):
    return competences.grant(
        lab.act("technician"),
        person_id=lab.ids["member"],
        competence=Competence.POWDERS,
        may_grant=False,
        happened_on=lab.now.date(),
        until=lab.now.date() + timedelta(days=30),
        witness_id=lab.ids["instructor"],
    )


def _token(client):
    fields = tree(page_at(client, "/account")).iter(HTML + "input")
    return next(field.get("value") for field in fields if field.get("name") == "csrf_token")


@pytest.mark.slow
def test_three_hundred_people_take_no_more_queries_than_ten(lab, skin, client_as):
    others = [lab.add_induction(f"Induction {number}", valid_days=30 + number) for number in range(5)]
    for induction in others:
        lab.appoint(induction)

    def more(number, first):
        ids = [
            people.invite_person(
                lab.act("manager"), name=f"Ученик {index:03}", email=f"s{index}@example.org", roles=[Role.MEMBER]
            ).person.id
            for index in range(first, first + number)
        ]
        wanted = [skin.id, *(induction.id for induction in others)]
        signing.sign_off_many(lab.act("instructor"), person_ids=ids, induction_ids=wanted, taught_at=lab.now)

    manager = client_as("manager")
    more(4, 0)
    few = {path: queries_of(manager, path) for path in ("/inductions/people", "/inductions/people.csv")}
    more(296, 4)
    for path, before in few.items():
        assert queries_of(manager, path) == before <= 20, path
    first = page_at(manager, "/inductions/people?find=Ученик")
    assert [name in first for name in ("Ученик 000", "Ученик 099", "Ученик 100")] == [True, True, False]
    (after,) = [link.get("href") for link in tree(first).iter(HTML + "a") if "More people" in words(link)]
    second = page_at(manager, after)
    assert [name in second for name in ("Ученик 099", "Ученик 100", "Ученик 199")] == [False, True, True]
    with statements() as sent:
        issued = press(manager, "/documents/who-holds-what", at="/inductions/people")
    assert issued.status_code == 303
    assert len(sent) <= 60
