"""The page of a plan in a small lab."""

import pytest

from labsys.baths.models import Place
from labsys.chemistry.care import SolutionKind
from labsys.hazards.personal import PersonalFamily
from labsys.inductions.models import Hazard
from labsys.records import queries as records
from labsys.restrictions.service import keep_restriction
from tests.planning.furnishing import add_film_process, add_paper_process
from tests.planning.looking import address, book
from tests.support.assessing import approved
from tests.support.film_times import add_film_time
from tests.support.pages import hidden, links, pdf_text, queries_of, source, statements, text


def test_a_plan_of_fresh_mixes_says_what_to_pour_how_warm_and_how_long(lab, member):
    told = text(member.get(address(add_film_process(lab), cold=4, hot=50, room=20)))
    for words in (
        "Film, PQ 1+6: plan",
        "5 of 120 in 2.5 L",
        "Make up first, in this order",
        "Total darkness: no light at all",
        "PQ liquid concentrate 1+6, 2.5 L",
        "357 mL concentrate 500 mL cylinder, mark 355",
        "2143 mL water",
        "Tap the tank to free air bells.",
        "8 changes, one each minute",
        "Mains water at 4 °C does not wash well",
        "While pouring and mixing: worked out from the SDS",
        "Danger Acetic stop concentrate, in the bottle",
        "Goggles that close all round",
        "The supplier's safety data sheet comes first",
    ):
        assert words in told, words
    assert "% off" not in told


PRINTS = [  # size, count, volume asked for; what is said of a tray bath of 2 L
    ("16x20 in", 2, "3.5 L", "holds 2 L, less than the 3.5 L you need. There is no spare: mix fresh."),
    ("16x20 in", 2, "", "holds 2 L, less than the 4 L you need. There is no spare: mix fresh."),  # 3 to 4 L is usual
    ("8x10 in", 2, "2.5 L", "It holds 2 L, less than the 2.5 L planned, but covers this."),
    ("8x10 in", 2, "", ""),
]


@pytest.mark.parametrize(("size", "count", "volume", "said"), PRINTS)
def test_a_tray_bath_has_to_cover_the_prints_on_page_and_sheet(lab, member, size, count, volume, said):
    """A 16x20 in tray takes 3 to 4 L, an 8x10 in tray 1 L: common practice, no source."""
    process = add_paper_process(lab)
    tray = lab.mix(SolutionKind.FIXER, water_parts=9, working_ml=2_000, paper=True)
    asked = address(process, size=size, count=count, volume=volume)
    page = member.get(asked)
    sent = {"process_id": process.id, "size": size, "count": count, "volume": volume, **hidden(source(page))}
    sheet = member.post("/documents/session-sheet", data=sent, follow_redirects=True)
    for told in (text(page), pdf_text(sheet.data)):
        assert tray.code in told
        assert said in told
        assert ("less than" in told) is bool(said)
        assert ("mix fresh" in told) is ("mix fresh" in said)


def test_shared_baths_take_the_place_of_fresh_mixes(lab, member):
    line = lab.mix_film_line()
    page = member.get(address(add_film_process(lab)))
    told = text(page)
    assert "Make up first" not in told
    for bath in line.values():
        assert bath.code in told
        assert f"/baths/{bath.id}" in links(page.get_data(as_text=True))
    assert "Takes this load; then 45 more of 120." in told  # 20 rolls to the litre, 2.5 L: 50; 5 to come


def test_an_exhausted_fixer_names_the_spare(lab, member):
    line = lab.mix_film_line()
    spare = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500, in_service=False)
    lab.log(50)
    told = text(member.get(address(add_film_process(lab))))
    assert f"{line[Place.FIXER].code} is exhausted: do not use it." in told
    assert f"Use the spare {spare.code}: ask for it to be put in service." in told


@pytest.mark.sqlite_only
def test_the_address_holds_the_plan_and_changing_it_changes_the_plan(lab, member):
    process = add_film_process(lab)
    assert "5 of 120 in 2.5 L" in text(member.get(address(process)))
    assert "2 of 120 in 1 L" in text(member.get(address(process, count=2)))
    assert "5 of 120 in 3 L" in text(member.get(address(process, volume="3 L")))
    assert "6:40 min" in text(member.get(address(process, celsius=22)))
    page = member.get(address(process, celsius="22.5", cold="8", hot="50", volume="3 L")).get_data(as_text=True)
    for field in ('name="celsius" value="22.5"', 'name="volume" value="3 L"', 'name="hot" value="50"'):
        assert field in page, field


@pytest.mark.sqlite_only
def test_the_dilutions_of_the_data_sheet_can_be_chosen(lab, member):
    process = add_film_process(lab)
    told = text(member.get(address(process, dilution=6000)))
    assert "1+6, film" in told
    assert "8 min" in told


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("told", "message"),
    [
        ({"count": 0}, "Enter a whole number from 1 to 500."),
        ({"count": "many"}, "Write a whole number"),
        ({"count": 21}, "At most 20 reels go into one tank."),
        ({"volume": "2 L"}, "5 of 120 need at least 2.25 L; 2 L covers 4."),
        ({"volume": "-1 L"}, "Enter an amount above zero."),
        ({"volume": "much"}, "Write a number and its unit"),
        ({"size": "8x10 cm"}, "This process is not for 8x10 cm. Choose a size."),
        ({"celsius": 68}, "Enter degrees Celsius, from 5 to 60."),
        ({"celsius": "nan"}, "Enter degrees Celsius, from 5 to 60."),
        ({"cold": 50, "hot": 20}, "The hot tap has to be warmer than the cold one."),
        ({"dilution": 9000}, "does not give that dilution"),
    ],
)
def test_what_cannot_be_planned_is_said_and_what_was_typed_is_kept(lab, member, told, message):
    page = member.get(address(add_film_process(lab), **told))
    assert page.status_code == 422
    assert message in text(page)
    kept = next(iter(told.values()))
    if "dilution" not in told and "size" not in told:
        assert f'value="{kept}"' in page.get_data(as_text=True)
    assert "Issue the session sheet" not in text(page)


@pytest.mark.sqlite_only
def test_from_a_process_the_size_is_all_that_is_left_to_choose(lab, member):
    film, paper = add_film_process(lab), add_paper_process(lab)
    page = member.get(f"/plan?process_id={paper.id}")
    assert page.status_code == 200
    assert "8x10 in" in text(page)
    assert "135-36" not in text(page)
    assert "Film, PQ 1+6" in text(member.get("/plan"))
    assert member.get("/plan?process_id=999999").status_code == 404
    assert member.get(f"/plan?process_id={'9' * 30}").status_code == 200
    assert "12 of 8x10 in on RC paper in 1 L" in text(member.get(address(paper, size="8x10 in", count=12)))
    assert film.id != paper.id


@pytest.mark.sqlite_only
def test_without_a_process_the_page_says_what_to_do_first(member):
    assert "No processes yet" in text(member.get("/plan"))


# Bookings and inductions


def test_a_booking_fills_in_the_plan_and_says_what_its_person_lacks(lab, member, client_as):
    process = add_film_process(lab)
    booking = book(lab, process)
    skin = lab.add_induction("Skin care", hazards=frozenset({Hazard.SENSITISER}))
    sink = lab.add_induction("Film sink", station_ids=frozenset({lab.ids["Film sink"]}))
    lab.appoint(skin)
    lab.sign_off(skin)
    page = member.get(f"/plan?booking_id={booking.id}")
    told = text(page)
    assert "4 of 120 in 2 L" in told
    assert "Booked Film sink" in told
    assert "Skin care: held; Film sink: never signed off" in told
    assert "Film sink is missing" in told
    assert f"/inductions/{sink.id}" in links(page.get_data(as_text=True))
    assert f"/bookings/{booking.id}" in links(page.get_data(as_text=True))
    others = text(client_as("instructor").get(f"/plan?booking_id={booking.id}"))
    assert "For Łukasz Żak" in others


@pytest.mark.sqlite_only
def test_a_plan_for_somebody_elses_booking_is_for_those_who_book_for_others(lab, member):
    process = add_film_process(lab)
    booking = book(lab, process, role="instructor")
    assert member.get(f"/plan?booking_id={booking.id}").status_code == 403
    assert member.get("/plan?booking_id=999").status_code == 404


@pytest.mark.sqlite_only
def test_a_blank_plan_names_nobody_and_asks_the_gate_about_nobody(lab, member):
    lab.add_induction("Skin care", hazards=frozenset({Hazard.SENSITISER}))
    told = text(member.get(address(add_film_process(lab), blank="y")))
    assert "For the name is left open" in told
    assert "Inductions needed Skin care" in told
    assert "never signed off" not in told


@pytest.mark.sqlite_only
def test_low_light_shows_the_plan_without_the_pdf(lab, member):
    member.set_cookie("look", "low")
    page = member.get(address(add_film_process(lab))).get_data(as_text=True)
    assert 'data-look="low"' in page
    assert 'class="primary not-low">Issue the session sheet as PDF' in page


@pytest.mark.sqlite_only
def test_looking_at_a_plan_writes_nothing(lab, member):
    process = add_film_process(lab)
    before = records.head(lab.session)
    member.get(address(process))
    assert records.head(lab.session) == before


def test_a_plan_costs_the_same_queries_however_much_stands_in_the_lab(lab, member):
    process = add_film_process(lab)
    lab.mix_film_line()
    first = queries_of(member, address(process))
    lab.mix_film_line()
    for name in ("One more", "And another"):
        lab.add_induction(name, hazards=frozenset({Hazard.SENSITISER}))
        add_film_process(lab, name=name)
    assert queries_of(member, address(process)) == first


def test_a_plan_with_everything_in_it_takes_no_more_than_21_queries(lab, member):
    """A booking, tanks, developing times, an approved assessment, an induction held, and a process not open to them."""
    process = add_film_process(lab)
    lab.mix_film_line()
    lab.add_vessel()
    film = add_film_time(lab)
    approved(lab, process)
    booking_id = book(lab, process).id
    skin = lab.add_induction("Skin care", hazards=frozenset({Hazard.SENSITISER}))
    lab.appoint(skin)
    lab.sign_off(skin)
    asked = f"/plan?booking_id={booking_id}&film={film.id}"
    assert queries_of(member, asked) <= 21
    keep_restriction(
        lab.act("member"), person_id=lab.person("member").id, family=PersonalFamily.HYDROQUINONE, note="", ends_on=None
    )
    lab.session.expire_all()
    with statements() as sent:
        told = text(member.get(asked))
    assert "Film, PQ 1+6 is not open to you" in told
    assert sum(statement.startswith("SELECT") for statement in sent) <= 21
