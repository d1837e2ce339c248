"""Where matter went, and where it came from, by the movements that stand: from vessel to vessel."""

from collections.abc import Collection
from datetime import UTC, datetime

from sqlalchemy import exists, literal, select
from sqlalchemy.orm import aliased

from labsys.database import DbSession, UtcDateTime
from labsys.ledger.models import Movement, Posting, Vessel

_EVER = datetime(1900, 1, 1, tzinfo=UTC)


def reached_from(session: DbSession, vessel_ids: Collection[int]) -> dict[int, datetime]:
    """Every vessel that matter out of these got into, and since when; the vessels themselves since ever.

    What was drawn from a vessel before the matter came into it did not carry any on. A movement that was reversed
    moved nothing.
    """
    reached: dict[int, datetime] = {}
    for _, vessel_id, at in _followed(session, vessel_ids, at=_EVER, onwards=True):
        reached[vessel_id] = min(at, reached.get(vessel_id, at))
    return reached


def came_into(session: DbSession, vessel_ids: Collection[int], *, until: datetime) -> dict[int, set[int]]:
    """By vessel, every vessel out of which something got into it by an instant, itself among them."""
    came: dict[int, set[int]] = {vessel_id: set() for vessel_id in vessel_ids}
    for began, vessel_id, _ in _followed(session, vessel_ids, at=until, onwards=False):
        came[began].add(vessel_id)
    return came


def _followed(
    session: DbSession, vessel_ids: Collection[int], *, at: datetime, onwards: bool
) -> list[tuple[int, int, datetime]]:
    """Where one began, what was reached and when, in one recursive statement.

    Each step is a movement that stands, out of a vessel that was reached or into it.
    """
    if not vessel_ids:
        return []
    begun = select(Vessel.id.label("began"), Vessel.id.label("vessel_id"), literal(at, UtcDateTime()).label("at"))
    reached = begun.where(Vessel.id.in_(vessel_ids)).cte("reached", recursive=True)
    here, there, reversal = aliased(Posting), aliased(Posting), aliased(Movement)
    step = (
        select(reached.c.began, there.vessel_id, Movement.happened_at)
        .join_from(reached, here, here.vessel_id == reached.c.vessel_id)
        .join(Movement, Movement.id == here.movement_id)
        .join(there, there.movement_id == Movement.id)
        .where(there.vessel_id.is_not(None), Movement.reverses_id.is_(None))
        .where(~exists().where(reversal.reverses_id == Movement.id))
    )
    if onwards:
        step = step.where(here.amount < 0, there.amount > 0, Movement.happened_at >= reached.c.at)
    else:
        step = step.where(here.amount > 0, there.amount < 0, Movement.happened_at <= reached.c.at)
    reached = reached.union(step)  # each once, so that it ends
    return [(row.began, row.vessel_id, row.at) for row in session.execute(select(reached))]
