"""Ounces and gallons, two concentrates and what cylinders can read, on the page and on the command line."""

import pytest
from click.testing import CliRunner

from labsys.chemistry.care import SolutionKind
from labsys.cli import main
from labsys.products.rules import ProductRefused, read_dilution
from tests.bench.asking import ask

pytestmark = pytest.mark.sqlite_only


def run(*arguments: str) -> str:
    result = CliRunner().invoke(main, arguments)
    assert result.exit_code == 0, result.output
    return result.output


@pytest.mark.parametrize(
    ("volume", "shown"),
    [("32 US fl oz", "946 mL"), ("1 qt US", "946 mL"), ("1 US gallon", "3785 mL"), ("1 imp. gal", "4546 mL")],
)
def test_a_volume_in_ounces_is_read_and_said_in_ounces_again(member, volume, shown):
    """NIST Handbook 44, appendix C, from memory: 29.5735 mL, 946.353 mL, 3.78541 L; the imperial gallon 4.54609 L."""
    told = ask(member, "dilute", dilution="stock", volume=volume)
    assert shown in told
    assert ("imperial measure" if "imp" in volume else "US measure") in told
    assert shown in run("mix", "stock", volume)


def test_the_ounces_of_the_acid_come_to_those_of_the_army(member):
    """US Army SS0513: 32 fl oz of 28 % from 99.5 % acid are 9 fl oz of acid and 23 of water."""
    told = ask(member, "weaken", strong="99.5", wanted="28", volume="32 US fl oz")
    assert "9.01 US fl oz" in told
    assert "23 US fl oz" in told


def test_the_rounded_ounce_of_a_printed_table_is_not_taken_over(member):
    """The Darkroom Cookbook, 3rd ed., p. 329, prints 225 mL for 7.2 fl oz, 31.25 mL to the ounce; it is 29.57."""
    assert "213 mL" in ask(member, "dilute", dilution="stock", volume="7.2 US fl oz")


def test_two_concentrates_are_measured_each(member):
    told = ask(member, "dilute", dilution="1+1+100", volume="2.04 L", kind="fixer")
    assert told.index("20 mL concentrate A") < told.index("20 mL concentrate B") < told.index("2000 mL water")
    assert "A into the water, stir, then B" in told
    printed = run("mix", "1+1+100", "2.04 L", "--kind", "fixer")
    assert printed.splitlines()[0].startswith("20 mL concentrate A")
    assert '"concentrates_ml": [20.0, 20.0]' in run("mix", "1+1+100", "2.04 L", "--json")


def test_two_concentrates_are_tempered(member):
    """Calculated: 2 × 2040 / 102 = 40 mL in all, 2000 mL of water; 20 °C from 50 and 8 °C takes 12/42 of it hot."""
    told = ask(member, "temper", volume="2040 mL", target="20", hot="50", cold="8", dilution="1+1+100")
    assert "571 mL hot" in told
    assert "20 mL concentrate A, at 20 °C" in told
    assert "20 mL concentrate B, at 20 °C" in told


def test_a_product_is_one_concentrate_and_says_how_to_enter_two():
    with pytest.raises(ProductRefused, match=r"A as 1\+101, B as 1\+101"):
        read_dilution("1+1+100")


def test_water_is_measured_with_what_is_kept_for_nothing(lab, member):
    for nominal_ml, division_ul, kept_for in ((100, 1_000, SolutionKind.FIXER), (2_000, 20_000, None)):
        lab.add_cylinder(nominal_ml, division_ul, kept_for=kept_for)
    told = ask(member, "dilute", dilution="1+24", volume="2 L", kind="fixer")
    assert "80 mL concentrate Fill the 100 mL cylinder to 80 mL." in told
    assert "1920 mL water Fill the 2000 mL cylinder to 1920 mL." in told
