"""The diary of a bath: one ribbon of its life with a table behind. Shares are calculated from 20 rolls a litre."""

import re
from datetime import timedelta

import pytest

from labsys.baths import rotation
from labsys.baths.diary import _ASKS, Foreseen
from labsys.baths.models import Place
from labsys.chemistry.care import SolutionKind
from tests.support.lab import SmallLab
from tests.support.pages import page_at, queries_of, send, source


def told(page: str) -> list[str]:
    """The words of the table, row by row, the newest first."""
    table = page[page.index("Entry by entry") :]
    rows = re.findall(r"<tr role=\"row\">(.*?)</tr>", table[: table.index("</table>")], re.DOTALL)[1:]
    return [" ".join(re.sub(r"<[^>]+>", " ", row).split()) for row in rows]


def test_everything_that_happened_to_a_bath_is_told_and_drawn(lab: SmallLab, technician, member):
    fixer = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=1_000)
    check = f"/baths/{fixer.id}/check?kind=clearing+time"
    send(technician, check, seconds="40", is_fresh="y")
    lab.tick(days=1)
    lab.log(4)
    lab.tick(days=2)
    lab.log(12)
    send(technician, check, seconds="50")
    lab.dump(fixer, lab.open_container(), volume_ml=1_000)
    page = page_at(technician, f"/baths/{fixer.id}")
    rows = told(page)
    for row, (what, left) in zip(
        rows,
        [
            ("Dumped", "20 %"),
            ("clears in 50 s", ""),
            ("12 of 120", "20 %"),
            ("4 of 120", "80 %"),
            ("clears in 40 s, fresh", ""),
            ("Mixed: 1 L of 1+4", "100 %"),
        ],
        strict=True,
    ):
        assert row.startswith(what)
        assert row.endswith(left)
    drawing = page[page.index("drawing-diary") : page.index("Entry by entry")]
    for words in ("Mixed", "Dumped", "Clearing", "80 s: twice the fresh bath", ">12<", ">20<"):
        assert words in drawing
    assert "now" not in re.findall(r">([^<]*)</text>", drawing)
    assert "liquid-near-end" in drawing
    assert "Łukasz" not in " ".join(told(page_at(member, f"/baths/{fixer.id}")))


def test_a_second_fixer_waits_until_it_is_rotated_and_a_taken_back_use_is_not_told(lab: SmallLab, technician):
    first = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=1_000)
    second = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=1_000, place=Place.SECOND_FIXER)
    lab.log(16)
    rotation.rotate(lab.act("technician"), line_id=lab.film_line_id)
    use = lab.log(5)
    page = page_at(technician, f"/baths/{second.id}")
    assert told(page)[0].endswith("75 %")
    assert "Rotated to the first place" in " ".join(told(page))
    send(technician, f"/uses/{use.id}/correct", size="120", material="film", count="0")
    assert "5 of 120" not in " ".join(told(page_at(technician, f"/baths/{second.id}")))
    assert "16 of 120" in " ".join(told(page_at(technician, f"/baths/{first.id}")))


@pytest.mark.sqlite_only
def test_what_is_foreseen_is_drawn_where_somebody_can_say(lab: SmallLab, technician, app, monkeypatch):
    fixer = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=1_000)
    lab.log(4)
    assert "it ends here" not in page_at(technician, f"/baths/{fixer.id}")
    soon = Foreseen(lab.now + timedelta(days=3), lab.now + timedelta(days=5))
    monkeypatch.setitem(app.extensions, _ASKS, lambda _session, _bath, *, now: soon)
    page = page_at(technician, f"/baths/{fixer.id}")
    assert "it ends here" in page
    assert ">now<" in page
    lab.dump(fixer, lab.open_container(), volume_ml=1_000)
    assert "it ends here" not in page_at(technician, f"/baths/{fixer.id}")


@pytest.mark.sqlite_only
def test_a_bath_whose_capacity_nobody_set_is_not_known_in_its_diary(lab: SmallLab, technician):
    lab.ids["product stop"] = lab.add_product(SolutionKind.STOP, name="Plain stop", capacities=[]).id
    stop = lab.mix(SolutionKind.STOP, water_parts=19, working_ml=1_000)
    lab.log(4)
    assert any(row.endswith("not known") for row in told(page_at(technician, f"/baths/{stop.id}")))
    assert "liquid-unknown" in source(technician.get(f"/baths/{stop.id}"))


@pytest.mark.sqlite_only
def test_a_busy_bath_takes_no_more_queries(lab: SmallLab, technician):
    fixer = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500)
    lab.log(1)
    before = queries_of(technician, f"/baths/{fixer.id}")
    for _ in range(5):
        lab.log(1)
    assert queries_of(technician, f"/baths/{fixer.id}") == before <= 21
