"""A film's time comes from the lab's own table: on the plan, on the sheet and at the bench; what is not there is not
known."""

import pytest

from labsys.processes import film_times
from labsys.processes.models import FilmTime
from labsys.processes.service import StepEntry
from labsys.products.models import Product
from tests.planning.furnishing import add_film_process, step_at_20
from tests.planning.looking import address
from tests.support.film_times import add_film_time
from tests.support.lab import SOURCE, SmallLab
from tests.support.pages import fill_in, hidden, links, page_at, pdf_text, press, send, text

TABLE = "/processes/film-times"


@pytest.fixture
def technician(client_as):
    return client_as("technician")


@pytest.fixture
def process(lab: SmallLab):
    """A film process that says of no film how long it takes."""
    steps = [step_at_20("Develop", product_id=lab.ids["product developer"], water_parts_milli=6_000, seconds=480)]
    return add_film_process(lab, steps=steps)


def typed(lab: SmallLab, **changes: str) -> dict[str, str]:
    """What a technician types from a data sheet."""
    fields = {
        "film": "Плёнка Карьер 125",
        "exposure_index": "125",
        "product_id": str(lab.ids["product developer"]),
        "dilution": "1+6",
        "celsius": "20",
        "agitation": "rotary",
        "film_format": "120 or 220",
        "time": "7:30",
        "reuse": "",
        "longer": "",
        "free": "",
        "source": "data sheet, page 2",
    }
    return fields | changes


# The table


def test_a_row_is_entered_changed_and_withdrawn_by_who_keeps_the_store(lab, technician, member):
    assert "No times yet" in text(member.get(TABLE))
    assert "Enter a time" not in text(member.get(TABLE))
    assert send(technician, f"{TABLE}/add", typed(lab)).status_code == 303
    row = "Плёнка Карьер 125, EI 125 PQ liquid concentrate 1+6 20 °C rotary 120 or 220 7:30 min not stated"
    told = text(member.get(TABLE))
    assert row in told
    assert "data sheet, page 2. Entered by Sol Haddad." in told
    time_id = lab.session.query(FilmTime).one().id
    for path in (f"{TABLE}/add", f"{TABLE}/{time_id}/change"):
        assert member.get(path).status_code == 403
    change = f"{TABLE}/{time_id}/change"
    assert 'value="7:30 min"' in page_at(technician, change)
    assert fill_in(technician, change, time="8 min", reuse="longer", longer="10", free="4").status_code == 303
    assert "8 min 10 % longer for each roll in a litre after the first 4" in text(member.get(TABLE))
    assert 'value="10"' in page_at(technician, change)
    assert press(technician, f"{TABLE}/{time_id}/withdraw", at=TABLE).status_code == 303
    told = text(technician.get(TABLE))
    assert "No times yet" in told
    assert "Withdrawn Film" in told
    assert fill_in(technician, change, time="9 min").status_code == 422


REFUSED = [
    ({"source": ""}, "Say where this time is given"),
    ({"film": ""}, "Name the film."),
    ({"exposure_index": ""}, "Enter the exposure index"),
    ({"exposure_index": "0"}, "must be above zero"),
    ({"agitation": ""}, "Say how it is agitated."),
    ({"dilution": "1:6"}, "1:6"),
    ({"time": "soon"}, "is not a time"),
    ({"celsius": "68"}, "at most 60"),
    ({"product_id": ""}, "Choose the developer."),
    ({"reuse": "longer"}, "Enter by how much longer"),
    ({"longer": "10"}, "Choose that it is longer"),
    ({"film_format": "glass"}, "Choose what is on the list."),
]


@pytest.mark.sqlite_only
@pytest.mark.parametrize(("changes", "message"), REFUSED)
def test_a_row_that_cannot_be_is_refused(lab, technician, changes, message):
    answer = send(technician, f"{TABLE}/add", typed(lab, **changes))
    assert answer.status_code == 422
    assert message in text(answer)
    assert lab.count(FilmTime) == 0


def test_one_way_of_developing_has_one_row(lab, technician):
    assert send(technician, f"{TABLE}/add", typed(lab)).status_code == 303
    again = send(technician, f"{TABLE}/add", typed(lab, time="9 min"))
    assert again.status_code == 422
    assert "Change that one." in text(again)
    assert send(technician, f"{TABLE}/add", typed(lab, exposure_index="250", time="9 min")).status_code == 303


def test_two_who_change_a_row_at_once_do_not_overwrite_each_other(lab, technician):
    change = f"{TABLE}/{add_film_time(lab).id}/change"
    opened = page_at(technician, change)
    assert fill_in(technician, change, time="8 min").status_code == 303
    late = technician.post(change, data={**typed(lab), **hidden(opened)})
    assert late.status_code == 422
    assert "Somebody changed these entries" in text(late)


# The plan


def develop(client, process, **told) -> str:
    """What the plan says of its developing step."""
    told_on_page = text(client.get(address(process, **told)))
    return told_on_page.partition("1. Develop")[2].partition("Hazards")[0]


def test_a_plan_takes_the_time_of_the_film_and_the_sheet_says_the_same(lab, member, process):
    row = add_film_time(lab)
    assert f'<option value="{row.id}">Quarry pan 400, EI 400, 5 s each minute</option>' in page_at(
        member, address(process)
    )
    told = develop(member, process, count=2, film=row.id)
    assert "9:30 min" in told
    assert f"Quarry pan 400, EI 400, 5 s each minute: 9:30 min at 20 °C ({SOURCE})." in told
    plan = page_at(member, address(process, count=2, film=row.id))
    sent = hidden(plan) | {"process_id": process.id, "size": "120", "count": 2, "film": row.id}
    printed = pdf_text(member.post("/documents/session-sheet", data=sent, follow_redirects=True).data)
    assert "9:30 min" in printed
    assert "8 min" not in printed


def test_without_a_film_or_a_row_for_it_the_time_is_not_known(lab, member, process):
    row = add_film_time(lab)
    other = "Another film or exposure index: not in the lab's table"
    assert other in text(member.get(address(process)))
    for told in ({}, {"film": "another"}, {"film": row.id, "size": "135-36"}, {"film": row.id, "size": "4x5 in"}):
        said = develop(member, process, **{"count": 2, "volume": "2500 mL", **told})
        assert "not known" in said, told
        assert "8 min" not in said, told
    assert "None stands for all of them." in develop(member, process, count=2)
    said = develop(member, process, count=2, film="another")
    assert "Not known for this film: the lab's developing times have no row for this film" in said


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"exposure_index": 800, "seconds": 720}, "12 min"),
        ({"agitation": "rotary", "seconds": 400}, "6:40 min"),
        ({"film": "Quarry pan 100", "exposure_index": 100, "seconds": 330}, "5:30 min"),
    ],
)
def test_film_exposure_index_and_agitation_are_told_apart(lab, member, process, changes, told):
    first, second = add_film_time(lab), add_film_time(lab, **changes)
    assert "9:30 min" in develop(member, process, count=2, film=first.id)
    assert told in develop(member, process, count=2, film=second.id)


def test_a_dilution_has_its_own_time(lab, member, process):
    product = lab.session.get_one(Product, lab.ids["product developer"])
    product.dilutions.append(type(product.dilutions[0])(water_parts_milli=20_000, use="once only"))
    lab.session.commit()
    row = add_film_time(lab)
    assert "Not known for this film" in develop(member, process, count=2, film=row.id, dilution=20_000)
    add_film_time(lab, water_parts_milli=20_000, seconds=840)
    assert "14 min" in develop(member, process, count=2, film=row.id, dilution=20_000)


def test_the_nearest_temperature_is_corrected_and_another_developer_is_another_row(lab, member, process):
    """9:30 at 20 °C and Q10 2.5 come to 7:55 at 22 °C: 570 × 2.5^(−0.2) = 474.5 s, in steps of 5 s; calculated."""
    row = add_film_time(lab)
    assert "7:55 min" in develop(member, process, count=2, film=row.id, celsius=22)
    add_film_time(lab, temperature_milli_c=22_000, seconds=450)
    assert "7:30 min" in develop(member, process, count=2, film=row.id, celsius=22)


def test_a_withdrawn_row_is_used_no_more(lab, member, technician, process):
    row = add_film_time(lab)
    film_times.withdraw_film_time(lab.act("technician"), time_id=row.id)
    answer = member.get(address(process, count=2, film=row.id))
    assert answer.status_code == 422
    assert "has no developing time in this developer any more" in text(answer)


REUSED = [
    # 15 rolls through 2.5 L are 6 a litre; 10 % longer for each beyond 4 (a rule in a French photographic-club course):
    # 570 × 1.2 = 684 s, in steps of 5 s. Calculated.
    ({"longer_ppm": 100_000, "free_milli": 4_000}, "11:25 min"),
    ({"longer_ppm": 0}, "9:30 min"),
    ({"longer_ppm": None}, "how much longer it needs then is not stated"),
]


@pytest.mark.parametrize(("changes", "told"), REUSED)
def test_rolls_that_went_through_a_developer_already_count_as_the_row_states(lab, member, process, changes, told):
    row = add_film_time(lab, **changes)
    lab.mix_film_line()
    assert "9:30 min" in develop(member, process, count=2, film=row.id)
    lab.log(15)
    said = develop(member, process, count=2, film=row.id)
    assert told in said
    assert ("not known" in said) is (changes["longer_ppm"] is None)


def test_the_time_of_the_process_stands_in_only_where_it_says_so(lab, member, technician, process):
    assert "by the film (8 min written)" in text(member.get(f"/processes/{process.id}"))
    fields = {"steps-0-any_film": "y"}
    assert fill_in(technician, f"/processes/{process.id}/change", **fields).status_code == 303
    assert "8 min, any film" in text(member.get(f"/processes/{process.id}"))
    assert "8 min" in develop(member, process, count=2)
    row = add_film_time(lab)
    assert "9:30 min" in develop(member, process, count=2, film=row.id)
    other = develop(member, process, count=2, film="another")
    assert "8 min" in other
    assert "No row for this film: the time of every film." in other


# Colour, and the bench


@pytest.mark.parametrize(("celsius", "way"), [(37, "up to 38 °C"), (39, "down to 38 °C")])
def test_colour_is_brought_up_or_down_and_its_short_time_is_no_fault(lab, member, celsius, way):
    step = {"product_id": lab.ids["product developer"], "water_parts_milli": 6_000, "seconds": 195, "any_film": True}
    colour = add_film_process(lab, name="Colour", steps=[_colour(**step)])
    for said in (develop(member, colour, count=2), develop(member, colour, count=2, celsius=38)):
        assert "3:15 min" in said
        assert "uneven" not in said
    said = develop(member, colour, count=2, celsius=celsius)
    assert f"Bring the developer {way}" in said
    assert "not known" in said


def _colour(**fields):
    return StepEntry(name="Develop", temperature_milli_c=38_000, tolerance_milli_c=250, **fields)


def test_a_row_goes_to_the_bench_with_its_developers_own_data(lab, member):
    add_film_time(lab)
    bench = next(link for link in links(page_at(member, TABLE)) if link.startswith("/bench?"))
    told = text(member.get(bench))
    assert "9:30 min at 20 °C" in told


@pytest.mark.parametrize(
    ("asked", "told", "not_told"),
    [
        ("minutes=3:15&at=38&now=38&low=38&high=38", "3:15 min at 38 °C", "uneven"),
        ("minutes=3:15&at=38&now=38.1&low=37.8&high=38.2", "3:15 min at 38.1 °C", "uneven"),
        ("minutes=3:15&at=38&now=36&low=37&high=39", "Bring the developer up to at least 37 °C", "uneven"),
        ("minutes=3:15&at=38&now=40&low=37&high=39", "Bring the developer down to at most 39 °C", "uneven"),
        (
            "minutes=6&at=20&now=24&low=18&high=24",
            "development would be uneven. Bring the developer back down.",
            "up to",
        ),
        # 4 × 2.5 ^ -0.4 = 2.77 min, calculated: under the 5 min that is uneven in black and white, common practice
        (
            "minutes=4&at=20&now=24&low=18&high=24",
            "2:45 min may come out uneven. Bring the developer back down to 20",
            "up to 20",
        ),
        ("minutes=4&at=20&now=19&low=18&high=24", "at 19 °C", "uneven"),
    ],
)
def test_the_bench_warns_the_right_way(member, asked, told, not_told):
    said = text(member.get(f"/bench?ask=develop&q10=2.5&q10_error=0.3&tau=60&thermometer=0.25&{asked}"))
    assert told in said
    assert not_told not in said
