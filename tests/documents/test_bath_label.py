from dataclasses import replace

import pytest

from labsys.documents import bath_label
from labsys.documents.bath_label import BathLabelData, Ingredient, LabelOverflow, draw
from labsys.documents.page import Paper
from labsys.drawing.pictograms import Pictogram

FIRA_X_HEIGHT = 0.527  # read from the typeface's own OS/2 table: 527 of 1000 units


@pytest.fixture
def data(issue):
    return BathLabelData(
        issue=issue,
        product="Film fixer",
        dilution="1+4",
        volume="2.5 L",
        place="Film line, tank 3",
        mixed_at="Thursday 14 May, 10:20",
        mixed_by="Łukasz Wiśniewski",
        use_by="Thursday 28 May",
        capacity="40 rolls of 135",
        classified=True,
        pictograms=(Pictogram.EXCLAMATION_MARK, Pictogram.ENVIRONMENT),
        signal_word="Warning",
        statements=("H319 Causes serious eye irritation.",),
        precautions=("P280 Wear protective gloves.",),
        ingredients=(Ingredient("Ammonium thiosulfate", "11 % w/w"),),
        protective_equipment=("Nitrile gloves or tongs",),
        keep_from=("Acids: sulfur dioxide",),
        waste="Into the fixer container, W-07",
        waste_code="09 01 04*",
    )


def test_a_label_says_all_a_person_at_the_bath_needs(data, read_back):
    printed = read_back(draw(data))
    for words in (
        "Film fixer, 1+4",
        "2.5 L · Film line, tank 3",
        "Thursday 14 May, 10:20 Łukasz Wiśniewski",
        "Thursday 28 May",
        "40 rolls of 135",
        "QSD-F118-7",
        "Warning",
        "H319 Causes serious eye irritation.",
        "P280 Wear protective gloves.",
        "Ammonium thiosulfate, 11 % w/w",
        "Wear Nitrile gloves or tongs",
        "Keep away from Acids: sulfur dioxide",
        "Into the fixer container, W-07 List of Waste 09 01 04*",
        "In the eyes: rinse now, lids apart, 20 minutes.",
        "The SDS comes first.",
        "Page 1 of 1",
        "Record 1,204 · 3f9a0c… · Issued Friday 15 May 2026, 09:12 by Ελένη Παπαδοπούλου · Quarry Street Darkroom",
    ):
        assert words in printed.text, words
    assert len(printed.pages) == 1
    assert printed.fonts_left_out() == set()
    assert printed.title == "Label of QSD-F118-7: Film fixer, 1+4"
    assert printed.language == "en-GB"


def test_a_bath_that_works_out_as_not_hazardous_says_so_and_keeps_its_supplemental_statement(data, read_back):
    mild = replace(
        data, classified=False, pictograms=(), signal_word="", statements=("EUH210 Safety data sheet available.",)
    )
    text = read_back(draw(mild)).text
    assert "Not classified" in text
    assert "Wear what is listed all the same." in text
    assert "EUH210 Safety data sheet available." in text
    assert "Nitrile gloves or tongs" in text
    assert "Warning" not in text


def test_sections_without_content_are_left_out(data, read_back):
    text = read_back(draw(replace(data, keep_from=(), waste="", waste_code=""))).text
    assert "Keep away from" not in text
    assert "List of Waste" not in text


def test_equal_data_gives_equal_bytes(data):
    assert draw(data) == draw(replace(data))
    assert draw(data) != draw(replace(data, volume="3 L"))


@pytest.mark.parametrize(("paper", "points"), [(Paper.A4, (595, 842)), (Paper.LETTER, (612, 792))])
def test_a_label_prints_on_either_paper(data, read_back, paper, points):
    assert read_back(draw(replace(data, issue=replace(data.issue, paper=paper)))).sizes == {points}


def baselines(printed):
    """Height above the foot of the sheet of every piece of text, with the text."""
    found = []
    printed.reader.pages[0].extract_text(
        visitor_text=lambda text, cm, tm, font, size: text.strip() and found.append((tm[5] * cm[3] + cm[5], text))
    )
    return found


def test_an_ordinary_label_keeps_to_its_half_of_the_sheet(data, read_back):
    printed = read_back(draw(data))
    half = float(printed.reader.pages[0].mediabox.height) / 2
    assert min(height for height, _ in baselines(printed)) > half


def test_a_label_with_much_to_say_takes_the_whole_sheet_and_drops_nothing(data, read_back):
    statements = tuple(f"H{300 + number} A statement of some length, number {number}." for number in range(18))
    printed = read_back(draw(replace(data, statements=statements, pictograms=tuple(Pictogram)[:5])))
    assert len(printed.pages) == 1
    assert all(statement in printed.text for statement in statements)
    assert min(height for height, _ in baselines(printed)) < 60


def test_a_label_that_cannot_be_printed_whole_is_refused_by_name(data):
    with pytest.raises(LabelOverflow) as refusal:
        draw(replace(data, precautions=data.precautions * 300))
    assert refusal.value.code == "QSD-F118-7"


def test_the_smallest_type_reads():
    """1.2 mm of x-height is the least that reads: example label of the German safety institute (read there)."""
    assert bath_label.SMALLEST * FIRA_X_HEIGHT * 25.4 / 72 >= 1.2


def test_a_pictogram_is_never_smaller_than_sixteen_millimetres_a_side():
    """CLP Annex I 1.2.1, table 1.3: at least 10 mm a side, if possible 16 (read there)."""
    assert pytest.approx(16) == bath_label.SMALLEST_SIDE * 25.4 / 72


@pytest.mark.parametrize("count", range(1, 10))
def test_any_number_of_pictograms_keeps_within_its_column_and_apart(count):
    strip = bath_label._Diamonds(tuple(Pictogram)[:count], side=16, width=70)
    assert len(strip.places) == count
    for x, y in strip.places:
        assert 0 <= x <= 70 - strip.diagonal + 1e-9
        assert y + strip.diagonal <= strip.height + 1e-9
    for index, (x, y) in enumerate(strip.places):
        for other_x, other_y in strip.places[:index]:
            assert abs(x - other_x) + abs(y - other_y) >= strip.diagonal - 1e-9


def test_a_long_name_is_printed_whole(data, read_back):
    long = "Selenium toner for warm-tone fibre-based paper, second bath of the archival sequence"
    assert f"{long}, 1+19" in read_back(draw(replace(data, product=long, dilution="1+19"))).text
