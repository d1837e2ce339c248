from dataclasses import replace

import pytest

from labsys.documents import blocks
from labsys.documents.blocks import Column, ruled_table
from labsys.documents.page import Paper, bind, text_width


def bound(issue, story, **more):
    return bind(story, title="Register", issue=issue, closing="The local code comes first.", **more)


def table(rows, width):
    return ruled_table((Column("What", 2), Column("How much", 1, figures=True)), rows, width=width)


@pytest.mark.parametrize(
    ("paper", "landscape", "points"),
    [  # ISO 216: 210 × 297 mm; US Letter: 8.5 × 11 in; one point is 1/72 in
        (Paper.A4, False, (595, 842)),
        (Paper.A4, True, (842, 595)),
        (Paper.LETTER, False, (612, 792)),
        (Paper.LETTER, True, (792, 612)),
    ],
)
def test_a_document_comes_on_the_paper_the_lab_prints_on(issue, read_back, paper, landscape, points):
    data = bound(replace(issue, paper=paper), [blocks.words("Hello")], landscape=landscape)
    assert read_back(data).sizes == {points}


def test_every_page_says_which_of_how_many_it_is_who_issued_it_and_where_the_record_stood(issue, read_back):
    rows = [(f"Row {number}", "1 L") for number in range(120)]
    printed = read_back(bound(issue, table(rows, text_width(issue.paper))))
    assert len(printed.pages) > 2
    for number, page in enumerate(printed.pages, start=1):
        assert f"Page {number} of {len(printed.pages)} " in page
        assert "Record 1,204 · 3f9a0c… · Issued Friday 15 May 2026, 09:12 by Ελένη Παπαδοπούλου" in page
        assert "Quarry Street Darkroom" in page
        assert "The local code comes first." in page
        assert "How much" in page


def test_a_row_taller_than_its_page_goes_on_over_the_page_and_loses_nothing(issue, read_back):
    places = [f"Shelf {number}" for number in range(100)]
    rows = [("Before", "1 L"), ("\n".join(places), "100 L"), ("After", "2 L")]
    width = text_width(issue.paper, landscape=True)
    printed = read_back(bound(issue, table(rows, width), landscape=True))
    told = " ".join(printed.pages)
    assert [told.count(f"{place}\n") + told.count(f"{place} ") for place in places] == [1] * 100
    assert "After" in printed.pages[-1]


def test_title_language_and_issuer_stand_in_the_properties(issue, read_back):
    printed = read_back(bound(issue, [blocks.words("Hello")]))
    assert printed.title == "Register"
    assert printed.author == "Quarry Street Darkroom"
    assert printed.language == "en-GB"
    assert str(printed.reader.trailer["/Root"]["/ViewerPreferences"]["/DisplayDocTitle"]).lower() == "true"


def test_every_font_named_is_carried_inside(issue, read_back):
    width = text_width(issue.paper)
    story = [
        blocks.masthead(title="Register", lead="May 2026", issue=issue, width=width),
        blocks.caution(head="Wear gloves.", body="At the developer.", width=width),
        *table([("a", "b")], width),
    ]
    assert read_back(bound(issue, story)).fonts_left_out() == set()


def test_equal_stories_give_equal_bytes(issue):
    one, other = (bound(issue, [blocks.words("Hello")]) for _ in range(2))
    assert one == other
    assert one != bound(issue, [blocks.words("Goodbye")])


def test_words_are_text_and_never_markup(issue, read_back):
    printed = read_back(bound(issue, [blocks.words("1 < 2 & <b>bold</b>\nnext")]))
    assert "1 < 2 & <b>bold</b> next" in printed.text


def test_a_long_table_loses_no_row_where_its_pieces_meet(issue, read_back):
    count = 2 * blocks.ROWS_AT_ONCE + 3
    printed = read_back(
        bound(issue, table([(f"Row-{number};", "") for number in range(count)], text_width(issue.paper)))
    )
    assert all(f"Row-{number};" in printed.text for number in range(count))


def test_a_long_lab_name_and_a_long_title_do_not_run_into_each_other(issue, read_back):
    long = replace(issue, lab_name="Darkroom of the " + "Very " * 30 + "Long Name")
    data = bind([blocks.words("Hello")], title="Title " * 40, issue=long, closing="Closing " * 60)
    assert read_back(data).text.count("…") >= 3


def test_however_long_the_names_the_record_and_the_instant_are_printed_whole(issue, read_back):
    long = replace(issue, issued_by="Władysława Grzegrzółkowska-Źdźbłowiczówna " * 5)
    assert "Record 1,204 · 3f9a0c… · Issued Friday 15 May 2026, 09:12 by" in read_back(bound(long, [])).text
