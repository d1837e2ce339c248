"""Workplace exposure limits by nation, as the lists print them, and a second nation that needs no change of code."""

from pathlib import Path

import pytest

from labsys.hazards.cas import is_cas
from labsys.hazards.errors import BadCas
from labsys.hazards.exposure_limits import has_limit, limits_of
from labsys.hazards.nations import Nation
from labsys.hazards.substances import all_substances, substance
from labsys.hazards.tables import read_table
from labsys.hazards.waste_codes import consignment_code_warning

SECOND = Path(__file__).parent / "second_nation"
EH40 = "EH40/2005, 4th edition (2020), Table 1, from memory"
ONTARIO = "limits of Ontario, read with the chemicals library 1.5.2"

PRINTED = [
    ("64-19-7", "10 ppm over 8 hours, 20 ppm over 15 minutes", EH40),
    ("7446-09-5", "0.5 ppm over 8 hours, 1 ppm over 15 minutes", EH40),
    ("123-31-9", "0.5 mg/m³ over 8 hours", EH40),
    ("7664-41-7", "25 ppm over 8 hours, 35 ppm over 15 minutes", EH40),
    ("7782-50-5", "0.5 ppm over 15 minutes", EH40),
    ("74-90-8", "0.9 ppm over 8 hours, 4.5 ppm over 15 minutes, skin", EH40),
]


@pytest.mark.parametrize(("cas", "words", "source"), PRINTED)
@pytest.mark.parametrize("nation", Nation)
def test_a_limit_reads_as_the_list_prints_it(nation, cas, words, source):
    assert limits_of(cas, nation=nation)[0].in_words == words, source


def test_a_substance_without_a_limit_and_a_nation_without_data_are_told_apart():
    assert limits_of("77-92-9", nation="England") == ()
    assert limits_of("64-19-7", nation="Finland") is None
    with pytest.raises(BadCas):
        limits_of("64-19-8", nation="England")


def test_every_row_names_a_substance_on_file_its_source_and_how_far_it_is_to_be_trusted():
    known = {entry.cas for entry in all_substances()}
    for row in read_table("exposure_limits"):
        assert is_cas(row["cas"])
        assert row["cas"] in known
        assert row["twa"] or row["stel"]
        assert "EH40" in row["source"] or "WEL" in row["source"], row["cas"]
        assert row["confidence"] in {"high", "medium-high", "medium", "low"}


@pytest.mark.parametrize("cas", sorted({row["cas"] for row in read_table("exposure_limits")}))
def test_limits_in_both_units_agree(cas):
    """ppm × M / 24.05526 L/mol at 20 °C; EH40 rounds, and prints hydrogen chloride rounded up (from memory)."""
    molar = 17.03 if cas == "1336-21-6" else substance(cas).molar_mass_g_mol  # the solution's limit is that of the gas
    by_unit = {one.unit: one for one in limits_of(cas, nation="England")}
    assert by_unit.keys() <= {"ppm", "mg/m³"}
    if len(by_unit) == 2 and cas != "7647-01-0":
        for name in ("twa", "stel"):
            ppm, mg_m3 = (getattr(by_unit[unit], name) for unit in ("ppm", "mg/m³"))
            if ppm is not None and mg_m3 is not None:
                assert mg_m3 == pytest.approx(ppm * molar / 24.05526, rel=0.05)


SECOND_NATION = [
    ("64-19-7", "10 ppm over 8 hours, 15 ppm over 15 minutes"),
    ("7664-41-7", "25 ppm over 8 hours, 35 ppm over 15 minutes"),
    ("7446-09-5", "2 ppm over 8 hours, 5 ppm over 15 minutes"),
]


@pytest.mark.parametrize(("cas", "words"), SECOND_NATION)
def test_a_second_nation_is_new_rows_and_no_new_code(cas, words):
    assert limits_of(cas, nation="Ontario", data=SECOND)[0].in_words == words, ONTARIO


def test_the_nations_of_one_folder_say_nothing_of_another():
    assert limits_of("64-19-7", nation="England", data=SECOND) is None
    assert limits_of("7664-41-7", nation="Atlantis", data=SECOND) == ()


def test_note_codes_of_a_second_nation_are_rows_too():
    assert consignment_code_warning("AT-0001", nation="Atlantis", data=SECOND) is None
    assert "AT, a hyphen and four digits" in consignment_code_warning("NORTHS/00001", nation="Atlantis", data=SECOND)
    assert "No pattern" in consignment_code_warning("AT-0001", nation="Atlantis")


def test_any_nation_s_limit_counts_for_the_statement_that_tells_of_one():
    assert has_limit("123-31-9")
    assert not has_limit("77-92-9")
