from dataclasses import replace

import pytest

from labsys.brought_in.pages import statement_line
from labsys.documents import guest_label
from labsys.documents.guest_label import GuestLabelData
from labsys.documents.page import Issue, Paper
from labsys.documents.rules import DoesNotFit
from labsys.drawing.pictograms import Pictogram
from labsys.hazards.label import from_h_codes
from labsys.hazards.statements import all_statements
from tests.support.pages import pdf_text

DATA = GuestLabelData(
    issue=Issue(
        lab_name="Alder Street Darkroom",
        issued_by="Sol Haddad",
        issued_at="Mon 2 Mar 2026, 09:00",
        record_number=12,
        record_hash="0123456789",
        scan_address="https://lab.example.org/c/AS-G0001-X",
        scan_code="AS-G0001-X",
    ),
    name="Formaldehyde solution",
    supplier="Made-up Supplies",
    whose="Łukasz Żak",
    until="4 March 2026",
    amount="250 mL",
    conditions="In the fume hood only",
    signal_word="Danger",
    pictograms=(Pictogram("GHS05"), Pictogram("GHS06"), Pictogram("GHS08")),
    statements=("H314 Causes severe skin burns and eye damage.", "H350 May cause cancer."),
    keep_from=("Stop bath, which is acid",),
    emergency=("In the eyes: rinse now.", "Help here: Front desk 01632 960000"),
)


@pytest.mark.parametrize("paper", Paper)
def test_the_label_says_whose_it_is_until_when_what_it_does_and_whom_to_call(paper):
    told = pdf_text(guest_label.draw(replace(DATA, issue=replace(DATA.issue, paper=paper))))
    for words in (
        "Guest bottle",
        "Belongs to Łukasz Żak",
        "Here until 4 March 2026",
        "Danger",
        "H350 May cause cancer.",
        "Not the lab's. Not to be used by others.",
        "In the fume hood only",
        "Help here: Front desk 01632 960000",
        "AS-G0001-X",
        "Alder Street Darkroom",
    ):
        assert words in told


def test_equal_data_gives_equal_bytes():
    assert guest_label.draw(DATA) == guest_label.draw(replace(DATA))


def test_a_label_without_statements_says_so():
    assert guest_label.NO_HAZARDS in pdf_text(
        guest_label.draw(replace(DATA, statements=(), pictograms=(), signal_word=""))
    )


def test_a_long_label_takes_the_length_of_the_sheet_and_a_longer_one_is_refused():
    long = tuple(f"H{300 + number} Something that it does, in a line or two of type." for number in range(30))
    assert long[-1] in pdf_text(guest_label.draw(replace(DATA, statements=long)))
    with pytest.raises(DoesNotFit):
        guest_label.draw(replace(DATA, statements=long * 5))


@pytest.mark.parametrize("code", [one.code for one in all_statements() if one.code.startswith(("H", "EUH"))])
def test_every_code_that_can_be_declared_can_be_shown_and_labelled(code):
    elements = from_h_codes([code], names=("what it is",))
    assert any(code in told for told, _ in (*elements.hazard_statements, *elements.euh_statements))
    assert statement_line(code).startswith(code)
