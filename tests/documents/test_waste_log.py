from dataclasses import replace

import pytest

from labsys.documents.page import Paper
from labsys.documents.waste_log.data import (
    Balance,
    BalanceLine,
    Collected,
    Container,
    Discharge,
    Pour,
    SilverRange,
    StreamTotal,
    WasteLogData,
    verdict,
)
from labsys.documents.waste_log.drawn import draw

L = 1_000_000


def pours(count, **more):
    return tuple(
        Pour(
            f"{day} May, 10:00",
            f"Film fixer, 1+4 (F-{100 + day})",
            950_000,
            SilverRange(800, 2100),
            "Łukasz W.",
            **more,
        )
        for day in range(1, count + 1)
    )


@pytest.fixture
def balance():
    return Balance(
        came_in=(BalanceLine("From the supplier", 12 * L), BalanceLine("From the tap", 48 * L)),
        went=(BalanceLine("Now in baths", 20 * L), BalanceLine("Evaporated", 400_000, estimate=True)),
        unexplained_ul=0,
    )


@pytest.fixture
def data(issue, balance):
    container = Container("W-07", "Fixer", "09 01 04* fixer solutions", "1 April", "", 18_240_000, 25 * L, pours(3))
    return WasteLogData(issue, "April 2026", balance, containers=(container,))


@pytest.mark.parametrize(
    ("came_in", "went", "unexplained", "sentence"),
    [
        (5 * L, 5 * L, 0, "The sums agree: 5.00 L came in and all of it is accounted for."),
        (0, 0, 0, "The sums agree: 0.00 L came in and all of it is accounted for."),
        (
            5 * L,
            4 * L,
            L,
            "The sums agree but for 1.00 L: 5.00 L came in; 1.00 L of it is missing and written down as unexplained.",
        ),
        (
            5 * L,
            6 * L,
            -L,
            "The sums agree but for 1.00 L: 5.00 L came in; 1.00 L more than that was found and written down as "
            "unexplained.",
        ),
        (
            5 * L,
            4 * L,
            0,
            "The sums do not agree: 1.00 L more came in than is accounted for. Look for a missing entry.",
        ),
        (
            4 * L,
            5 * L,
            0,
            "The sums do not agree: 1.00 L more is accounted for than came in. Look for a missing entry.",
        ),
        (
            5 * L,
            4 * L,
            L // 2,
            "The sums do not agree: 0.50 L more came in than is accounted for. Look for a missing entry.",
        ),
    ],
)
def test_the_log_says_in_words_whether_the_sums_agree(data, read_back, came_in, went, unexplained, sentence):
    balance = Balance((BalanceLine("tap", came_in),), (BalanceLine("baths", went),), unexplained)
    assert verdict(balance).startswith(sentence)
    assert sentence in read_back(draw(replace(data, balance=balance))).text


def test_a_difference_of_one_microlitre_is_not_called_agreement():
    assert "do not agree" in verdict(Balance((BalanceLine("tap", L),), (BalanceLine("baths", L - 1),)))


def test_the_log_prints_period_container_level_pours_and_sums(data, read_back):
    printed = read_back(draw(data))
    for words in (
        "Waste log",
        "April 2026. 1 container, 3 pours.",
        "Fixer · W-07",
        "Holds 18.2 L of 25 L, in use",
        "List of Waste 09 01 04* fixer solutions",
        "Opened 1 April, still open.",
        "2 May, 10:00",
        "Film fixer, 1+4 (F-102)",
        "0.8 to 2.1 g",
        "Łukasz W.",
        "3 pours",
        "2,850",
        "2.4 to 6.3 g",
        "Evaporated, estimate",
        "60.00 L",
        "20.40 L",
        "QSD-F118-7",
    ):
        assert words in printed.text, words
    assert printed.title == "Waste log, April 2026"
    assert printed.fonts_left_out() == set()


def test_equal_data_gives_equal_bytes(data):
    assert draw(data) == draw(replace(data))
    assert draw(data) != draw(replace(data, period="May 2026"))


def test_sixty_pours_run_over_pages_that_each_repeat_the_head_of_the_table(data, read_back):
    (container,) = data.containers
    printed = read_back(draw(replace(data, containers=(replace(container, pours=pours(60)),))))
    assert 2 <= len(printed.pages) <= 3
    assert all("Silver, estimate" in page for page in printed.pages)
    assert all(f"(F-{100 + day})" in printed.text for day in range(1, 61))
    assert "57,000" in printed.text


def test_a_container_nobody_poured_into_says_so(data, read_back):
    (container,) = data.containers
    printed = read_back(draw(replace(data, containers=(replace(container, pours=()),))))
    assert "Nothing was poured into it in this period." in printed.text


def test_a_lab_without_containers_still_has_its_balance(data, read_back):
    printed = read_back(draw(replace(data, containers=())))
    assert "0 containers, 0 pours." in printed.text
    assert len(printed.pages) == 1


def test_a_wrong_pour_and_a_quarantine_are_told_in_words(data, read_back):
    (container,) = data.containers
    wrong = replace(
        container,
        pours=pours(1, wrong_because="fixer into a developer container"),
        quarantined_because="Fixer was poured into it.",
        advice="Leave the ventilation on. Tell the carrier what is in it before it leaves.",
    )
    text = read_back(draw(replace(data, containers=(wrong,)))).text
    assert "Wrong: fixer into a developer container" in text
    assert "In quarantine. Fixer was poured into it." in text
    assert "Leave the ventilation on. Tell the carrier what is in it before it leaves." in text
    assert "hand it over" not in text
    assert "Holds 18.2 L of 25 L, in quarantine" in text


def test_a_collection_shows_both_volumes_and_their_difference(data, read_back):
    (container,) = data.containers
    collected = Collected("30 April", "QUARRY/00014", "Umbercart Carriers", 25 * L, 24_600_000, 27_300_000, "HP 14")
    emptied = replace(container, level_ul=0, closed_at="29 April", collections=(collected,))
    text = read_back(draw(replace(data, containers=(emptied,)))).text
    for words in (
        "QUARRY/00014",
        "Umbercart Carriers",
        "27.3 kg",
        "25.00 L",
        "24.60 L",
        "−0.40 L",
        "HP 14",
        "closed 29 April.",
    ):
        assert words in text, words


def test_a_carrier_who_gave_no_volume_leaves_no_difference(data, read_back):
    (container,) = data.containers
    collected = Collected("30 April", "QUARRY/00014", "Umbercart Carriers", 25 * L)
    text = read_back(draw(replace(data, containers=(replace(container, collections=(collected,)),)))).text
    assert text.count("25.00 L") == 1
    assert "0.00 L" not in text.split("QUARRY/00014")[1]


def test_an_unknown_amount_of_silver_is_never_printed_as_none(data, read_back):
    (container,) = data.containers
    pour = replace(pours(1)[0], silver=None)
    text = read_back(draw(replace(data, containers=(replace(container, pours=(pour,)),)))).text
    assert text.count("not estimated") == 2
    assert "None" not in text


def test_waste_that_holds_no_silver_has_a_dash_and_is_left_out_of_the_sum(data, read_back):
    (container,) = data.containers
    developer = replace(pours(1)[0], bath="Developer", silver=None, holds_silver=False)
    alone = read_back(draw(replace(data, containers=(replace(container, pours=(developer,)),)))).text
    assert "Developer 950 – Łukasz W." in alone
    assert "1 pour 950 –" in alone
    assert "not estimated" not in alone
    beside = read_back(draw(replace(data, containers=(replace(container, pours=(*pours(2), developer)),)))).text
    assert "1.6 to 4.2 g" in beside
    assert "besides" not in beside


def test_a_month_of_a_busy_lab_keeps_to_a_few_pages_and_each_pour_to_one_line(data, read_back):
    """Eight containers and 58 pours; the first page has verdict, balance and streams."""
    (container,) = data.containers
    full = replace(container, pours=tuple(replace(each, poured_at="16 Oct 2026, 09:46") for each in pours(10)))
    streams = (StreamTotal("Fixer", "09 01 04*", 55 * L, 30 * L, 25 * L),)
    printed = read_back(draw(replace(data, streams=streams, containers=(full,) * 8)))
    assert len(printed.pages) <= 5
    assert printed.text.count("16 Oct 2026, 09:46 Film fixer, 1+4 (F-101) 950 0.8 to 2.1 g Łukasz W.") == 8
    first = printed.pages[0]
    places = [
        first.index(words) for words in ("The sums", "Came in", "Fixer 09 01 04* 55.00 L 30.00 L 25.00 L", "W-07")
    ]
    assert places == sorted(places)


def test_a_heading_never_stands_without_its_pours_nor_a_sum_alone(data, read_back):
    (container,) = data.containers
    for count in range(1, 14):
        several = (replace(container, pours=pours(count)),) * 6
        for page in read_back(draw(replace(data, containers=several))).pages:
            assert page.count("Holds 18.2 L") <= page.count("Film fixer, 1+4")
            assert not page.split("Silver, estimate By", 1)[-1].strip().startswith(f"{count} pour")


def test_small_tables_stand_only_where_there_is_something_in_them(data, read_back):
    plain = read_back(draw(data)).text
    for heading in ("To the foul sewer", "Levels corrected", "Powders, by weight"):
        assert heading not in plain
    wrong = Discharge("16 Oct 2026, 09:46", "Fixer", "09 01 04*", 2 * L, "Ελένη", "It belongs in a container.")
    text = read_back(draw(replace(data, discharges=(wrong,)))).text
    assert "To the foul sewer" in text
    assert "Wrong: It belongs in a container." in text
    assert "2,000 Ελένη" in text


def test_a_sum_of_silver_says_how_many_pours_it_leaves_out(data, read_back):
    (container,) = data.containers
    mixed = (*pours(2), replace(pours(1)[0], silver=None))
    text = read_back(draw(replace(data, containers=(replace(container, pours=mixed),)))).text
    assert "1.6 to 4.2 g besides 1 not estimated" in text


@pytest.mark.parametrize(
    ("silver", "words"),
    [
        (SilverRange(800, 2100), "0.8 to 2.1 g"),
        (SilverRange(40, 95), "40 to 95 mg"),
        (SilverRange(0, 0), "0 to 0 mg"),
        (SilverRange(4_220, 10_990), "4.2 to 11.0 g"),
    ],
)
def test_a_range_of_silver_has_one_unit(silver, words):
    assert str(silver) == words


def test_the_log_prints_on_letter_too(data, read_back):
    printed = read_back(draw(replace(data, issue=replace(data.issue, paper=Paper.LETTER))))
    assert printed.sizes == {(612, 792)}
