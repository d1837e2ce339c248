"""The page of all calculations, held to the code it is made from. Nothing is run for it; tables are counted."""

from docs.make_formulae import PAGE, calculations, checks, modules, page
from labsys.chemistry.dilution import split
from labsys.chemistry.temperature import mix_to_temperature


def test_the_page_of_formulae_is_what_the_code_makes_of_it():
    assert PAGE.read_text(encoding="utf-8") == page(), "run: make formulae"


def test_it_names_every_calculation_that_names_a_source():
    told = PAGE.read_text(encoding="utf-8")
    named = [one.__qualname__ for module in modules() for one in calculations(module)]
    assert len(named) > 100
    assert all(f"| `{name}` |" in told for name in named)


def test_checks_are_counted_and_not_everything_has_any():
    counted = checks()
    assert counted[split] >= 10
    assert counted[mix_to_temperature] >= 3
    assert sum(counted.values()) > 300
