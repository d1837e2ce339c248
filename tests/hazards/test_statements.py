"""Statement texts, and that no blank reaches a label."""

import pytest

from labsys.hazards.classes import Family, HazardClass, classes_for_code, label_rows, read_class
from labsys.hazards.errors import UnknownClass, UnknownStatement, UnresolvedStatement
from labsys.hazards.precautions import all_precautions
from labsys.hazards.statements import all_statements, printed_text, statement
from labsys.hazards.substances import all_substances
from labsys.hazards.tables import read_table

ONLY_THE_SHEET_CAN_FILL = {"EUH208", "P411", "P413"}

TEXTS = [
    {"code": "H317", "text": "May cause an allergic skin reaction.", "source": "CLP Annex III, from memory"},
    {"code": "H314", "text": "Causes severe skin burns and eye damage.", "source": "CLP Annex III, from memory"},
    {"code": "H351", "text": "Suspected of causing cancer.", "source": "CLP Annex III, route left out, from memory"},
    {"code": "H373", "text": "May cause damage to organs through prolonged or repeated exposure.",
         "source": "CLP Annex III, organ and route left out, from memory"},
    {"code": "H360FD", "text": "May damage fertility. May damage the unborn child.",
     "source": "CLP Annex III, from memory"},
    {"code": "H302+H332", "text": "Harmful if swallowed or if inhaled.", "source": "CLP Annex III, from memory"},
    {"code": "EUH031", "text": "Contact with acids liberates toxic gas.", "source": "CLP Annex II, from memory"},
    {"code": "P264", "text": "Wash hands thoroughly after handling.",
     "source": "CLP Annex IV, blank filled by us, from memory"},
    {"code": "P501", "text": "Dispose of contents/container to a licensed waste contractor.",
         "source": "CLP Annex IV, blank filled by us, from memory"},
    {"code": "P310", "text": "Immediately call a POISON CENTER/doctor.",
         "source": "CLP Annex IV, read in legislation.gov.uk, open choice closed"},
    {"code": "P231+P232", "text": "Handle and store contents under inert gas. Protect from moisture.",
         "source": "CLP Annex IV, open choice closed, from memory"},
    {"code": "P406", "text": "Store in a corrosion-resistant container with a resistant inner liner.",
         "source": "GB CLP Annex IV, parsed copy of legislation.gov.uk retrieved 2026-09-29, open choice closed"},
]  # fmt: skip


@pytest.mark.parametrize("row", TEXTS, ids=lambda row: row["code"])
def test_a_statement_prints_as_the_regulation_words_it(row):
    assert printed_text(row["code"]) == row["text"], row["source"]


@pytest.mark.parametrize("found", all_statements(), ids=lambda found: found.code)
def test_no_printed_statement_shows_a_blank(found):
    if found.code in ONLY_THE_SHEET_CAN_FILL:
        with pytest.raises(UnresolvedStatement):
            printed_text(found.code)
    else:
        text = printed_text(found.code)
        assert not set("…<>[]") & set(text)
        assert text[-1] in ".:"


def test_the_callers_words_fill_the_blanks_in_order():
    assert printed_text("EUH208", fills=("metol",)) == "Contains metol. May produce an allergic reaction."
    assert printed_text("P411", fills=("25", "77")) == "Store at temperatures not exceeding 25 °C/77 °F."


def test_blanks_inside_a_joined_code_are_ignored():
    assert statement("P305 + P351 + P338").code == "P305+P351+P338"


@pytest.mark.parametrize("code", ["H999", "", "317", "h317", "H302+H999"])
def test_an_unknown_code_is_refused(code):
    with pytest.raises(UnknownStatement):
        statement(code)


SOURCED = ["statements", "label_elements", "substances", "harmonised", "precautionary", "waste_codes"]


@pytest.mark.parametrize("table", SOURCED)
def test_every_row_of_a_table_names_its_source(table):
    assert all(row["source"].strip() for row in read_table(table))


def test_every_code_of_the_label_table_is_on_the_list():
    for row in label_rows():
        if row.hazard.code:
            statement(row.hazard.code)


def test_every_precaution_of_the_class_table_is_on_the_list():
    codes = [code for row in read_table("precautionary") for code in row["h_codes"].split()]
    assert len(codes) == len(set(codes))
    for code in codes:
        for p_code in all_precautions(code):
            statement(p_code)


def test_every_fill_in_belongs_to_a_statement_with_a_blank():
    assert all("…" in statement(row["code"]).text for row in read_table("fill_ins"))


def test_a_class_reads_back_as_it_is_written():
    for row in label_rows():
        if row.hazard.code:
            assert read_class(str(row.hazard)) == row.hazard


def test_a_class_without_category_is_read():
    assert read_class("Lact. H362") == HazardClass("Lact.", "", "H362")


@pytest.mark.parametrize("text", ["Skin Corr. 1B H315", "Skin Corr. H314", "Nonsense 1 H314", ""])
def test_a_class_category_and_code_that_do_not_belong_together_are_refused(text):
    with pytest.raises(UnknownClass):
        read_class(text)


def test_the_classes_of_a_code_start_with_the_most_severe():
    assert [hazard.category for hazard in classes_for_code("H314")] == ["1", "1A", "1B", "1C"]
    assert str(classes_for_code("H300")[0]) == "Acute Tox. 1 H300"


def test_a_code_on_no_label_has_no_class():
    with pytest.raises(UnknownStatement):
        classes_for_code("H303")


def test_every_substance_reads_and_says_how_far_it_is_to_be_trusted():
    assert len(all_substances()) == 69
    for entry in all_substances():
        assert entry.confidence
        assert entry.families <= set(Family)
