"""The page of all calculations, held to the code it is made from, and the checks it counts. Nothing is run for it."""

from collections import Counter

from docs.evidence import Kind, kind_of, publication_of, publications
from docs.make_formulae import PAGE, all_checks, calculations, modules, page
from labsys.chemistry.dilution import split
from labsys.chemistry.sizes import size_of
from labsys.chemistry.temperature import mix_to_temperature


def test_the_page_of_formulae_is_what_the_code_makes_of_it():
    assert PAGE.read_text(encoding="utf-8") == page(), "run: make formulae"


def test_it_names_every_calculation_that_names_a_source():
    told = PAGE.read_text(encoding="utf-8")
    named = [one.__qualname__ for module in modules() for one in calculations(module)]
    assert len(named) > 100
    assert all(f"| `{name}` |" in told for name in named)


def test_every_row_that_names_a_source_tells_what_kind_it_is():
    """A row says calculated, common practice or from memory, or names a publication of docs/publications.csv."""
    assert not [f"{check.test}: {check.source}" for check in all_checks() if check.kind is None]


def test_checks_are_counted_once_for_what_they_ask():
    counted = Counter(check.calculation for check in all_checks())
    assert counted[split] >= 10
    assert counted[mix_to_temperature] >= 2
    assert counted[size_of] < 40  # it serves many tests that are not about it
    assert Counter(check.kind for check in all_checks())[Kind.PRINTED] > 150


def test_a_doubt_lowers_a_check():
    known = publications()
    assert kind_of("36 CFR 1238.14 (c)", known) is Kind.PRINTED
    assert kind_of("36 CFR 1238.14 (c), from memory", known) is Kind.MEMORY
    assert kind_of("calculated from 36 CFR 1238.14 (c)", known) is Kind.BY_HAND
    assert kind_of("a page somewhere", known) is None


def test_every_publication_is_used_and_says_how_it_was_read():
    known = publications()
    used = {publication_of(check.source, known) for check in all_checks()}
    assert not [one.named for one in known if one not in used]
    assert all(one.title and one.read for one in known)
