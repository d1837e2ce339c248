"""The ledger: over any sequence of acts each unit's postings sum to zero and levels equal the sums."""

import contextlib
from collections.abc import Callable
from datetime import datetime, timedelta

import pytest
from flask import Flask
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule, run_state_machine_as_test
from sqlalchemy import func, select, text
from sqlalchemy.exc import IntegrityError

from labsys.baths import queries as bath_queries
from labsys.baths import service as baths
from labsys.baths.recall import service as recalls
from labsys.baths.recall.models import Fault
from labsys.baths.rules import Taken
from labsys.chemistry.care import SolutionKind
from labsys.database import db, violates
from labsys.ledger import queries, service
from labsys.ledger.models import Account, Movement, Posting, Unit, Vessel, VesselKind
from labsys.ledger.rules import LevelRefused, MovementLine, Unbalanced
from labsys.people.acts import Act, act
from labsys.people.models import Person
from labsys.quantities import UL_PER_ML
from labsys.records.errors import Refused
from labsys.records.transactions import transaction
from labsys.store import counting
from labsys.store import queries as store
from labsys.store.models import Reason, WayOut
from labsys.store.rules import TO_CHOOSE, Counted
from labsys.waste import queries as waste_queries
from labsys.waste import service as waste
from labsys.waste.bottles import throw_away
from labsys.waste.models import WasteKind
from labsys.waste.rules import Poured
from tests.conftest import Templates
from tests.support.lab import SmallLab

some_ml = st.integers(1, 3_000)


class LabLife(RuleBasedStateMachine):
    """Anything people do to matter, in any order; refusals are fine, a book that does not add up is not."""

    new_app: Callable[[], Flask]
    new_lab: SmallLab

    def __init__(self) -> None:
        super().__init__()
        self.context = type(self).new_app().app_context()
        self.context.push()
        self.lab = self.new_lab.resume(db.session)

    def teardown(self) -> None:
        db.session.remove()
        db.engine.dispose()
        self.context.pop()

    @property
    def technician(self) -> Person:
        return self.lab.person("technician")

    @rule(ml=some_ml)
    def receive(self, ml: int) -> None:
        self.lab.add_bottle(SolutionKind.FIXER, amount_ul=ml * UL_PER_ML)

    @rule(ml=some_ml, water=some_ml, left=st.none() | st.integers(0, 3_000), data=st.data())
    def mix(self, ml: int, water: int, left: int | None, data: st.DataObject) -> None:
        bottles = store.bottles(db.session)
        if not bottles:
            return
        bottle = data.draw(st.sampled_from(bottles))
        taken = [Taken(bottle.id, ml * UL_PER_ML, None if left is None else left * UL_PER_ML)]
        self._try(
            lambda: self.lab.mix(
                SolutionKind.FIXER, water_parts=4, working_ml=2_500, taken=taken, water_ul=water * UL_PER_ML
            )
        )

    @rule(ml=some_ml, data=st.data())
    def correct_bottle(self, ml: int, data: st.DataObject) -> None:
        bottles = store.bottles(db.session)
        if bottles:
            bottle_id = data.draw(st.sampled_from([one.id for one in bottles]))
            self._try(
                lambda: counting.correct_level(
                    Act(db.session, by=self.technician, now=self.lab.tick()),
                    bottle_id=bottle_id,
                    found=ml * UL_PER_ML,
                    found_at=self.lab.now,
                )
            )

    @rule(ml=st.integers(0, 3_000), reason=st.sampled_from(TO_CHOOSE), data=st.data())
    def count(self, ml: int, reason: Reason, data: st.DataObject) -> None:
        standing = store.nowhere(db.session)
        if standing:
            looked_at = data.draw(st.lists(st.sampled_from(standing), min_size=1, unique_by=lambda bottle: bottle.id))
            found = [Counted(bottle.id, bottle.vessel.level, ml * UL_PER_ML, reason) for bottle in looked_at]
            act = Act(db.session, by=self.technician, now=self.lab.tick())
            self._try(lambda: counting.count_shelf(act, shelf_id=None, counted=found, counted_at=self.lab.now))

    @rule(fault=st.sampled_from(Fault), data=st.data())
    def recall(self, fault: Fault, data: st.DataObject) -> None:
        here = bath_queries.baths_here(db.session)
        if here:
            bath = data.draw(st.sampled_from(here))
            told = {"bath_id": bath.id, "fault": fault, "why": "Said so", "since": bath.mixed_at}
            act = Act(db.session, by=self.technician, now=self.lab.tick())
            self._try(lambda: recalls.open_recall(act, **told))

    @rule(lot=st.sampled_from(["LOT 1", ""]))
    def recall_lot(self, lot: str) -> None:
        told = {"product_id": self.lab.ids["product fixer"], "lot": lot, "fault": Fault.LOT, "why": "The supplier"}
        act = Act(db.session, by=self.technician, now=self.lab.tick())
        self._try(lambda: recalls.recall_lot(act, **told, with_not_known=True, sets_apart=True))

    @rule(ml=st.integers(0, 3_000), way=st.sampled_from(WayOut), is_done=st.booleans(), data=st.data())
    def throw_away(self, ml: int, way: WayOut, is_done: bool, data: st.DataObject) -> None:
        bottles, containers = store.bottles(db.session), waste_queries.containers_here(db.session)
        if bottles:
            bottle_id = data.draw(st.sampled_from([bottle.id for bottle in bottles]))
            into = data.draw(st.sampled_from(containers)).id if containers else None
            left = {"bottle_id": bottle_id, "way": way, "amount": ml * UL_PER_ML, "note": "Somewhere"}
            act = Act(db.session, by=self.technician, now=self.lab.tick())
            self._try(lambda: throw_away(act, **left, container_id=into, left_at=self.lab.now, is_done=is_done))

    @rule(code=st.sampled_from(["09 01 01*", "09 01 04*", "09 01 99"]), ml=some_ml)
    def open_container(self, code: str, ml: int) -> None:
        self.lab.open_container(code, capacity_ml=ml * 3)

    @rule(ml=some_ml, to_sewer=st.booleans(), is_done=st.booleans(), data=st.data())
    def dump(self, ml: int, to_sewer: bool, is_done: bool, data: st.DataObject) -> None:
        here, containers = bath_queries.baths_here(db.session), waste_queries.containers_here(db.session)
        if not here or not (containers or to_sewer):
            return
        bath = data.draw(st.sampled_from(here))
        container = None if to_sewer else data.draw(st.sampled_from(containers))
        self._try(lambda: self.lab.dump(bath, container, volume_ml=ml, is_done=is_done))

    @rule(data=st.data())
    def undo_mixing(self, data: st.DataObject) -> None:
        here = bath_queries.baths_here(db.session)
        if here:
            bath_id = data.draw(st.sampled_from([one.id for one in here]))
            self._try(
                lambda: baths.undo_mixing(Act(db.session, by=self.technician, now=self.lab.tick()), bath_id=bath_id)
            )

    @rule(ml=some_ml, is_done=st.booleans(), data=st.data())
    def pour(self, ml: int, is_done: bool, data: st.DataObject) -> None:
        containers = waste_queries.containers_here(db.session)
        if containers:
            container_id = data.draw(st.sampled_from([one.id for one in containers]))
            poured = Poured("one-shot developer", "09 01 01*", ml * UL_PER_ML, kind=WasteKind.DEVELOPER)
            self._try(
                lambda: waste.pour(
                    Act(db.session, by=self.technician, now=self.lab.tick()),
                    container_id=container_id,
                    poured=poured,
                    poured_at=self.lab.now,
                    is_done=is_done,
                )
            )

    @precondition(lambda self: bool(waste_queries.containers_here(db.session)))
    @rule(ml=st.none() | some_ml, data=st.data())
    def collect(self, ml: int | None, data: st.DataObject) -> None:
        container = data.draw(st.sampled_from(waste_queries.containers_here(db.session)))
        given = waste.HandedOver(container.id, carrier_ul=None if ml is None else ml * UL_PER_ML)
        self._try(
            lambda: waste.collect(
                Act(db.session, by=self.technician, now=self.lab.tick()),
                handed_over=[given],
                note_code=f"ALDERS/{self.lab.tick():%j%H%M}",
                carrier="Invented Carriers",
                collected_at=self.lab.now,
            )
        )

    def _try(self, what) -> None:
        with contextlib.suppress(Refused):
            what()

    @invariant()
    def the_book_adds_up(self) -> None:
        assert queries.unbalanced_movements(db.session) == []
        assert queries.wrong_levels(db.session) == []
        begun, over = self.lab.now - timedelta(days=3_650), self.lab.now + timedelta(days=1)
        for moment in (begun, self.lab.now - timedelta(minutes=7), self.lab.now):
            balance = queries.balances(db.session, start=moment, end=over)[Unit.UL]
            assert balance.difference == 0
            until = queries.balances(db.session, start=begun, end=moment)[Unit.UL]
            assert _that_stood(until.after) == _that_stood(balance.before) == stood_at(moment)


def stood_at(moment: datetime) -> dict[VesselKind, int]:
    """What stood in the vessels of each kind, by all postings until then: not reckoned back from the levels."""
    posted = (
        select(Vessel.kind, func.sum(Posting.amount))
        .select_from(Posting)
        .join(Vessel, Posting.vessel_id == Vessel.id)
        .join(Movement)
        .where(Movement.happened_at < moment, Posting.unit == Unit.UL)
        .group_by(Vessel.kind)
    )
    return {kind: int(amount) for kind, amount in db.session.execute(posted) if amount}


def _that_stood(amounts: dict[VesselKind, int]) -> dict[VesselKind, int]:
    return {kind: amount for kind, amount in amounts.items() if amount}


def test_any_sequence_of_acts_leaves_a_book_that_adds_up(new_app: Callable[..., Flask], templates: Templates):
    class InNewLabs(LabLife):
        new_lab = templates.lab

    InNewLabs.new_app = staticmethod(new_app)
    run_state_machine_as_test(
        InNewLabs, settings=settings(max_examples=6, stateful_step_count=15, suppress_health_check=list(HealthCheck))
    )


def test_lines_that_do_not_sum_to_zero_are_no_movement(lab: SmallLab):
    vessel = _vessel(lab)
    with pytest.raises(Unbalanced):
        _move(lab.act("manager"), lab, [MovementLine(Account.TAP, -5), MovementLine(vessel, 6)])
    with pytest.raises(Unbalanced, match="counted in"):
        _move(lab.act("manager"), lab, [MovementLine(Account.TAP, -5, Unit.MG), MovementLine(vessel, 5, Unit.MG)])


def test_a_vessel_runs_neither_below_empty_nor_above_full(lab: SmallLab):
    vessel = _vessel(lab)
    with pytest.raises(LevelRefused, match="holds 0 mL: less than the 1 mL"):
        _move(lab.act("manager"), lab, [MovementLine(vessel, -1_000), MovementLine(Account.TAP, 1_000)])
    with pytest.raises(LevelRefused, match="room for 10 mL: less than the 11 mL"):
        _move(lab.act("manager"), lab, [MovementLine(vessel, 11_000), MovementLine(Account.TAP, -11_000)])
    assert queries.wrong_levels(lab.session) == []


def test_the_database_itself_keeps_levels_within_the_vessel(lab: SmallLab):
    vessel = _vessel(lab)
    with pytest.raises(IntegrityError) as refused:
        lab.session.execute(text("UPDATE vessels SET level = capacity + 1 WHERE id = :id"), {"id": vessel.id})
    assert violates(refused.value, "ck_vessels_level")


def test_a_level_set_behind_the_ledgers_back_is_found(lab: SmallLab):
    vessel = _vessel(lab)
    lab.session.execute(text("UPDATE vessels SET level = 7 WHERE id = :id"), {"id": vessel.id})
    assert queries.wrong_levels(lab.session) == [queries.WrongLevel(vessel.id, 7, 0)]


def test_a_movement_is_reversed_once(lab: SmallLab):
    vessel = _vessel(lab)
    movement = _move(lab.act("manager"), lab, [MovementLine(Account.TAP, -5_000), MovementLine(vessel, 5_000)])
    reverse = act(lambda act: service.reverse(act, movement=movement, what="undone"))
    reverse(lab.act("manager"))
    assert vessel.level == 0
    with pytest.raises(IntegrityError) as refused:
        reverse(lab.act("manager"))
    assert violates(refused.value, "uq_movements_reverses_id", columns="movements.reverses_id")


def _vessel(lab: SmallLab) -> Vessel:
    return transaction(service.add_vessel)(lab.session, kind=VesselKind.BATH, capacity=10_000)


@act
def _move(act: Act, lab: SmallLab, lines: list[MovementLine]) -> Movement:
    return service.move(act, what="test", lines=lines, happened_at=lab.now)
