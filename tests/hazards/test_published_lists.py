"""Our rows against the published lists, row by row: figures copied from there with their source, not from our own.

Source of each row: ECHA, Table of harmonised entries in Annex VI to CLP, including ATP23 (Regulation (EU) 2025/1222),
workbook rows as read in an open copy; HSE, GB mandatory classification and labelling list, 8th version (2026-05-19), in
a parsed copy; Defra reference list of waste codes with entry types (842 codes); GB CLP Annex IV in a parsed copy of
legislation.gov.uk, retrieved 2026-09-29.
"""

import pytest

from labsys.hazards.classes import HazardClass, severity_place
from labsys.hazards.exposure_limits import limits_of
from labsys.hazards.harmonised import harmonised
from labsys.hazards.mixtures.model import Route
from labsys.hazards.nations import Nation, Rules
from labsys.hazards.statements import all_statements, printed_text
from labsys.hazards.substances import all_substances, substance
from labsys.hazards.tables import read_table
from labsys.hazards.waste_codes import waste_code

EU, GB = Rules.EU, Rules.GB
DIFFERED = [  # what the first tables had otherwise: list, CAS number, index number, edition, the entry as printed
    (EU, "92-43-3", "606-022-00-2", "CLP00", "Acute Tox. 4 H302 *; Aquatic Chronic 2 H411"),
    (EU, "1303-96-4", "005-011-00-4", "ATP20", "Repr. 1B H360FD"),
    (GB, "1303-96-4", "005-011-01-1", "8th version", "Repr. 1B H360FD"),
    (EU, "95-14-7", "613-350-00-X", "ATP22", "Aquatic Chronic 2 H411"),
    (
        *(EU, "1313-82-2", "016-009-00-8", "ATP01"),
        "Acute Tox. 3 H311 *; Acute Tox. 4 H302 *; Skin Corr. 1B H314; Aquatic Acute 1 H400",
    ),
    (
        *(EU, "50-00-0", "605-001-00-5", "ATP22"),
        "Carc. 1B H350; Muta. 2 H341; Acute Tox. 2 H330; Acute Tox. 4 H302; Skin Corr. 1B H314; Skin Sens. 1A H317; "
        "EUH071",
    ),
    (
        *(EU, "25646-71-3", "612-134-00-2", "CLP00"),
        "Acute Tox. 4 H302 *; Skin Sens. 1 H317; Aquatic Acute 1 H400; Aquatic Chronic 1 H410",
    ),
    (
        *(EU, "25646-77-9", "612-133-00-7", "CLP00"),
        "Acute Tox. 3 H301 *; STOT RE 2 H373 *; Skin Sens. 1 H317; Aquatic Acute 1 H400; Aquatic Chronic 1 H410",
    ),
    (EU, "7446-09-5", "016-011-00-9", "ATP21", "Acute Tox. 3 H331; STOT SE 1 H370; Skin Corr. 1B H314"),
    (GB, "7783-06-4", "016-001-00-4", "8th version", "Flam. Gas 1A H220; Acute Tox. 2 H330; Aquatic Acute 1 H400"),
]


@pytest.mark.parametrize(("rules", "cas", "index_number", "edition", "printed"), DIFFERED, ids=lambda v: str(v)[:14])
def test_an_entry_reads_as_its_list_prints_it(rules, cas, index_number, edition, printed):
    """ECHA, Table of harmonised entries, or HSE, GB mandatory classification and labelling list: as printed there."""
    entry = harmonised(cas, rules=rules)
    assert entry is not None
    assert (entry.index_number, entry.in_words) == (index_number, printed)
    assert entry.edition.startswith(edition)
    assert entry.dated


def test_how_many_entries_each_list_gave():
    """69 substances: 17 have no harmonised entry; 13 were looked up in the GB list as well."""
    assert len(all_substances()) == 69
    assert sum(harmonised(known.cas, rules=EU) is None for known in all_substances()) == 17
    assert sum(harmonised(known.cas, rules=GB) is not None for known in all_substances()) == 13


MINIMUM = {"123-31-9": ["Acute Tox. 4 H302"], "62-56-6": ["Acute Tox. 4 H302"], "120-80-9": [], "7664-93-9": []}


@pytest.mark.parametrize(("cas", "marked"), MINIMUM.items())
def test_a_minimum_classification_is_marked(cas, marked):
    assert [str(hazard) for hazard in substance(cas).minimum] == marked


def _kind(hazard: HazardClass) -> tuple[str, str]:
    return hazard.name, hazard.code[:3] if hazard.name == "Acute Tox." else ""


def _place(hazard: HazardClass) -> int:
    """From severe to mild; a sensitiser without sub-category lies between 1A and 1B (CLP Annex I 3.4, from memory)."""
    if hazard.name.endswith("Sens."):
        return ("1A", "1", "1B").index(hazard.category)
    return severity_place(hazard)


@pytest.mark.parametrize("rules", Rules)
@pytest.mark.parametrize("known", all_substances(), ids=lambda known: known.cas)
def test_the_list_is_a_floor(known, rules):
    shipped = substance(known.cas, rules=rules)
    entry = harmonised(known.cas, rules=rules)
    for hazard in entry.classes if entry else ():
        same = [own for own in shipped.classes if _kind(own) == _kind(hazard)]
        assert same
        assert min(map(_place, same)) <= _place(hazard)
    assert set(entry.euh if entry else ()) <= set(shipped.euh)


STRICTER = [  # what stays above the list for protection, and a word of its source
    ("25646-71-3", "Acute Tox. 3 H301", "rat oral LD50 246"),
    ("25646-71-3", "Skin Sens. 1A H317", "Contact Dermatitis 19 (1988) 290"),
    ("25646-77-9", "Skin Sens. 1A H317", "Contact Dermatitis 19 (1988) 290"),
    ("1313-82-2", "EUH031", "hydrogen sulfide"),
    ("1303-96-4", "Eye Irrit. 2 H319", "self-classification"),
    ("95-14-7", "Acute Tox. 4 H302", "self-classification"),
]


@pytest.mark.parametrize(("cas", "kept", "because"), STRICTER)
def test_what_is_stricter_than_the_list_stays_with_its_source(cas, kept, because):
    known = substance(cas)
    assert kept in [*map(str, known.classes), *known.euh]
    assert kept in known.own
    assert because in known.source


def test_figures_of_the_newest_editions():
    assert [(ate.route, ate.value) for ate in substance("50-00-0").ates] == [(Route.GAS, 100), (Route.ORAL, 500)]
    assert [(ate.route, ate.value) for ate in substance("7446-09-5").ates] == [(Route.GAS, 1000)]
    assert substance("7782-50-5").m_acute == 100
    assert substance("50-00-0", rules=GB).limits[0].from_percent == 25  # EUH071 in the GB list only
    assert "EUH071" not in [limit.hazard.code for limit in substance("50-00-0", rules=EU).limits]
    assert harmonised("10043-35-3", rules=EU).notes == ("11",)
    assert harmonised("10043-35-3", rules=GB).notes == ()


ENTRY_TYPES = [  # code, entry type of the government's list, words of it
    ("09 01 06*", "MH", "wastes containing silver from on-site treatment of photographic wastes"),
    ("09 01 11*", "AH", "single-use cameras containing batteries included in 16 06 01, 16 06 02 or 16 06 03"),
    ("09 01 12", "AN", "single-use cameras containing batteries other than those mentioned in 09 01 11"),
    ("09 01 99", "MN", "wastes not otherwise specified"),
    ("09 01 04*", "AH", "fixer solutions"),
    ("15 02 02*", "MH", "absorbents, filter materials (including oil filters not otherwise specified)"),
    ("16 05 07*", "MH", "discarded inorganic chemicals consisting of or containing hazardous substances"),
    ("16 09 01*", "AH", "permanganates, for example potassium permanganate"),
    ("16 09 04*", "AH", "oxidising substances, not otherwise specified"),
    ("20 01 17*", "AH", "photochemicals"),
]


@pytest.mark.parametrize(("code", "entry_type", "words"), ENTRY_TYPES)
def test_a_waste_code_has_the_entry_type_of_the_governments_list(code, entry_type, words):
    """Defra reference list of waste codes, 842 codes with entry types."""
    entry = waste_code(code)
    assert entry.uk_entry_type == entry_type
    assert entry.text.startswith(words)
    assert "Open Government Licence v3.0" in entry.source
    assert "sha256 e6caa3cef95c6a669d777afc5f6d64421cd00e42f5151f93aa60c80289824ebf" in entry.source
    assert entry.edition == "commit abb145203775f4e09b4a76fff8e1a198ca6c5746"


def test_the_nation_picks_the_column_of_an_entry_type():
    silver = waste_code("09 01 06*")
    assert {"mirror" in silver.entry_type(nation) for nation in Nation} == {True}
    assert silver.entry_type("Ruritania") == "always hazardous (EU list, from memory)"
    assert waste_code("16 09 01*").entry_type("Ruritania") == ""


GB_WORDING = [
    ("P312", "Call a POISON CENTRE/doctor if you feel unwell.", "Call a POISON CENTER/doctor if you feel unwell."),
    ("P306+P360", "IF ON CLOTHING: rinse immediately", "IF ON CLOTHING: Rinse immediately"),
    ("P406", "Store in a corrosion-resistant container", "Store in a corrosion resistant container"),
    ("H317", "May cause an allergic skin reaction.", "May cause an allergic skin reaction."),
]


@pytest.mark.parametrize(("code", "gb", "eu"), GB_WORDING)
def test_a_statement_is_worded_as_the_rules_of_the_nation_print_it(code, gb, eu):
    """CLP Annex III and IV, GB text read in a parsed copy of legislation.gov.uk."""
    assert printed_text(code, rules=GB).startswith(gb)
    assert printed_text(code, rules=EU).startswith(eu)


def test_of_each_statement_it_is_said_whether_it_was_read():
    """252: 227 agreed and 4 differ in type (GB text), 2 agreed in the EU's Part 1, 8 second-hand, 11 not found."""
    known = [statement.known for statement in all_statements()]
    assert [known.count(how) for how in ("read", "read second-hand", "remembered")] == [233, 8, 11]


def test_no_exposure_limit_could_be_read_and_chromium_is_in_doubt():
    """EH40 Table 1 itself could not be read; chromium(VI): one UK laboratory page of 2024 prints 0.05, the EU 0.005."""
    assert {row["known"] for row in read_table("exposure_limits")} == {"remembered"}
    (chromium,) = limits_of("7778-50-9", nation="England") or ()
    assert (chromium.twa, "0.05" in chromium.doubt, chromium.confidence) == (0.01, True, "low")


@pytest.mark.parametrize("table", ["substances", "harmonised", "statements", "waste_codes", "exposure_limits"])
def test_each_row_ships_with_its_edition_its_date_and_how_it_is_known(table):
    for row in read_table(table):
        assert row["edition"]
        assert row["dated"]
        assert row["known"] in ("read", "read second-hand", "remembered")
