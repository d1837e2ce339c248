"""Who put what through the baths: staff see everybody's, each their own; sums agree with the baths' own columns."""

import csv
import io
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import func, select

from labsys.baths import uses
from labsys.baths.models import Bath, BathLine, Place
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.sizes import Material, Pieces, size_of
from labsys.people import service as people
from labsys.records.models import IssuedDocument
from tests.support.lab import SmallLab
from tests.support.pages import hidden_field, page_at, pdf_text, queries_of, source, text

MARCH = "from=2026-03-01&to=2026-03-31"
ALL = f"/uses/people?{MARCH}"


@pytest.fixture
def adviser(client_as):
    return client_as("safety adviser")


@pytest.fixture
def worked(lab: SmallLab) -> dict[Place, Bath]:
    """A month's work: rolls and sheets, a class, a correction, an entry taken back, prints, and fixer mixed anew."""
    lab.session.get_one(BathLine, lab.film_line_id).process_id = lab.add_process().id
    lab.session.commit()
    baths = lab.mix_film_line()
    lab.mix(SolutionKind.FIXER, water_parts=9, working_ml=2_000, paper=True)
    lab.log(3)
    wrong = lab.log(9)
    correct(lab, wrong.id, 2)  # 3 and 2 rolls of 120
    correct(lab, lab.log(7, role="technician").id, 0)  # nothing
    lab.log(3, size="4x5 in")
    lab.log(12, size="135-36", role="instructor", class_name="Вечерний курс")
    lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500)  # takes the place of the first
    lab.log(1, size="220")
    lab.log(10, size="8x10 in", material=Material.RC, line_id=lab.paper_line_id)
    return baths


def correct(lab: SmallLab, use_id: int, count: int) -> None:
    uses.correct_use(lab.act("technician"), use_id=use_id, pieces=Pieces(size_of(key="120"), Material.FILM, count))


def sheet(client, path: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(client.get(path).get_data(as_text=True))))


# Worked by hand: a roll of 120 or 135-36 counts 51 613 mm² and a 220 two of them (S. Anchell, The Darkroom Cookbook,
# 3rd ed. (2008), p. 108: 80 in² to the unit, which is 51 612.8 mm²); 4x5 in are 101.6 × 127 mm = 12 903 mm².
# Żak on film: 5 × 51 613 + 2 × 51 613 + 3 × 12 903 = 400 000 mm²; the class: 12 × 51 613 = 619 356 mm²;
# prints: 10 × 51 613 = 516 130 mm².
# Fixer, by area: of the first, 2.5 L, the class took 619 356 of 916 130 mm² and Żak the rest, 0.80986 L; of the second,
# 2.5 L, he took all so far; and all of the 2 L for prints.
BY_HAND = [
    ("Ines Carrow, for Вечерний курс", "Film line", "Black-and-white film", "film", 1, 12, 0, "0.619356"),
    ("Łukasz Żak", "Film line", "Black-and-white film", "film", 4, 6, 3, "0.400000"),
    ("Łukasz Żak", "Paper line", "none named", "RC paper", 1, 0, 10, "0.516130"),
]


def test_the_sums_are_those_worked_by_hand_on_page_sheet_and_paper(lab, adviser, worked):
    rows = sheet(adviser, ALL.replace("people?", "people.csv?"))
    assert [tuple(row.values())[:8] for row in rows] == [(*named[:4], *map(str, named[4:])) for named in BY_HAND]
    assert [row["Area, rolls or 8x10 sheets"] for row in rows] == ["12.0000", "7.7500", "10.0000"]
    assert [row["Share of the line, %"] for row in rows] == ["60.76", "39.24", "100.00"]  # of 1 019 356 mm² of film
    assert [row["Fixer, L"] for row in rows] == ["1.6901", "3.3099", "2.0000"]
    page = page_at(adviser, ALL)
    told = text(adviser.get(ALL))
    assert "Вечерний курс Film line Black-and-white film film 1 12 0 0.619 12.0 1.69" in told  # by course or class
    assert "Łukasz Żak 0.92 m², 5.3 L fixer" in told  # the chart
    for row in ("film 4 6 3 0.400 7.7 3.31 Share of the line: 39 % 39", "1 12 0 0.619 12.0", "1 0 10 0.516 10.0"):
        assert row in told
    assert "Film line Black-and-white film film 5 18 3 1.019 19.7" in told  # all together
    printed = pdf_text(issue(adviser, page))
    for word in ("Łukasz Żak", "Вечерний курс", "0.400", "0.619", "All together", "1.019", "1 March 2026"):
        assert word in printed


def issue(client, page: str, **changes) -> bytes:
    fields = {name: hidden_field(page, name) for name in ("csrf_token", "submission_key")}
    chosen = {name: hidden_field(page, name) for name in ("person",)}
    period = {"from": "2026-03-01", "to": "2026-03-31", "line": "0", "process": "0", "material": "", "class": ""}
    answer = client.post("/documents/uses", data={**fields, **period, **chosen, **changes})
    return client.get(answer.location).data if answer.status_code == 303 else answer.data


def test_the_sums_of_a_line_are_what_its_baths_counted(lab, adviser, worked):
    """One use counts in each bath in service: what the line took is what all baths of one place took together."""
    by_line = {}
    for row in sheet(adviser, ALL.replace("people?", "people.csv?")):
        pieces = int(row["Rolls"]) + int(row["Sheets"])
        area, count = by_line.get(row["Line"], (0, 0))
        by_line[row["Line"]] = (area + round(float(row["Area, m²"]) * 1e6), count + pieces)
    columns = (func.sum(Bath.film_mm2 + Bath.rc_mm2 + Bath.fibre_mm2), func.sum(Bath.pieces))
    counted = select(BathLine.name, Bath.place, *columns).join(Bath.line).group_by(BathLine.name, Bath.place)
    places = lab.session.execute(counted).all()
    assert len(places) == 4
    for line, place, area, pieces in places:
        assert by_line[line] == (area, pieces), (line, place)


@pytest.mark.parametrize(
    ("asked", "left"),
    [
        ("line={line}", 2),
        ("process={process}", 2),
        ("class=Вечерний+курс", 1),
        ("material=rc", 1),
        ("material=fibre", 0),
        ("line={line}&material=film", 2),
    ],
)
def test_it_is_asked_by_line_process_and_material(lab, adviser, worked, asked, left):
    line = lab.session.get_one(BathLine, lab.film_line_id)
    told = asked.format(line=line.id, process=line.process_id)
    assert len(sheet(adviser, f"/uses/people.csv?{MARCH}&{told}")) == left


def test_a_day_is_the_labs_own(lab, adviser):
    """Clocks in London went forward on 29 March 2026: 23:30 UTC of the 29th is half past midnight of the 30th."""
    lab.mix_film_line()
    lab.now = datetime(2026, 3, 29, 23, 30, tzinfo=UTC)
    lab.log(1)
    at = lab.now + timedelta(hours=1)
    lab.now = at
    assert sheet(adviser, "/uses/people.csv?from=2026-03-29&to=2026-03-29") == []
    (row,) = sheet(adviser, "/uses/people.csv?from=2026-03-30&to=2026-03-30")
    assert row["Rolls"] == "1"


def test_each_sees_their_own_and_only_staff_that_of_others(lab, client_as, worked):
    member, technician = client_as("member"), client_as("technician")
    mine, others = (f"/uses/people/{lab.ids[role]}" for role in ("member", "instructor"))
    own = text(member.get(f"{mine}?{MARCH}"))
    assert "Uses of Łukasz Żak" in own
    assert "Film line Black-and-white film film 4 6 3" in own
    assert "Ines" not in own
    assert len(sheet(member, f"{mine}/uses.csv?{MARCH}")) == 2
    for path in ("/uses/people", "/uses/people.csv", others, f"{others}/uses.csv", "/uses/people/9999"):
        assert member.get(path).status_code == 403, path
    assert technician.get("/uses/people/9999").status_code == 404
    assert "Uses of Ines Carrow" in text(technician.get(others))
    page = page_at(member, f"{mine}?{MARCH}")
    assert "0.400" in pdf_text(issue(member, page))
    before = lab.count(IssuedDocument)
    for person in ("0", str(lab.ids["instructor"]), "9999"):
        assert b"%PDF" not in issue(member, page, person=person, submission_key=f"another key {person}")
    assert lab.count(IssuedDocument) == before
    assert "My uses" in text(member.get("/uses"))
    assert f'href="{mine}"' in source(member.get("/uses"))


def test_who_left_and_who_was_erased_stay_in_the_sums(lab, adviser, worked):
    people.close_account(lab.act("manager"), person_id=lab.ids["member"])
    lab.person("instructor").name = ""
    lab.session.commit()
    told = text(adviser.get(ALL))
    assert "Łukasz Żak (left)" in told
    assert "name erased, for Вечерний курс" in told
    assert "film 5 18 3 1.019" in told
    assert "name erased" in text(adviser.get(f"/uses/people/{lab.ids['instructor']}"))


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("asked", "message"),
    [
        ("from=2026-03-31&to=2026-03-01", "The last day is before the first."),
        ("from=&to=2026-03-01", "Choose the first day."),
        ("line=99", "Choose what is on the list."),
        ("material=wood", "Choose what is on the list."),
    ],
)
def test_what_cannot_be_added_up_is_said(lab, adviser, asked, message):
    answer = adviser.get(f"/uses/people?{asked}")
    assert answer.status_code == 422
    assert message in text(answer)
    assert adviser.get(f"/uses/people.csv?{asked}").status_code == 422


@pytest.mark.sqlite_only
def test_queries_do_not_grow_with_the_rows_and_people_come_in_pages(lab, adviser, worked, monkeypatch):
    few = queries_of(adviser, ALL)
    for _ in range(5):
        for role in ("member", "instructor", "technician"):
            lab.log(1, role=role)
    assert queries_of(adviser, ALL) == few
    assert few <= 20
    monkeypatch.setattr("labsys.baths.views.by_person.PEOPLE_A_PAGE", 1)
    seen, path = [], ALL
    while path:
        page = page_at(adviser, path)
        seen += [name for name in ("Ines Carrow", "Sol Haddad<", "Łukasz Żak") if f'2026-03-31">{name}' in page]
        more = page.split('rel="next" href="')[1:]
        path = more[0].split('"')[0].replace("&amp;", "&") if more else ""
    assert seen == ["Ines Carrow", "Sol Haddad<", "Łukasz Żak"]
