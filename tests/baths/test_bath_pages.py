"""Lines, the page of a bath, tests of it, and dumping."""

import re

import pytest
from sqlalchemy import select

from labsys.baths import queries
from labsys.baths.models import BathLine, Check, Work
from labsys.chemistry.care import SolutionKind
from labsys.ledger import queries as ledger
from labsys.ledger.models import Account, Unit
from labsys.products.models import ProductIngredient
from labsys.products.sheet import StatedIngredient
from labsys.waste import service as waste
from labsys.waste.models import Discharge, Pour, WasteKind
from labsys.waste.rules import Poured
from tests.support.lab import SmallLab
from tests.support.pages import queries_of, send, source, text


@pytest.fixture
def fixer(lab: SmallLab):
    return lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500)


# Lines


@pytest.mark.sqlite_only
def test_a_line_is_laid_out_and_gets_its_code(lab, technician):
    answer = send(technician, "/baths/lines/add", name="Łódź trays", work="paper", holding="tray", process_id="0")
    assert answer.status_code == 303
    line = queries.line_by_name(lab.session, "Łódź trays")
    assert line.work is Work.PAPER
    assert line.code in text(technician.get(answer.location))
    assert "No baths yet" in text(technician.get(answer.location))


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"name": "", "work": "film"}, "Name the line"),
        ({"name": "Film line", "work": "film"}, "There is a line called Film line already"),
        ({"name": "New line"}, "Choose film or paper"),
        ({"name": "x" * 81, "work": "film"}, "Use at most 80 characters"),
    ],
)
def test_a_line_that_cannot_be_is_refused(lab, technician, fields, message):
    answer = send(technician, "/baths/lines/add", process_id="0", holding="tank", **fields)
    assert answer.status_code == 422
    assert message in text(answer)
    assert f'value="{fields["name"]}"' in answer.get_data(as_text=True)
    assert lab.count(BathLine) == 2


@pytest.mark.sqlite_only
def test_a_lab_without_lines_is_told_what_to_do_first(lab, technician):
    lab.session.query(BathLine).delete()
    lab.session.commit()
    assert "No lines yet" in text(technician.get("/baths"))


@pytest.mark.sqlite_only
def test_the_pages_of_lines_show_every_bath_in_words(lab, member, fixer):
    lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=1_000, in_service=False, name="Spare fixer")
    for path in ("/baths", f"/baths/lines/{lab.film_line_id}"):
        page = text(member.get(path))
        assert "Plenty: about 50 rolls of 120" in page
        assert "Limit: " in page
        assert "Spares" in page
        assert "Put in service" not in page


@pytest.mark.sqlite_only
def test_the_number_of_queries_does_not_grow_with_the_rows(lab, technician, fixer):
    paths = ["/baths", f"/baths/lines/{lab.film_line_id}", f"/baths/{fixer.id}", "/uses", "/baths/mix"]
    paths.append(f"/baths/lines/{lab.film_line_id}/log")
    lab.log(1, role="technician")

    def more(number: int) -> None:
        for index in range(number):
            lab.mix(SolutionKind.STOP, water_parts=19, working_ml=500)
            lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=500, in_service=False, name=f"Spare {index}")
            lab.log(1, role="technician")
            lab.log(1, role="member")

    more(2)
    before = [queries_of(technician, path) for path in paths]
    more(4)
    assert [queries_of(technician, path) for path in paths] == before
    assert max(before) <= 21


# One bath


@pytest.mark.sqlite_only
def test_a_scan_of_the_label_shows_state_limit_every_rule_and_its_source(lab, member, fixer):
    lab.log(5)
    page = text(member.get(f"/baths/{fixer.id}"))
    assert "Plenty: about 45 rolls of 120" in page
    assert "Limit: area. 5 of 50 rolls." in page
    assert "a data sheet made up for the tests" in page
    assert "500 mL from Rapid fixer concentrate" in page
    assert "as intended" in page
    assert "5 of 120" in page


@pytest.mark.sqlite_only
def test_the_hazards_of_the_dilution_are_an_estimate_and_keep_the_gloves_on(lab, member):
    """A sensitiser keeps skin protection at any strength: HSE advice, from memory."""
    developer = lab.mix(SolutionKind.DEVELOPER, water_parts=6, working_ml=2_500)
    page = text(member.get(f"/baths/{developer.id}"))
    assert "Estimate, calculated from the SDS of the concentrate; the SDS comes first." in page
    assert "gloves" in page
    assert "hydroquinone" in page


@pytest.mark.sqlite_only
def test_a_strong_dilution_shows_pictogram_signal_word_and_statements(lab, member):
    """2.7 % of an ingredient with H317 and H351: generic limits of 1 % in CLP Annex I, from memory."""
    strong = lab.mix(SolutionKind.DEVELOPER, water_parts=1, working_ml=500)
    response = member.get(f"/baths/{strong.id}")
    page = text(response)
    assert "Hazard pictogram: health hazard" in page
    assert "May cause an allergic skin reaction" in page
    assert "Suspected of causing cancer" in page
    assert re.search(r"\b(Warning|Danger)\b", page)


@pytest.mark.sqlite_only
def test_a_product_whose_hazards_cannot_be_read_shows_the_sds_instead_of_an_estimate(lab, member, fixer):
    lab.session.add(
        ProductIngredient(
            product_id=fixer.product_id, name="x", cas="64-19-7", low_ppm=1, high_ppm=2, classification="Not a class"
        )
    )
    lab.session.commit()
    page = text(member.get(f"/baths/{fixer.id}"))
    assert "Hazards of the undiluted product" in page
    assert "what is entered of x cannot be read" in page
    assert "Estimate, calculated" not in page


@pytest.mark.sqlite_only
def test_what_went_through_comes_in_pages_by_key_and_names_only_for_those_who_keep_baths(
    lab, member, technician, fixer
):
    for number in range(1, 28):
        lab.log(number)
    page = technician.get(f"/baths/{fixer.id}").get_data(as_text=True)
    assert "Łukasz Żak" in page
    (earlier,) = re.findall(r'rel="prev" href="([^"]+)"', page)
    older = re.findall(r">(\d+ of 120)<", member.get(earlier).get_data(as_text=True))
    assert older == ["2 of 120", "1 of 120"]
    assert "Łukasz" not in text(member.get(f"/baths/{fixer.id}")).replace("Łukasz Żak member", "")


# Tests of a bath


def test_a_clearing_time_twice_the_fresh_one_exhausts_the_bath(lab, technician, member, fixer):
    """Discard at twice the fresh clearing time: NAVEDTRA 14209, Photography (Basic)."""
    path = f"/baths/{fixer.id}/check"
    assert "No clearing time of the fresh bath is written down" in text(technician.get(path))
    send(technician, f"{path}?kind=clearing+time", seconds="40", is_fresh="y")
    answer = send(technician, f"{path}?kind=clearing+time", seconds="80")
    page = text(technician.get(answer.location))
    assert "Written down: clears in 80 s." in page
    assert "Exhausted: do not use" in page
    assert "Limit: clearing time. 80 s, fresh 40 s" in page
    assert "is exhausted: start no new work" in text(member.get(f"/baths/lines/{lab.film_line_id}"))


@pytest.mark.sqlite_only
def test_ph_and_the_colour_of_an_indicator_count_too(lab, technician):
    """A stop bath must stay below pH 5.8: P. Glafkides, Physique et chimie photographique."""
    stop = lab.mix(SolutionKind.STOP, water_parts=19, working_ml=2_500)
    path = f"/baths/{stop.id}/check"
    send(technician, f"{path}?kind=indicator", colour="turning")
    assert "Limit: indicator. Its colour: turning." in text(technician.get(f"/baths/{stop.id}"))
    assert "It must stay below pH 5.8" in text(technician.get(f"{path}?kind=pH"))
    send(technician, f"{path}?kind=pH", ph="6.1", celsius="20")
    assert "Limit: pH. 6.1; it must stay below 5.8." in text(technician.get(f"/baths/{stop.id}"))


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("kind", "fields", "message"),
    [
        ("clearing+time", {"seconds": ""}, "Enter the clearing time in seconds"),
        ("clearing+time", {"seconds": "-5"}, "from 5 to 3600"),
        ("clearing+time", {"seconds": "999999"}, "from 5 to 3600"),
        ("clearing+time", {"seconds": "NaN"}, "from 5 to 3600"),
        ("pH", {"ph": "15"}, "from 0 to 14"),
        ("pH", {"ph": "acid"}, "Write a number"),
        ("indicator", {}, "Choose how its colour looks"),
        ("pH", {"ph": "5", "celsius": "20", "when": "2026-03-29T01:30"}, "did not exist: the clocks went forward"),
        ("pH", {"ph": "5", "celsius": "20", "when": "2026-01-01T10:00"}, "was not mixed yet at that time"),
    ],
)
def test_a_test_that_cannot_be_is_refused(lab, technician, fixer, kind, fields, message):
    """The clock change: 29 March 2026 in Europe/London, by the IANA time zone database."""
    lab.now = lab.now.replace(month=6)
    answer = send(technician, f"/baths/{fixer.id}/check?kind={kind}", **fields)
    assert answer.status_code == 422
    assert message in text(answer)
    assert lab.count(Check) == 0


@pytest.mark.sqlite_only
def test_paper_cannot_be_seen_to_clear(lab, technician):
    paper = lab.mix(SolutionKind.FIXER, water_parts=9, working_ml=1_000, paper=True)
    assert "Clearing time" not in text(technician.get(f"/baths/{paper.id}/check"))
    answer = send(technician, f"/baths/{paper.id}/check?kind=clearing+time", seconds="40")
    assert answer.status_code == 422
    assert "Paper cannot be seen to clear" in text(answer)


# Dumping


def test_a_bath_is_dumped_into_the_right_container_by_the_level_of_the_book(lab, technician, fixer):
    lab.log(10)
    right, wrong = lab.open_container(), lab.open_container("09 01 01*")
    path = f"/baths/{fixer.id}/dump"
    page = technician.get(path).get_data(as_text=True)
    assert re.search(rf'value="{right.id}" checked', page)
    assert page.index(right.label) < page.index("Other containers") < page.index(wrong.label)
    assert 'value="2.5 L"' in page
    assert "Silver in it, an estimate" in page
    answer = send(technician, path, container_id=right.id, volume="2.48 L")
    assert "is dumped." in text(technician.get(answer.location))
    assert "Dumped on" in text(technician.get(f"/baths/{fixer.id}"))
    assert ledger.wrong_levels(lab.session) == []
    (pour,) = lab.session.execute(select(Pour)).scalars()
    assert (pour.volume_ul, pour.wrong_because) == (2_480_000, "")
    assert 0 < pour.silver_low_mg < pour.silver_high_mg


@pytest.mark.sqlite_only
def test_the_right_container_warns_of_what_reacts_there_all_the_same(lab, technician):
    """Acid drives sulfur dioxide out of sulfite: standard chemistry, from memory. Both are waste of one code here."""
    container = lab.open_container("09 01 99")
    stop = lab.mix(SolutionKind.STOP, water_parts=19, working_ml=1_000)
    path = f"/baths/{stop.id}/dump"
    warning = f"Acetic stop concentrate does not go into Used stop {container.label}, which holds Sulfite rinse."
    sulfite = StatedIngredient("sodium sulfite", "7757-83-7", 100_000, 200_000, "EUH031")
    product = lab.add_product(
        SolutionKind.DEVELOPER, name="Sulfite rinse", waste_code="09 01 99", ingredients=[sulfite]
    )
    assert warning not in text(technician.get(path))  # it is what is in the container that counts
    rinse = Poured("rinse", "09 01 99", 500_000, kind=WasteKind.DEVELOPER, product_id=product.id)
    waste.pour(lab.act("member"), container_id=container.id, poured=rinse, poured_at=lab.now)
    page = text(technician.get(path))
    assert f"{warning} Acid drives sulfur dioxide out of sulfite" in page
    answer = send(technician, path, container_id=container.id, volume="1 L")
    assert answer.status_code == 422
    assert "Stop. Do not pour." in text(answer)
    assert lab.count(Pour) == 1


@pytest.mark.sqlite_only
def test_a_wrong_container_is_warned_of_then_recorded_with_the_advice(lab, technician, fixer):
    wrong = lab.open_container("09 01 01*")
    path = f"/baths/{fixer.id}/dump"
    page = text(technician.get(path))
    assert "No container for 09 01 04* stands here" in page
    said = f"Waste of code 09 01 04* does not go into Used developer {wrong.label}, which takes 09 01 01*."
    assert said in page
    stopped = send(technician, path, container_id=wrong.id, volume="2.5 L")
    assert stopped.status_code == 422
    assert "It was poured there already: record it" in source(stopped)
    assert lab.count(Pour) == 0
    answer = send(technician, path, container_id=wrong.id, volume="2.5 L", record_done="y")
    assert answer.status_code == 303
    assert "Never seal it" in text(technician.get(answer.location))
    (pour,) = lab.session.execute(select(Pour)).scalars()
    assert "was poured into Used developer" in pour.wrong_because


@pytest.mark.sqlite_only
def test_the_foul_sewer_stands_apart_with_its_caution_and_is_recorded(lab, technician, fixer):
    lab.open_container()
    path = f"/baths/{fixer.id}/dump"
    lab.drain_to("foul sewer")
    assert "Nothing goes down without a sewer consent that names it." in text(technician.get(path))
    stopped = send(technician, path, container_id="0", volume="2.5 L")
    assert stopped.status_code == 422
    assert "No sewer consent in force names fixer (09 01 04*). It goes into a container." in text(stopped)
    assert "It went down the sink: record it" in source(stopped)
    assert lab.count(Discharge) == 0
    answer = send(technician, path, container_id="0", volume="2.5 L", record_done="y")
    assert "Ring the sewerage undertaker now. Invented Water 01632 960111" in text(technician.get(answer.location))
    assert lab.count(Discharge) == 1
    balance = ledger.balances(lab.session, start=lab.now.replace(year=2025), end=lab.tick(days=1))[Unit.UL]
    assert balance.accounts[Account.FOUL_SEWER] == 2_500_000


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("fields", "message"),
    [
        ({"volume": "2500"}, "Write the unit too"),
        ({"volume": "-1 L"}, "Enter an amount above zero"),
        ({"volume": "5000 L"}, "That is more than 1,000 L"),
        ({"volume": "30 L"}, "has room for 25 L by the book"),
        ({"container_id": ""}, "Choose where it was poured"),
        ({"container_id": "404"}, "Choose what is on the list"),
        ({"when": "2026-03-29T01:30"}, "did not exist: the clocks went forward"),
        ({"when": "2031-03-29T12:30"}, "That is in the future"),
        ({"when": "2026-01-29T12:30"}, "was not mixed yet at that time"),
    ],
)
def test_a_dump_that_cannot_be_is_refused_and_nothing_is_written(lab, technician, fixer, fields, message):
    """The clock change: 29 March 2026 in Europe/London, by the IANA time zone database."""
    right = lab.open_container()
    lab.now = lab.now.replace(month=6)
    answer = send(technician, f"/baths/{fixer.id}/dump", **{"container_id": right.id, "volume": "2.4 L", **fields})
    assert answer.status_code == 422
    assert message in text(answer)
    assert f'value="{fields.get("volume", "2.4 L")}"' in answer.get_data(as_text=True)
    assert queries.bath_or_raise(lab.session, fixer.id).dumped_at is None
    assert lab.count(Pour) == 0


def test_dumping_twice_pours_once(lab, technician, fixer):
    right = lab.open_container()
    path = f"/baths/{fixer.id}/dump"
    opened = technician.get(path).get_data(as_text=True)
    elsewhere = technician.get(path).get_data(as_text=True)
    fields = {"container_id": right.id, "volume": "2.5 L"}
    assert send(technician, path, opened=opened, **fields).status_code == 303
    again = send(technician, path, opened=opened, **fields)
    assert "Saved already" in text(technician.get(again.location))
    stale = send(technician, path, opened=elsewhere, **fields)
    assert stale.status_code == 422
    assert "was dumped already" in text(stale)
    assert lab.count(Pour) == 1


@pytest.mark.sqlite_only
def test_a_dumped_bath_offers_nothing_more_and_refuses_it(lab, technician, fixer):
    lab.dump(fixer, lab.open_container(), volume_ml=2_500)
    page = technician.get(f"/baths/{fixer.id}").get_data(as_text=True)
    assert not re.search(rf"/baths/{fixer.id}/(check|replenish|dump|put-in-service|undo-mixing)", page)
    answer = send(technician, f"/baths/{fixer.id}/check?kind=pH", ph="5", celsius="20")
    assert answer.status_code == 422
    assert "was dumped already" in text(answer)


@pytest.mark.sqlite_only
def test_a_member_sees_a_bath_and_neither_tests_nor_dumps_it(lab, member, client_as, fixer):
    page = member.get(f"/baths/{fixer.id}").get_data(as_text=True)
    for act in ("check", "replenish", "dump"):
        assert f"/baths/{fixer.id}/{act}" not in page
        assert member.get(f"/baths/{fixer.id}/{act}").status_code == 403
    assert client_as("instructor").get(f"/baths/{fixer.id}/check").status_code == 200


@pytest.mark.sqlite_only
def test_a_bath_whose_place_was_taken_waits_to_be_dumped(lab, technician, fixer):
    lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500)
    page = " ".join(technician.get(f"/baths/{fixer.id}").get_data(as_text=True).split())
    assert "it waits to be dumped" in page
    assert f'class="button primary" href="/baths/{fixer.id}/dump"' in page
    line = technician.get(f"/baths/lines/{lab.film_line_id}").get_data(as_text=True)
    assert line.index("Waiting to be dumped") < line.index(f'href="/baths/{fixer.id}/dump"')


@pytest.mark.sqlite_only
def test_a_container_in_quarantine_is_not_suggested(lab, technician, fixer):
    held = lab.open_container()
    stop = lab.mix(SolutionKind.STOP, water_parts=19, working_ml=1_000)
    lab.dump(stop, held, volume_ml=1_000, is_done=True)
    page = technician.get(f"/baths/{fixer.id}/dump").get_data(as_text=True)
    assert "is in quarantine. Use another container" in page
    assert not re.search(rf'value="{held.id}" checked', page)
