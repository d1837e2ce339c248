"""The balance: what came in, what is where, what went out. Everything is a sum over postings."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import func, select

from labsys.database import DbSession
from labsys.ledger.models import Account, Movement, Posting, Unit, Vessel, VesselKind


@dataclass(frozen=True)
class Balance:
    """Sums of one unit over a period. Into is above zero; what is in a vessel or an account at the end is its total.

    Attributes:
        before: What stood in each kind of vessel when the period began.
        after: What stood in each kind of vessel when it ended.
        accounts: Net amount into each account within the period; below zero for supplier and tap.
    """

    unit: Unit
    before: dict[VesselKind, int]
    after: dict[VesselKind, int]
    accounts: dict[Account, int]

    @property
    def difference(self) -> int:
        """What the change in the vessels and the flow through the accounts leave over; zero when the book is whole."""
        return sum(self.after.values()) - sum(self.before.values()) + sum(self.accounts.values())

    @property
    def unexplained(self) -> int:
        return self.accounts.get(Account.UNEXPLAINED, 0)


def balances(session: DbSession, *, start: datetime, end: datetime) -> dict[Unit, Balance]:
    """Add up the postings of each unit: vessels at both ends of the period, accounts within it. End is exclusive.

    What stood in the vessels is reckoned back from what stands in them now, by the postings since: of a long book only
    its newest part is read.
    """
    levels = {
        (unit, kind): int(level)
        for unit, kind, level in session.execute(
            select(Vessel.unit, Vessel.kind, func.sum(Vessel.level))
            .where(Vessel.level > 0)
            .group_by(Vessel.unit, Vessel.kind)
        )
    }
    since_start, since_end = _moved_since(session, start), _moved_since(session, end)
    movements = select(Movement.id).where(Movement.happened_at >= start, Movement.happened_at < end)
    account_sums = session.execute(
        select(Posting.unit, Posting.account, func.sum(Posting.amount))
        .where(Posting.movement_id.in_(movements), Posting.account.is_not(None))
        .group_by(Posting.unit, Posting.account)
    ).all()
    found = {unit: Balance(unit=unit, before={}, after={}, accounts={}) for unit in Unit}
    for unit, kind in levels | since_start:  # what was moved since the end was moved since the start
        level = levels.get((unit, kind), 0)
        found[unit].before[kind] = level - since_start.get((unit, kind), 0)
        found[unit].after[kind] = level - since_end.get((unit, kind), 0)
    for unit, account, amount in account_sums:
        if account is not None:
            found[unit].accounts[account] = int(amount)
    return found


def _moved_since(session: DbSession, instant: datetime) -> dict[tuple[Unit, VesselKind], int]:
    """The sum of what was moved in vessels of each kind at an instant or later."""
    movements = select(Movement.id).where(Movement.happened_at >= instant)  # asked so, SQLite begins with these few
    rows = session.execute(
        select(Posting.unit, Vessel.kind, func.sum(Posting.amount))
        .join(Vessel, Posting.vessel_id == Vessel.id)
        .where(Posting.movement_id.in_(movements))
        .group_by(Posting.unit, Vessel.kind)
    )
    return {(unit, kind): int(amount) for unit, kind, amount in rows}


def movements_of(session: DbSession, vessel_id: int) -> list[Movement]:
    """Every movement into or out of a vessel, in the order they were written."""
    posted = select(Posting.movement_id).where(Posting.vessel_id == vessel_id)
    chosen = select(Movement).where(Movement.id.in_(posted)).order_by(Movement.id)
    return list(session.execute(chosen).scalars())


@dataclass(frozen=True)
class WrongLevel:
    vessel_id: int
    level: int
    posted: int


def wrong_levels(session: DbSession) -> list[WrongLevel]:
    """Vessels whose level is not the sum of their postings. There must be none; `labsys verify` looks too."""
    posted = func.coalesce(func.sum(Posting.amount), 0)
    rows = session.execute(
        select(Vessel.id, Vessel.level, posted)
        .outerjoin(Posting, Posting.vessel_id == Vessel.id)
        .group_by(Vessel.id, Vessel.level)
        .having(Vessel.level != posted)
        .order_by(Vessel.id)
    ).all()
    return [WrongLevel(vessel_id, level, int(posted)) for vessel_id, level, posted in rows]


def unbalanced_movements(session: DbSession) -> list[int]:
    """Movements whose postings do not sum to zero in each unit. There must be none."""
    return list(
        session.execute(
            select(Posting.movement_id)
            .group_by(Posting.movement_id, Posting.unit)
            .having(func.sum(Posting.amount) != 0)
            .distinct()
            .order_by(Posting.movement_id)
        ).scalars()
    )
