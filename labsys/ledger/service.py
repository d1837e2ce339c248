"""Steps that move matter. None of them commits: each is part of an act in a room below."""

from collections.abc import Iterable
from datetime import datetime

from sqlalchemy import select, update

from labsys.database import DbSession
from labsys.ledger.models import Movement, Posting, Unit, Vessel, VesselKind
from labsys.ledger.rules import LevelRefused, MovementLine, check_lines
from labsys.people.acts import Act


def add_vessel(session: DbSession, *, kind: VesselKind, capacity: int, unit: Unit = Unit.UL) -> Vessel:
    """Add an empty vessel."""
    vessel = Vessel(kind=kind, unit=unit, capacity=capacity, level=0)
    session.add(vessel)
    session.flush()
    return vessel


def move(
    act: Act, *, what: str, lines: Iterable[MovementLine], happened_at: datetime, reverses: Movement | None = None
) -> Movement:
    """Write one movement and change the levels of its vessels; lines of nothing are left out.

    Raises Unbalanced, or LevelRefused naming the first vessel that would run below empty or above full.
    """
    wanted = [line for line in lines if line.amount]
    check_lines(wanted)
    movement = Movement(
        what=what,
        happened_at=happened_at,
        recorded_at=act.now,
        recorded_by_id=act.actor.id,
        reverses_id=reverses.id if reverses else None,
    )
    for line in wanted:
        vessel = line.where if isinstance(line.where, Vessel) else None
        account = None if isinstance(line.where, Vessel) else line.where
        movement.postings.append(
            Posting(vessel_id=vessel.id if vessel else None, account=account, unit=line.unit, amount=line.amount)
        )
    act.session.add(movement)
    act.session.flush()
    for line in sorted((one for one in wanted if isinstance(one.where, Vessel)), key=_vessel_id):
        _change_level(act.session, line)
    return movement


def reverse(act: Act, *, movement: Movement, what: str) -> Movement:
    """Undo a movement by its opposite. Raises LevelRefused where the matter has moved on since."""
    vessels = {
        vessel.id: vessel
        for vessel in act.session.execute(
            select(Vessel).where(Vessel.id.in_([p.vessel_id for p in movement.postings if p.vessel_id]))
        ).scalars()
    }
    lines = []
    for posting in movement.postings:
        where = vessels[posting.vessel_id] if posting.vessel_id else posting.account
        assert where is not None  # noqa: S101 - the table's own check says so
        lines.append(MovementLine(where, -posting.amount, posting.unit))
    return move(act, what=what, lines=lines, happened_at=movement.happened_at, reverses=movement)


def _vessel_id(line: MovementLine) -> int:
    assert isinstance(line.where, Vessel)  # noqa: S101 - narrowed by the caller
    return line.where.id


def _change_level(session: DbSession, line: MovementLine) -> None:
    vessel = line.where
    assert isinstance(vessel, Vessel)  # noqa: S101 - narrowed by the caller
    level = Vessel.level + line.amount
    fits = update(Vessel).where(Vessel.id == vessel.id, level >= 0, level <= Vessel.capacity)
    changed = session.execute(fits.values(level=level).returning(Vessel.id)).scalar_one_or_none()
    session.refresh(vessel)
    if changed is None:
        raise LevelRefused(
            vessel_id=vessel.id, unit=line.unit, change=line.amount, level=vessel.level, capacity=vessel.capacity
        )
