"""Finding things by the number on their label, by name and by lot; each kind only for whoever may see its page."""

import unicodedata
from collections.abc import Callable
from uuid import uuid4
from xml.etree import ElementTree

import pytest
from flask.testing import FlaskClient

from labsys.chemistry.care import SolutionKind
from labsys.desk.finding import MOST_OF_A_KIND
from labsys.devices import service as devices
from labsys.people import service as people
from labsys.people.models import Role
from labsys.store import service as store
from labsys.store.rules import Noted
from tests.support import guests
from tests.support.assessing import approved, begin
from tests.support.everything import furnish
from tests.support.lab import SmallLab
from tests.support.pages import HTML, links, queries_for, source, tree, words
from tests.support.safety import put_on_shelf

ClientAs = Callable[..., FlaskClient]


def page_of(client: FlaskClient, typed: str) -> str:
    answer = client.get("/find", query_string={"q": typed})
    assert answer.status_code == 200, answer.status
    return source(answer)


def rows_in(page: str) -> dict[str, list[str]]:
    """What is shown, by kind: each row in words."""
    return {
        words(table.find(f"{HTML}caption")): [_row(row) for row in table.iterfind(f"{HTML}tbody/{HTML}tr")]
        for table in tree(page).iter(f"{HTML}table")
    }


def _row(row: ElementTree.Element) -> str:
    return " | ".join(said for cell in row if (said := words(cell)))


def found(client: FlaskClient, typed: str) -> dict[str, list[str]]:
    return rows_in(page_of(client, typed))


@pytest.fixture
def member(client_as: ClientAs) -> FlaskClient:
    return client_as("member")


@pytest.fixture
def technician(client_as: ClientAs) -> FlaskClient:
    return client_as("technician")


@pytest.fixture
def manager(client_as: ClientAs) -> FlaskClient:
    return client_as("manager")


def invite(lab: SmallLab, *names: str) -> None:
    for name in names:
        email = f"{uuid4().hex}@example.org"
        people.invite_person(lab.act("manager"), name=name, email=email, roles=[Role.MEMBER])


# The number on a label


def test_a_part_of_a_code_finds_what_has_it_whatever_way_it_is_written(lab: SmallLab, member: FlaskClient):
    bath = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=500)
    number = bath.code.split("-")[1]
    rows = {"Baths": [f"Film fixer {bath.code} | Film line | Label of {bath.code}"]}
    for typed in (number, number.lower(), f"AS {number}", f"as-{number}", f"{number[0]}{int(number[1:])}"):
        assert found(member, typed) == rows, typed


def test_a_number_alone_finds_what_has_it_of_every_kind(lab: SmallLab, member: FlaskClient):
    lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=500)
    lab.open_container()
    guests.decide(lab, guests.declare(lab), guests.YES)
    kinds = found(member, "0001")
    assert [*kinds] == ["Baths", "Lines of baths", "Bottles", "Waste containers", "Equipment", "Brought-in chemicals"]
    assert found(member, "1").keys() >= kinds.keys()
    assert "AS-B0001" in kinds["Bottles"][0]
    assert found(member, "0000") == {}


@pytest.mark.sqlite_only
def test_a_wrong_check_character_is_refused_though_the_number_is_there(lab: SmallLab, member: FlaskClient):
    bath = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=500)
    wrong = bath.code[:-1] + ("0" if bath.code[-1] != "0" else "1")
    answer = member.get("/find", query_string={"q": wrong})
    assert answer.status_code == 422
    assert "the check character does not fit" in source(answer)


@pytest.mark.sqlite_only
def test_a_lot_that_looks_like_a_code_is_found(lab: SmallLab, member: FlaskClient):
    bottle = lab.add_bottle(SolutionKind.STOP)
    store.correct_bottle(
        lab.act("technician"), bottle_id=bottle.id, noted=Noted(lot="LOTA12345", received_at=bottle.received_at)
    )
    assert list(found(member, "LOTA12345")) == ["Bottles", "Lots"]


@pytest.mark.sqlite_only
def test_a_card_is_found_by_its_whole_code_alone(lab: SmallLab, manager: FlaskClient):
    card = devices.issue_card(lab.act("manager"), person_id=lab.ids["member"])
    assert manager.get("/find", query_string={"q": card.code}).location == f"/cards/{card.id}"
    assert found(manager, card.code.split("-")[1]) == {}


# Names and lots


def test_each_kind_is_found_by_a_part_of_its_name(lab: SmallLab, technician: FlaskClient):
    lab.add_places()
    put_on_shelf(lab, lab.add_bottle(SolutionKind.STOP), name="Cupboard by the door")
    approved(lab, lab.add_process())
    lab.add_induction("Skin care")
    lab.add_vessel()
    lab.open_container()
    guests.decide(lab, guests.declare(lab), guests.YES)
    lab.mix_film_line()
    for typed, kind, row in (
        ("film fix", "Baths", "Film fixer"),
        ("FIX film", "Baths", "Film fixer"),
        ("paper", "Lines of baths", "Paper line"),
        ("lot 1", "Bottles", "Acetic stop concentrate"),
        ("pq", "Products", "PQ liquid concentrate"),
        ("cupboard", "Shelves", "Cupboard by the door"),
        ("black-and-white", "Processes", "Black-and-white film"),
        ("reel", "Tanks and trays", "Five-reel tank"),
        ("enlarg", "Places", "Enlarger"),
        ("wet room", "Rooms", "Wet room"),
        ("used fix", "Waste containers", "Used fixer"),
        ("09 01 04*", "Waste containers", "Used fixer"),
        ("skin", "Inductions", "Skin care"),
        ("black-and-white", "Assessments", "Black-and-white film"),
        ("glacial", "Brought-in chemicals", "Glacial acetic acid"),
        ("ŁUKASZ", "People", "Łukasz Żak"),
    ):
        page = page_of(technician, typed)
        assert any(row in words for words in rows_in(page)[kind]), (typed, rows_in(page))


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("łukasz", "Łukasz Żak"),
        ("lukasz zak", "Łukasz Żak"),
        ("ΜΑΡΙΑ", "Μαρία Ιωάννου"),
        ("ιωαννου", "Μαρία Ιωάννου"),
        ("петр", "Пётр Орлов"),
        ("müller", "Zoe\u0308 Mu\u0308ller"),
        ("zoe muller", "Zoe\u0308 Mu\u0308ller"),
        ("strasse", "Ana Straße"),
    ],
)
def test_capitals_and_accents_do_not_matter_in_any_script(lab: SmallLab, manager: FlaskClient, typed: str, name: str):
    invite(lab, "Zoe\u0308 Mu\u0308ller", "Ana Straße")
    assert [unicodedata.normalize("NFC", row) for row in found(manager, typed)["People"]] == [
        unicodedata.normalize("NFC", name)
    ]


@pytest.mark.parametrize("typed", ["%", "_", "%_%", "\\", "'", "*", ".*", "[a-z]", "\0%"])
def test_no_character_stands_for_others(lab: SmallLab, manager: FlaskClient, typed: str):
    lab.mix_film_line()
    assert found(manager, typed) == {}
    plain = typed.replace("\0", "")
    lab.add_vessel(f"Tank {plain} of ours")
    assert list(found(manager, typed)) == ["Tanks and trays"]


@pytest.mark.sqlite_only
@pytest.mark.parametrize("typed", ["x" * 300, "9" * 300, "łukasz " * 43, "\u0301", "'; DROP TABLE people; --"])
def test_what_finds_nothing_says_what_to_try(lab: SmallLab, member: FlaskClient, typed: str):
    page = page_of(member, typed)
    assert "Nothing found by that" in page
    assert "the lot as it is printed on the bottle" in page


def test_what_is_here_comes_first_and_what_is_gone_says_so(lab: SmallLab, member: FlaskClient):
    older = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=500, in_service=False)
    newer = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=500)
    lab.dump(newer, lab.open_container(), volume_ml=500)
    assert found(member, "film fixer")["Baths"] == [
        f"Film fixer {older.code} | Film line | Label of {older.code}",
        f"Film fixer {newer.code} | Film line dumped",
    ]


def test_of_many_a_few_are_shown_and_it_says_to_narrow_it(lab: SmallLab, manager: FlaskClient):
    invite(lab, *(f"Guest {letter}" for letter in "ABCDEFGHIJ"))
    page = page_of(manager, "guest")
    assert len(rows_in(page)["People"]) == MOST_OF_A_KIND
    assert "narrow it" not in page
    invite(lab, "Guest 0")
    page = page_of(manager, "guest")
    assert rows_in(page)["People"] == ["Guest 0", *(f"Guest {letter}" for letter in "ABCDEFGHI")]
    assert "There are more than these 10: narrow it" in page


# Each only for whoever may see it


def test_people_are_found_by_those_alone_who_may_see_them(lab: SmallLab, client_as: ClientAs):
    invite(lab, "Joss Amara")
    joss = found(client_as("manager"), "joss")["People"]
    assert joss == ["Joss Amara"]
    for role in ("technician", "instructor", "safety adviser"):
        page = page_of(client_as(role), "joss")
        assert any(link.startswith("/inductions/people/") for link in links(page)), role
    for typed in ("joss", "sol", "Łukasz"):
        assert found(client_as("member"), typed).keys() <= {"Substances"}


def test_who_has_left_is_found_by_who_keeps_the_people_alone(lab: SmallLab, client_as: ClientAs):
    people.close_account(lab.act("manager"), person_id=lab.ids["instructor"])
    assert found(client_as("manager"), "carrow") == {"People": ["Ines Carrow | left"]}
    assert found(client_as("technician"), "carrow") == {}


def test_drafts_and_what_others_declared_stay_with_those_who_see_them(lab: SmallLab, client_as: ClientAs):
    assessment = begin(lab, lab.add_process())
    own, others = guests.declare(lab, name="Own powder"), guests.declare(lab, role="instructor", name="Other powder")
    member, technician = client_as("member"), client_as("technician")
    assert "Assessments" in found(technician, "black-and-white")
    assert "Assessments" not in found(member, "black-and-white")
    assert found(member, assessment.code.split("-")[1]) == {}
    assert [row.split(" | ")[0] for row in found(member, "powder")["Brought-in chemicals"]] == [own.name]
    assert len(found(technician, "powder")["Brought-in chemicals"]) == 2
    guests.decide(lab, others, guests.YES)
    assert len(found(member, "powder")["Brought-in chemicals"]) == 2


@pytest.mark.sqlite_only
@pytest.mark.parametrize("role", Role)
def test_whatever_is_found_can_be_opened(lab: SmallLab, client_as: ClientAs, role: Role):
    furnish(lab)
    client = client_as(str(role))
    opened = set()
    for typed in ("a", "e", "i", "o", "1"):
        main = page_of(client, typed).partition("<main")[2]
        opened |= set(links(main)) - {"/"}
    assert len(opened) > 15
    for link in opened:
        assert client.get(link).status_code == 200, link


def test_a_search_costs_the_same_however_many_there_are(lab: SmallLab, manager: FlaskClient):
    def queries_of(typed: str) -> int:
        return queries_for(lambda: page_of(manager, typed))

    def more() -> None:
        for _ in range(3):
            lab.mix_film_line()
            lab.log(2)
        guests.declare(lab)

    more()
    invite(lab, "Joss Amara")
    before = [queries_of(typed) for typed in ("a", "film", "0001")]
    more()
    invite(lab, *(f"Jossel {letter} Amara" for letter in "ABCDEFGHIJKLMNOP"))
    assert [queries_of(typed) for typed in ("a", "film", "0001")] == before
    assert max(before) <= 8
