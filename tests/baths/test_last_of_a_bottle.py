"""Two people take the last of a bottle in the same second: one mixes, the other is told what the book says."""

import threading

from flask import Flask

from labsys.baths.models import Bath
from labsys.baths.rules import Taken
from labsys.chemistry.care import SolutionKind
from labsys.database import db
from labsys.ledger import queries as ledger
from labsys.quantities import UL_PER_ML
from labsys.records import queries as records
from labsys.store.rules import BottleRefused
from tests.support.lab import SmallLab

RIVALS = 4


def test_the_last_of_a_bottle_is_taken_once(lab: SmallLab, app: Flask):
    bottle_id = lab.add_bottle(SolutionKind.FIXER, amount_ul=500 * UL_PER_ML).id
    lab.session.commit()
    together = threading.Barrier(RIVALS)
    outcomes: list[str] = []

    def take() -> None:
        with app.app_context():
            mine = lab.resume(db.session)
            together.wait()
            try:
                mine.mix(
                    SolutionKind.FIXER,
                    water_parts=4,
                    working_ml=2_000,
                    taken=[Taken(bottle_id, 400 * UL_PER_ML)],
                    water_ul=1_600 * UL_PER_ML,
                )
                outcomes.append("mixed")
            except BottleRefused as refusal:
                outcomes.append(str(refusal))

    rivals = [threading.Thread(target=take) for _ in range(RIVALS)]
    for rival in rivals:
        rival.start()
    for rival in rivals:
        rival.join()
    lab.session.rollback()
    assert sorted(outcomes).count("mixed") == 1
    assert sum("By the book AS-B" in outcome and "100 mL" in outcome for outcome in outcomes) == RIVALS - 1
    assert lab.session.query(Bath).count() == 1
    assert ledger.wrong_levels(lab.session) == []
    assert records.find_fault(lab.session) is None
