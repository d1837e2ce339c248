"""The balance: what came in, what is where, what went out. Everything is a sum over postings."""

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import case, func, select

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


def balance(session: DbSession, *, unit: Unit, start: datetime, end: datetime) -> Balance:
    """Add up the postings of one unit: vessels at both ends of the period, accounts within it. End is exclusive.

    What stood in the vessels is reckoned back from what stands in them now, by the postings since: of a long book only
    its newest part is read.
    """
    happened = Movement.happened_at
    within = func.coalesce(func.sum(case((happened < end, Posting.amount))), 0)
    levels = session.execute(
        select(Vessel.kind, func.sum(Vessel.level)).where(Vessel.unit == unit).group_by(Vessel.kind)
    ).all()
    moved = {
        kind: (int(in_period), int(since))
        for kind, in_period, since in session.execute(
            select(Vessel.kind, within, func.sum(Posting.amount))
            .join(Posting, Posting.vessel_id == Vessel.id)
            .join(Movement)
            .where(Posting.unit == unit, happened >= start)
            .group_by(Vessel.kind)
        )
    }
    account_sums = session.execute(
        select(Posting.account, func.sum(Posting.amount))
        .join(Movement)
        .where(Posting.unit == unit, Posting.account.is_not(None), happened >= start, happened < end)
        .group_by(Posting.account)
    ).all()
    before = {kind: int(level) - moved.get(kind, (0, 0))[1] for kind, level in levels}
    return Balance(
        unit=unit,
        before=before,
        after={kind: amount + moved.get(kind, (0, 0))[0] for kind, amount in before.items()},
        accounts={account: int(amount) for account, amount in account_sums if account is not None},
    )


def movements_of(session: DbSession, vessel_id: int) -> list[Movement]:
    """Every movement into or out of a vessel, in the order they were written."""
    chosen = select(Movement).where(Movement.postings.any(Posting.vessel_id == vessel_id)).order_by(Movement.id)
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
