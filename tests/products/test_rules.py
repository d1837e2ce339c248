"""Reading H-codes, classes and specific limits as an SDS prints them. The spellings: common practice, no source."""

import pytest

from labsys.chemistry.care import SolutionKind
from labsys.products.hazards import hazards_of
from labsys.products.models import Product, ProductIngredient
from labsys.products.rules import (
    EntriesMoved,
    ProductRefused,
    check_version,
    plain_classes,
    plain_h_codes,
    plain_limits,
)


@pytest.mark.parametrize(
    ("printed", "plain"),
    [
        ("", ""),
        ("Not classified.", "not classified"),
        ("h314, H302;H302  euh031", "H314 H302 EUH031"),
        ("H302 + H332", "H302+H332"),
        ("H350I h361FD", "H350i H361fd"),  # one spelling each in CLP Annex III
        ("H360FD H360Fd", "H360FD H360Fd"),  # two statements in CLP Annex III: capitals say known or suspected
    ],
)
def test_h_codes_come_into_the_spelling_of_the_regulation(printed: str, plain: str):
    assert plain_h_codes(printed) == plain


def test_an_h_code_whose_capitals_matter_is_not_guessed():
    with pytest.raises(ProductRefused, match="H360FD or H360Fd: mind the capitals") as refused:
        plain_h_codes("h360fd")
    assert refused.value.field == "h_codes"


@pytest.mark.parametrize(
    "printed",
    [
        "Acute Tox. 4 H302; Skin Corr. 1B H314; EUH071",
        "Acute Tox. 4, H302; Skin Corr. 1B, H314; EUH071",
        "Acute Tox. 4 (H302), Skin Corr. 1B (H314), EUH071",
        "Acute Tox. 4 * (Oral); H302\nSkin Corr. 1B; H314\nEUH071",
        "Acute  Tox. 4 – H302 ; Skin Corr. 1B: H314; EUH071; Skin Corr. 1B H314",
    ],
)
def test_classes_are_read_however_the_sheet_sets_them_apart(printed: str):
    assert plain_classes(printed) == "Acute Tox. 4 H302; Skin Corr. 1B H314; EUH071"


@pytest.mark.parametrize(
    ("printed", "why"),
    [
        ("H314", "Before H314 stands Skin Corr. 1"),
        ("Skin Sens. 1 H314", "does not fit together"),
        ("Skin Corr. 1B", "has no H-code behind it"),
        ("corrosive", "has no H-code behind it"),
        ("Nasty 1 H999", "H999 is not a hazard statement"),
        ("Skin Corr. 1B EUH071", "“Skin Corr. 1B” has no H-code behind it"),
    ],
)
def test_classes_that_cannot_be_read_are_refused_with_what_can_stand_there(printed: str, why: str):
    with pytest.raises(ProductRefused, match=why):
        plain_classes(printed)


@pytest.mark.parametrize("printed", ["C >= 5 %", "Skin Corr. 1B H314: C > 5", "Skin Corr. 1B H314", "EUH031: some"])
def test_a_limit_that_cannot_be_read_is_refused(printed: str):
    with pytest.raises(ProductRefused):
        plain_limits(printed)


def test_only_a_version_that_was_read_and_has_moved_on_is_refused():
    check_version(seen=None, stands=3)
    check_version(seen=3, stands=3)
    with pytest.raises(EntriesMoved):
        check_version(seen=2, stands=3)


def test_euh208_names_the_sensitiser_and_not_its_neighbours():
    content = {"low_ppm": 10_000, "high_ppm": 20_000, "specific_limits": ""}
    sensitiser = ProductIngredient(name="metol", cas="55-55-0", classification="Skin Sens. 1 H317", **content)
    other = ProductIngredient(name="sodium carbonate", cas="497-19-8", classification="Eye Irrit. 2 H319", **content)
    product = Product(
        name="PQ", kind=SolutionKind.DEVELOPER, h_codes="EUH208", ingredients=[other, sensitiser], version=1
    )
    label = hazards_of(product).label
    ((_code, text),) = label.euh_statements
    assert "metol" in text
    assert "sodium carbonate" not in text
