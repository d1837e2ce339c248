"""What was counted holds: acceptance cases, bad input, two at once, and any mixture of logging and putting right."""

import csv
import io
import random
import threading

import pytest
from flask import Flask
from sqlalchemy import func, select

from labsys.baths import uses
from labsys.baths.models import Bath, BathLine, Place, Use
from labsys.baths.rules import WorkRefused
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.sizes import Material, Pieces, size_of
from labsys.database import db
from labsys.ledger import queries as ledger
from labsys.records import queries as records
from tests.baths.conftest import MIXED, plan, rows
from tests.baths.counting import film
from tests.support.lab import SmallLab
from tests.support.pages import send, source, text


def test_fifty_two_of_fifty_are_saved_new_work_stops_and_the_spare_is_named(lab: SmallLab, member):
    """2.5 L of film fixer at 20 rolls a litre take 50 (process reference: rapid fixer 1+4, 20 rolls/L)."""
    fixer = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500)
    spare = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500, in_service=False)
    lab.log(49)
    log = f"/baths/lines/{fixer.line_id}/log"
    assert send(member, log, film(3)).status_code == 303  # they are done: a fact is never refused
    lab.session.rollback()
    assert lab.session.get_one(Bath, fixer.id).pieces == 52
    assert "52 of 50 rolls" in text(member.get(f"/baths/{fixer.id}"))
    assert "Done in a bath past its capacity" in text(member.get("/uses"))
    stopped = send(member, log, film(1), started="before")
    assert stopped.status_code == 422
    assert f"{fixer.name} {fixer.code} is exhausted. Use the spare {spare.code}" in text(stopped)
    lab.session.rollback()
    assert lab.session.get_one(Bath, fixer.id).pieces == 52


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"went-rc-8x10 in": 3}, "“rc-8x10 in” does not go through this line."),
        (film(10_000), "Enter a number from 1 to 2000."),
        (film("-1"), "Enter a number from 1 to 2000."),
        (film("1.5"), "Write a whole number, such as 12."),
    ],
)
@pytest.mark.sqlite_only
def test_what_cannot_have_gone_through_is_said_and_not_counted(lab: SmallLab, member, typed, said):
    fixer = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500)
    answer = send(member, f"/baths/lines/{fixer.line_id}/log", typed)
    assert answer.status_code == 422
    assert said in text(answer)
    lab.session.rollback()
    assert lab.count(Use) == 0


@pytest.mark.sqlite_only
def test_a_bottle_is_mixed_to_exactly_empty(lab: SmallLab, technician):
    bottle = lab.add_bottle(SolutionKind.FIXER, amount_ul=500_000)
    page = plan(lab, "fixer")
    measured = {**MIXED, **rows((bottle.id, "500 mL")), "water": "2 L"}
    assert send(technician, page, measured).status_code == 303
    lab.session.rollback()
    assert bottle.vessel.level == 0
    assert f'value="{bottle.id}"' not in source(technician.get(page))  # nothing is left to take out of it
    assert ledger.wrong_levels(lab.session) == []


def test_two_people_and_the_last_of_a_bath_in_one_second(lab: SmallLab, app: Flask):
    """One roll is left: of four who are about to start, one does, and the others are sent to the spare."""
    fixer = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500)
    spare = lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500, in_service=False)
    lab.log(49)
    lab.session.commit()
    together, outcomes = threading.Barrier(4), []

    def start() -> None:
        with app.app_context():
            mine = lab.resume(db.session)
            together.wait()
            try:
                mine.log(1, before_start=True)
                outcomes.append("started")
            except WorkRefused as refusal:
                outcomes.append(str(refusal))

    rivals = [threading.Thread(target=start) for _ in range(4)]
    for rival in rivals:
        rival.start()
    for rival in rivals:
        rival.join()
    lab.session.rollback()
    assert outcomes.count("started") == 1
    assert sum(f"Use the spare {spare.code}" in outcome for outcome in outcomes) == 3
    assert lab.session.get_one(Bath, fixer.id).pieces == 50


@pytest.mark.parametrize("seed", [1, 12])
def test_undoing_and_putting_right_keep_every_sum_whole(lab: SmallLab, client_as, seed):
    """Whatever is logged, undone, corrected and mixed anew: people's sums are the lines', and those the baths' own."""
    chance = random.Random(seed)
    lab.mix_film_line()
    lab.mix(SolutionKind.FIXER, water_parts=9, working_ml=2_000, paper=True)
    roles, standing = ("member", "instructor", "technician"), []
    for _ in range(30):
        what = chance.choice(["log", "log", "log", "undo", "correct", "mix"])
        if what == "log":
            on_paper = chance.random() < 0.4
            size, material = (
                ("8x10 in", chance.choice([Material.RC, Material.FIBRE])) if on_paper else ("120", Material.FILM)
            )
            role, line = chance.choice(roles), lab.paper_line_id if on_paper else lab.film_line_id
            of_class = "Evening course" if role == "instructor" and chance.random() < 0.5 else ""
            entry = {"size": size, "material": material, "role": role, "line_id": line, "class_name": of_class}
            standing.append((lab.log(chance.randint(1, 12), **entry).id, role))
        elif what == "mix":
            lab.mix(SolutionKind.FIXER, water_parts=4, working_ml=2_500)
        elif standing:
            use_id, role = standing.pop(chance.randrange(len(standing)))
            use = lab.session.get_one(Use, use_id)
            if what == "undo" and use.corrects_id is None:
                uses.undo_uses(lab.act(role, now=use.recorded_at), use_id=use_id)
            else:
                pieces = Pieces(size_of(key=use.size), use.material, chance.randint(0, 9))
                standing.append(
                    (uses.correct_use(lab.act("technician"), use_id=use_id, pieces=pieces).id, "technician")
                )
    sheet = client_as("instructor").get("/uses/people.csv?from=2026-03-01&to=2026-03-31").get_data(as_text=True)
    by_line: dict[str, list[int]] = {}
    fixer_ul = 0.0
    for row in csv.DictReader(io.StringIO(sheet)):
        sums = by_line.setdefault(row["Line"], [0, 0])
        sums[0] += round(float(row["Area, m²"]) * 1e6)
        sums[1] += int(row["Rolls"]) + int(row["Sheets"])
        fixer_ul += float(row["Fixer, L"]) * 1e6
    columns = (func.sum(Bath.film_mm2 + Bath.rc_mm2 + Bath.fibre_mm2), func.sum(Bath.pieces))
    by_place = select(BathLine.name, Bath.place, *columns).join(Bath.line).group_by(BathLine.name, Bath.place)
    places = lab.session.execute(by_place).all()
    assert all([area, pieces] == by_line.get(line, [0, 0]) for line, _, area, pieces in places)
    used = select(func.sum(Bath.made_up_ul)).where(Bath.place == Place.FIXER, Bath.pieces > 0)
    assert fixer_ul == pytest.approx(lab.session.execute(used).scalar() or 0, abs=1_000)  # rows are rounded to 0.1 mL
    assert ledger.wrong_levels(lab.session) == []
    assert records.find_fault(lab.session) is None
