"""What a darkroom does not keep unless somebody answers for it."""

import pytest

from labsys.hazards.cas import check_cas
from labsys.hazards.restricted import all_restricted, restricted_in


@pytest.mark.parametrize(
    ("name", "key"),
    [
        ("Mercury thermometer, 30 cm", "mercury thermometer"),  # common practice, no source
        ("mercury-in-glass thermometer", "mercury thermometer"),
        ("Mercuric chloride intensifier", "mercury"),  # common practice, no source
        ("Potassium dichromate", "chromium(VI)"),  # REACH Annex XIV, HSE reply of 2016
        ("ammonium bichromate, sensitiser", "chromium(VI)"),
        ("Dichromates, mixed", "chromium(VI)"),
        ("Chromium(VI) oxide", "chromium(VI)"),
        ("Sodium cyanide", "cyanide"),  # from memory
        ("Formalin 37 %", "formaldehyde"),  # from memory
        ("Ammoniacal silver, stock", "ammoniacal silver"),  # from memory
        ("Lead acetate toner", "lead salt"),  # from memory
    ],
)
def test_a_restricted_thing_is_known_by_words_in_its_name(name: str, key: str):
    assert [one.key for one in restricted_in(names=[name])] == [key]


@pytest.mark.parametrize(
    "name",
    [
        "Potassium ferricyanide bleach",
        "Spirit thermometer, mercury-free",
        "non-mercury thermometer",
        "Chrome alum hardener",
        "Lead-lined sink",
        "Selenium toner",
    ],
)
def test_what_only_sounds_like_it_is_let_through(name: str):
    assert restricted_in(names=[name]) == ()


def test_a_restricted_ingredient_is_known_by_its_cas_number_whatever_it_is_called():
    """Potassium dichromate is 7778-50-9, from memory."""
    assert [one.key for one in restricted_in(names=["Sensitiser B"], cas=["7778-50-9"])] == ["chromium(VI)"]


def test_every_entry_says_why_what_instead_and_by_what_source():
    for one in all_restricted():
        assert all((one.reason, one.instead, one.source)), one.key
        assert [check_cas(number) for number in one.cas] == list(one.cas)
