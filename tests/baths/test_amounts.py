"""Area by year and day, litres and kilograms by month, against the limits of the lab's own rules and of no others."""

import csv
import io
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from labsys.baths.models import Place
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.sizes import Material
from labsys.hazards.amounts import Reached, amount_rules
from labsys.hazards.nations import ELSEWHERE
from labsys.lab.rules import settings_of
from labsys.lab.service import change_lab
from labsys.records.queries import the_lab
from tests.support.lab import SmallLab
from tests.support.pages import hidden, links, source, text


@pytest.fixture
def year(lab: SmallLab) -> SmallLab:
    """A March and an April of work, a fixer poured away in each, and the first container collected."""
    baths = lab.mix_film_line()
    lab.mix(SolutionKind.FIXER, water_parts=9, working_ml=2_000, paper=True)
    lab.log(4)
    lab.log(10, size="8x10 in", material=Material.RC, line_id=lab.paper_line_id)
    lab.now = datetime(2026, 3, 31, 23, 30, tzinfo=UTC)  # half past midnight of 1 April in London
    lab.log(3)
    container = lab.open_container()
    lab.dump(baths[Place.FIXER], container, volume_ml=2_500)
    return lab


def move_to(lab: SmallLab, nation: str) -> None:
    settings = replace(settings_of(the_lab(lab.session)), nation=nation)
    change_lab(lab.act("manager"), settings=settings)


# Worked by hand: a roll of 120 and a sheet of 8x10 in count 51 613 mm² each (S. Anchell, The Darkroom Cookbook, 3rd ed.
# (2008), p. 108: 80 in²). March: 4 rolls and 10 sheets; April: 3 rolls. The fixer 1+4 of a concentrate of 1.300 kg/L
# weighs at most (1.300 + 4) / 5 = 1.06 kg/L: 2.5 L are 2.5 to 2.65 kg.
def test_the_sums_are_those_worked_by_hand_by_the_labs_own_days(year: SmallLab, client_as):
    instructor = client_as("instructor")
    answer = instructor.get("/uses/amounts.csv?year=2026")
    january, _, march, april = csv.DictReader(io.StringIO(answer.get_data(as_text=True)))
    assert list(january.values()) == ["January 2026", "0.000", "0.000", "", "", "0.00", "0.00", "", "0.00", "0.00"]
    assert (march["Film, m²"], march["Paper, m²"]) == ("0.206", "0.516")
    assert (march["Busiest day"], march["That day, m²"]) == ("2 Mar", "0.723")
    assert (april["Film, m²"], april["Busiest day"], april["That day, m²"]) == ("0.155", "1 Apr", "0.155")
    assert (april["Hazardous waste, kg, at least"], april["At most"]) == ("2.50", "2.65")
    page = text(instructor.get("/uses/amounts?year=2026"))
    assert "0.9 m² of film and paper so far." in page
    assert "March film 0.21 + paper 0.52 m²" in page
    assert "Limit" not in page  # a lab in England comes under none of these rules: the sums stand alone
    assert instructor.get("/uses/amounts?year=2027").status_code == 404


def test_each_is_held_against_the_rules_of_its_own_nation_alone(year: SmallLab, client_as):
    instructor, manager = client_as("instructor"), client_as("manager")
    move_to(year, "Wales")
    page = text(instructor.get("/uses/amounts?year=2026"))
    assert "2.5 to 2.65 kg this year 500 kg, hazardous waste in a year" in page
    assert "No limit of this lab's rules is reached." in page
    assert "Germany" not in page + text(manager.get("/uses/amounts?year=2026"))
    move_to(year, ELSEWHERE)
    assert "Limit" not in text(instructor.get("/uses/amounts"))
    asked = source(manager.get("/uses/amounts"))
    assert "Germany" in asked
    assert "500" not in asked  # what holds in Wales is not to be had here
    chosen = {**hidden(asked), "rules": ["de-annex-53", "us-effluent"]}
    assert manager.post("/uses/amounts/rules", data=chosen).status_code == 303
    page = text(instructor.get("/uses/amounts?year=2026"))
    assert "0.877 m² this year 200 m², area in a year" in page
    assert "0.723 m² on 2 March, the busiest day 150 m², area on a day" in page
    assert "gesetze-im-internet.de/abwv/anhang_53.html" in page
    wrong = {**hidden(source(manager.get("/uses/amounts"))), "rules": ["wales-premises"]}
    assert "cannot choose that" in text(manager.post("/uses/amounts/rules", data=wrong, follow_redirects=True))
    move_to(year, "Wales")  # what was chosen elsewhere holds here no more
    assert "Germany" not in text(instructor.get("/uses/amounts?year=2026"))


@pytest.mark.parametrize(
    ("key", "low", "high", "expected"),
    [
        ("de-annex-53", 200, 200, Reached.NO),  # not applied at or below 200 m² a year: AbwV Annex 53
        ("de-annex-53", 200.01, 200.01, Reached.YES),
        ("us-effluent", 150, 150, Reached.YES),  # from 150 m² (1600 ft²) a day: 40 CFR 459.10
        ("us-small", 95, 101, Reached.MAYBE),  # an estimate that may be above is not taken to be below
        ("us-large", 999, 999, Reached.NO),
        ("us-dallas", 75.7, 75.7, Reached.YES),  # 20 US gallons of 3.785411784 L
    ],
)
def test_a_limit_is_reached_where_its_rule_begins(key, low, high, expected):
    rule = next(rule for rule in amount_rules() if rule.key == key)
    assert rule.reached(low=low, high=high) is expected
    assert rule.source


@pytest.mark.sqlite_only
def test_an_instructor_answers_who_used_how_much_fixer_this_term_in_two_touches(year: SmallLab, client_as):
    """Touch one: the link on Today; what it shows is the answer. Touch two: the table to hand over."""
    instructor = client_as("instructor")
    touches = []

    def touch(page: str, ending: str) -> str:
        touches.append(ending)
        return next(link for link in links(page) if link.partition("?")[0].endswith(ending))

    today = source(instructor.get("/"))
    shown = instructor.get(touch(today, "/courses/uses-this-term"), follow_redirects=True)
    assert "Łukasz Żak Film line" in text(shown)
    assert "Fixer, L" in text(shown)
    sheet = instructor.get(touch(source(shown), "/uses/people.csv"))
    rows = list(csv.DictReader(io.StringIO(sheet.get_data(as_text=True))))
    assert {row["Person"]: row["Fixer, L"] for row in rows if row["Line"] == "Film line"} == {"Łukasz Żak": "1.0714"}
    assert len(touches) == 2
