"""List of Waste codes and consignment note codes."""

import pytest

from labsys.hazards.errors import UnknownWasteCode
from labsys.hazards.nations import ELSEWHERE, Nation, what_is_known
from labsys.hazards.waste_codes import (
    all_waste_codes,
    check_waste_code_format,
    consignment_code_warning,
    suggested_consignment_code,
    waste_code,
)

LIST = "Decision 2000/532/EC, from memory; code and asterisk seen in national versions"
CHAPTER_09_01 = [
    ("09 01 01*", "water-based developer and activator solutions", True),
    ("09 01 02*", "water-based offset plate developer solutions", True),
    ("09 01 03*", "solvent-based developer solutions", True),
    ("09 01 04*", "fixer solutions", True),
    ("09 01 05*", "bleach solutions and bleach fixer solutions", True),
    ("09 01 06*", "wastes containing silver from on-site treatment of photographic wastes", True),
    ("09 01 07", "photographic film and paper containing silver or silver compounds", False),
    ("09 01 08", "photographic film and paper free of silver or silver compounds", False),
    ("09 01 10", "single-use cameras without batteries", False),
    (
        "09 01 13*",
        "aqueous liquid waste from on-site reclamation of silver other than those mentioned in 09 01 06",
        True,
    ),
    ("09 01 99", "wastes not otherwise specified", False),
]


@pytest.mark.parametrize(("code", "text", "is_hazardous"), CHAPTER_09_01)
def test_the_photographic_chapter_reads_as_published(code, text, is_hazardous):
    found = waste_code(code)
    assert (found.text, found.is_hazardous) == (text, is_hazardous), LIST


def test_the_list_has_no_09_01_09():
    with pytest.raises(UnknownWasteCode, match="not among"):
        waste_code("09 01 09")


@pytest.mark.parametrize("entry", all_waste_codes(), ids=lambda entry: entry.code)
def test_the_asterisk_and_the_word_hazardous_agree(entry):
    assert entry.code.endswith("*") is entry.is_hazardous
    assert check_waste_code_format(entry.code) == entry.code
    assert (entry.uk_entry_type in ("AH", "MH")) is entry.is_hazardous


@pytest.mark.parametrize("text", ["090104*", "09 01 04*", " 09 01 04 * ", "0901 04*"])
def test_a_code_is_printed_in_pairs(text):
    assert check_waste_code_format(text) == "09 01 04*"


@pytest.mark.parametrize("text", ["", "9 01 04*", "09 01 04**", "09-01-04", "09 01 0", "09 01 045", "fixer"])
def test_what_is_not_six_digits_is_refused(text):
    with pytest.raises(UnknownWasteCode):
        check_waste_code_format(text)


@pytest.mark.parametrize(("typed", "listed"), [("09 01 04", "09 01 04*"), ("09 01 07*", "09 01 07")])
def test_a_missing_or_wrong_asterisk_is_pointed_out(typed, listed):
    with pytest.raises(UnknownWasteCode, match="asterisk") as refusal:
        waste_code(typed)
    assert f"as {listed};" in refusal.value.reason


CONSIGNMENT = [
    ("NORTHS/00001", "England", True, "letsrecycle.com, on the rule since April 2016"),
    ("NAA353/00001", "Wales", True, "chemrec.co.uk's published example, premises-code form"),
    ("NORTHS/00001A", "England", True, "letsrecycle.com: an extra letter may follow"),
    ("NORTH/00001", "England", False, "calculated from the pattern: five characters before the slash"),
    ("NORTHS00001", "England", False, "calculated from the pattern: no slash"),
    ("norths/00001", "England", False, "calculated from the pattern: small letters"),
    ("SA0123456", "Scotland", True, "NetRegs: SA, SB or SC and six or more digits"),
    ("SD0123456", "Scotland", False, "NetRegs: SA, SB or SC and six or more digits"),
    ("SA0123456", "England", False, "calculated from the pattern: the English pattern refuses Scottish codes"),
    ("anything", "Northern Ireland", False, "calculated from the pattern: own notes, no pattern on file"),
    ("NORTHS/00001", "Atlantis", False, "calculated from the pattern: no such nation"),
    ("NORTHS/00001", "", False, "calculated from the pattern: nation not set"),
]


@pytest.mark.parametrize(("code", "nation", "fits", "source"), CONSIGNMENT)
def test_a_code_that_does_not_fit_its_nation_is_warned_about_and_never_refused(code, nation, fits, source):
    warning = consignment_code_warning(code, nation=nation)
    assert (warning is None) is fits, source
    assert fits or "compare it with the note" in warning


def test_every_nation_has_an_answer():
    assert all(consignment_code_warning("?", nation=nation) for nation in (*Nation, ELSEWHERE))


@pytest.mark.parametrize(
    ("nation", "known"),
    [("England", 4), ("Wales", 3), ("Scotland", 3), ("Northern Ireland", 2), (ELSEWHERE, 0), ("Atlantis", 0)],
)
def test_what_is_not_known_of_a_nation_is_said_and_who_knows_it(nation: str, known: int):
    told = what_is_known(nation)
    unknown = told.count("is not known here: ask the competent person") + told.count("are not known here: ask")
    assert (len(told.split(". ")) - unknown, unknown) == (known, max(0, 3 - known))


@pytest.mark.parametrize(
    ("name", "serial", "code"),
    [
        ("Northside Community Darkroom", 1, "NORTHS/00001"),
        ("A.B. & C 12 Prints", 42, "ABC12P/00042"),
        ("Short", 1, None),
        ("Northside", 100_000, None),
        ("Northside", 0, None),
    ],
)
def test_a_code_is_suggested_where_the_rule_is_known(name, serial, code):
    """England: first six letters or numbers of the name, no symbols; a shorter name has no rule on file."""
    suggested = suggested_consignment_code(business_name=name, serial=serial)
    assert suggested == code
    assert code is None or consignment_code_warning(suggested, nation="England") is None
