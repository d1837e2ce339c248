import csv
import io
from dataclasses import replace
from datetime import date

import pytest

from labsys.chemistry.care import SolutionKind
from labsys.database import db
from tests.planning.furnishing import add_film_process
from tests.support.assessing import approved
from tests.support.lab import ACETIC_ACID, HYDROQUINONE
from tests.support.pages import page_at, queries_of, source
from tests.support.safety import SHEET, add_sheet

pytestmark = pytest.mark.sqlite_only


def table(response):
    return list(csv.DictReader(io.StringIO(source(response), newline="")))


# The register


def test_it_lists_each_product_then_the_working_solutions_made_from_it(lab, member):
    lab.mix_film_line()
    listed = [(row["Product"], row["Dilution"]) for row in table(member.get("/register.csv"))]
    assert listed == [
        ("Acetic stop concentrate", ""),
        ("Acetic stop concentrate", "1+19"),
        ("PQ liquid concentrate", ""),
        ("PQ liquid concentrate", "1+6"),
        ("Rapid fixer concentrate", ""),
        ("Rapid fixer concentrate", "1+4"),
    ]


def test_a_row_says_where_its_hazards_come_from(lab, member):
    lab.mix_film_line()
    found = {(row["Product"], row["Dilution"]): row for row in table(member.get("/register.csv"))}
    stop, bath = found["Acetic stop concentrate", ""], found["Acetic stop concentrate", "1+19"]
    assert (stop["Signal word"], stop["Hazards from"]) == ("Danger", "the supplier's SDS, as entered")
    assert bath["Signal word"] == ""
    assert bath["Hazards from"].startswith("estimate, calculated")
    assert found["PQ liquid concentrate", "1+6"]["Skin sensitisers"] == "hydroquinone"


def test_bottles_baths_and_containers_are_where_they_are_now(lab, member):
    line = lab.mix_film_line()
    container = lab.open_container()
    fixer = next(bath for place, bath in line.items() if "fixer" in place)
    lab.dump(fixer, container, volume_ml=2_400)
    found = {(row["Product"], row["Dilution"]): row["Where"] for row in table(member.get("/register.csv"))}
    assert f"container {container.label}, 2.4 L poured in" in found["Rapid fixer concentrate", "1+4"]
    assert fixer.code not in found["Rapid fixer concentrate", "1+4"]
    assert "Film line" in found["PQ liquid concentrate", "1+6"]
    assert "500 mL (Chemical store)" in found["Rapid fixer concentrate", ""]


def put_papers_in_order(lab):
    """An SDS on file and an approved assessment for every product of the small lab."""
    for kind in ("developer", "stop", "fixer"):
        add_sheet(lab, lab.ids[f"product {kind}"])
    approved(lab, add_film_process(lab))


def test_what_is_missing_or_overdue_comes_first(lab, member):
    put_papers_in_order(lab)
    late = {"confirmed": False, "sds_date": date(2020, 1, 1), "name": "Zinc intensifier"}
    lab.add_product(SolutionKind.FIXER, **late)
    found = table(member.get("/register.csv?show=concerns"))
    assert [row["Product"] for row in found] == ["Zinc intensifier"]
    assert "nobody compared it" in found[0]["Missing or overdue"]
    assert table(member.get("/register.csv"))[0]["Product"] == "Zinc intensifier"
    assert "1 product has something missing or overdue" in page_at(member, "/register")


def test_the_register_says_what_became_of_the_papers(lab, member):
    bare = {row["Product"]: row for row in table(member.get("/register.csv"))}["PQ liquid concentrate"]
    assert (bare["SDS state"], bare["Assessed in"]) == ("no SDS", "not assessed")
    assert "no approved assessment speaks of it" in bare["Missing or overdue"]
    put_papers_in_order(lab)
    row = {row["Product"]: row for row in table(member.get("/register.csv"))}["PQ liquid concentrate"]
    assert (row["SDS state"], row["Assessed in"]) == ("SDS current", "Film, PQ 1+6")
    assert row["Missing or overdue"] == ""
    add_sheet(lab, lab.ids["product developer"], content=SHEET + b"\n", issued_on=date(2026, 1, 1))
    row = {row["Product"]: row for row in table(member.get("/register.csv"))}["PQ liquid concentrate"]
    assert row["Assessed in"] == "Film, PQ 1+6 (out of date)"
    assert "assessment out of date: Film, PQ 1+6" in row["Missing or overdue"]
    assert "(out of date)" in page_at(member, f"/register/substances/{HYDROQUINONE.cas}")


FILTERS = [
    ("hazard=SKIN_SENSITISER", {"PQ liquid concentrate"}),
    ("hazard=CMR", {"PQ liquid concentrate"}),
    ("hazard=CORROSIVE", {"PQ liquid concentrate", "Acetic stop concentrate"}),
    ("q=64-19-7", {"Acetic stop concentrate"}),
    ("q=HYDROquinone", {"PQ liquid concentrate"}),
    ("place=Film line", {"PQ liquid concentrate", "Acetic stop concentrate", "Rapid fixer concentrate"}),
    ("q=nothing like it", set()),
]


@pytest.mark.parametrize(("asked", "products"), FILTERS)
def test_the_register_can_be_asked_by_hazard_place_substance_and_name(lab, member, asked, products):
    lab.mix_film_line()
    assert {row["Product"] for row in table(member.get(f"/register.csv?{asked}"))} == products
    assert member.get(f"/register?{asked}").status_code == 200


def test_a_working_solution_keeps_its_sensitiser_however_weak(lab, member):
    lab.mix(SolutionKind.DEVELOPER, water_parts=6, working_ml=2_500)
    found = table(member.get("/register.csv?hazard=SKIN_SENSITISER"))
    assert [row["Dilution"] for row in found] == ["", "1+6"]


def test_a_cell_that_a_spreadsheet_would_run_is_guarded(lab, member):
    lab.add_product(SolutionKind.FIXER, name="=cmd|' /C calc'!A0", supplier="@sum")
    found = table(member.get("/register.csv?q=calc"))
    assert (found[0]["Product"], found[0]["Supplier"]) == ("'=cmd|' /C calc'!A0", "'@sum")


def test_the_csv_ends_its_lines_as_the_standard_says_and_is_a_download(lab, member):
    answer = member.get("/register.csv")
    assert answer.headers["Content-Type"].startswith("text/csv")
    assert answer.headers["Content-Disposition"].startswith("attachment;")
    assert b"\r\n" in answer.data


def test_names_in_other_scripts_pass(lab, member):
    lab.add_product(SolutionKind.FIXER, name="Закрепитель", supplier="Χημικά Φεγγαρόπετρας")
    assert "Закрепитель" in page_at(member, "/register")


def test_the_number_of_queries_does_not_grow_with_the_rows(lab, adviser):
    def more(number):
        for index in range(number):
            lab.add_product(SolutionKind.DEVELOPER, name=f"Developer {number} {index}")
            bath = lab.mix(SolutionKind.DEVELOPER, water_parts=6, working_ml=700)
            lab.log(1)
            lab.dump(bath, lab.open_container("09 01 01*"), volume_ml=600)
            lab.mix(SolutionKind.STOP, water_parts=19, working_ml=700)

    paths = ["/register", "/register/substances/123-31-9", "/register/contact?cas=123-31-9&since=2026-01-01"]
    more(2)
    before = [queries_of(adviser, path) for path in paths]
    more(4)
    assert [queries_of(adviser, path) for path in paths] == before
    assert max(before) <= 20


# One substance


def test_a_substance_page_says_where_it_is_and_how_much_of_it(lab, member):
    lab.mix(SolutionKind.STOP, water_parts=19, working_ml=2_000)
    page = page_at(member, "/register/substances/64-19-7")
    assert "30–40 %" in page
    assert "284 g to 378 g" in page  # 0.9 L left at 1.05 g/mL, 30 to 40 %: calculated by hand
    assert "1.6 to 2.1 % w/w" in page  # 1.05 g in 20.05 g, 30 to 40 %: calculated by hand
    assert "10 ppm over 8 hours, 20 ppm over 15 minutes" in page
    assert "EH40/2005" in page


def test_a_classification_that_differs_from_the_reference_is_pointed_out(lab, member):
    changed = [replace(ACETIC_ACID, classification="Skin Irrit. 2 H315")]
    lab.add_product(SolutionKind.STOP, name="Odd stop", ingredients=changed)
    page = page_at(member, "/register/substances/64-19-7")
    assert page.count("differs from the reference") == 1
    assert "to be confirmed against the supplier's safety data sheet" in page


def test_a_nation_without_data_says_so(lab, member):
    lab.session.execute(db.text("UPDATE lab SET nation = 'Finland'"))
    lab.session.commit()
    assert "No exposure limits of Finland are on file" in page_at(member, "/register/substances/64-19-7")


def test_a_restricted_substance_says_so_first(lab, member):
    page = page_at(member, "/register/substances/7778-50-9")
    assert "Dichromates and other chromium(VI): restricted" in page
    assert "No product here has it" in page


@pytest.mark.parametrize("cas", ["64-19-8", "nonsense", "7732-18-5"])
def test_what_is_no_substance_here_has_no_page(lab, member, cas):
    assert member.get(f"/register/substances/{cas}").status_code == 404


def test_only_the_safety_adviser_sees_who_worked_with_it(lab, member, adviser):
    path = f"/register/substances/{HYDROQUINONE.cas}"
    assert "Who worked with it" not in page_at(member, path)
    assert "Who worked with it in the last 30 days" in page_at(adviser, path)
