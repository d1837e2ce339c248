import pytest
from hypothesis import given
from hypothesis import strategies as st
from reportlab.pdfbase.pdfmetrics import stringWidth

from labsys.documents.fonts import BOLD, MEDIUM, REGULAR, _drawable, fitted, printable


@pytest.mark.parametrize("name", ["Łukasz Wiśniewski", "Ελένη Παπαδοπούλου", "Лена Воронцова", "Nguyễn Thị Ánh", "Zoë"])
def test_names_in_latin_greek_and_cyrillic_print_as_they_are_written(name):
    assert printable(name) == name


@pytest.mark.parametrize(
    ("name", "printed"),
    [
        ("王伟", "[U+738B U+4F1F]"),
        ("王 伟", "[U+738B] [U+4F1F]"),
        ("Mira 王", "Mira [U+738B]"),
        ("e\u0301", "é"),  # written in two characters, printed in one
        ("Ḵ", "K"),  # the letter is kept, its rare accent is not
        ("a\u200db\u202ec", "abc"),  # joiners and marks of direction
        ("a\tb\nc", "a b c"),
        ("\U0001f9ea", "[U+1F9EA]"),
        ("", ""),
    ],
)
def test_what_the_typeface_lacks_is_replaced_as_promised(name, printed):
    assert printable(name) == printed


@given(st.text())
def test_no_text_ever_prints_an_empty_box(words):
    assert {ord(character) for character in printable(words)} <= _drawable()


@given(st.text(alphabet=st.characters(categories=["Lo"]), min_size=1))
def test_a_letter_is_never_lost(words):
    assert printable(words).strip()


@given(words=st.text(alphabet="Wil łΩ…", max_size=80), width=st.floats(20, 300))
def test_a_fitted_line_is_no_wider_than_its_room(words, width):
    for font in (REGULAR, MEDIUM, BOLD):
        assert stringWidth(fitted(words, font=font, size=9, width=width), font, 9) <= width


def test_a_line_that_fits_is_left_alone_and_one_that_does_not_says_so():
    assert fitted("Film fixer", font=REGULAR, size=9, width=200) == "Film fixer"
    assert fitted("Film fixer", font=REGULAR, size=9, width=30).endswith("…")
