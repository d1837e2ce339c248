"""The trace both ways: from a lot to baths, work and people; from a use to its baths, their bottles and lots."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import joinedload

from labsys.baths import queries
from labsys.baths.models import Bath, Use, UseBath
from labsys.baths.recall.lots import BottlesOfLot, sorted_by_lot
from labsys.baths.use_pages import counted_in
from labsys.database import DbSession
from labsys.ledger.tracing import came_into, reached_from
from labsys.people.models import Person
from labsys.people.permissions import NotPermitted, Permission, may
from labsys.products.models import Product
from labsys.products.queries import product_or_raise
from labsys.store import queries as store
from labsys.store.models import Bottle
from labsys.waste.models import WasteContainer


@dataclass(frozen=True)
class TracedBath:
    """A bath that something of a lot got into, since when, and whether only out of bottles whose lot is not known."""

    bath: Bath
    since: datetime
    only_not_known: bool


@dataclass(frozen=True)
class TracedUse:
    """Work that went through such baths, and whether that is known to be of the lot or cannot be ruled out."""

    use: Use
    only_not_known: bool
    through: tuple[Bath, ...]


@dataclass(frozen=True)
class LotTrace:
    """All that a lot went into. `uses` are those that whoever asks may see."""

    product: Product
    lot: str
    bottles: BottlesOfLot
    baths: tuple[TracedBath, ...]
    containers: tuple[WasteContainer, ...]
    uses: tuple[TracedUse, ...]

    @property
    def people(self) -> int:
        return len({traced.use.person_id for traced in self.uses})


def trace_lot(session: DbSession, *, product_id: int, lot: str, person: Person) -> LotTrace:
    """Follow a lot forward. Without a lot, the bottles of which nobody noted it. The number of queries is fixed."""
    product = product_or_raise(session, product_id)
    bottles = sorted_by_lot(store.all_bottles_of(session, product_id), lot)
    known = reached_from(session, [bottle.vessel_id for bottle in bottles.of_it])
    doubtful = reached_from(session, [bottle.vessel_id for bottle in bottles.not_known])
    baths = traced_baths(session, known=known, doubtful=doubtful)
    of_vessels = WasteContainer.vessel_id.in_(known.keys() | doubtful.keys())
    containers = session.execute(select(WasteContainer).where(of_vessels).order_by(WasteContainer.id)).scalars().all()
    only_of = None if may(person, Permission.SEE_USES) else person.id
    uses = traced_uses(session, baths, only_of=only_of)
    return LotTrace(product, lot, bottles, tuple(baths), tuple(containers), tuple(uses))


def traced_baths(
    session: DbSession, *, known: Mapping[int, datetime], doubtful: Mapping[int, datetime]
) -> list[TracedBath]:
    """The baths among vessels that were reached, the oldest first."""
    reached = known.keys() | doubtful.keys()
    query = select(Bath).where(Bath.vessel_id.in_(reached)).options(joinedload(Bath.line), joinedload(Bath.product))
    return [
        TracedBath(
            bath,
            since=min(at[bath.vessel_id] for at in (known, doubtful) if bath.vessel_id in at),
            only_not_known=bath.vessel_id not in known,
        )
        for bath in session.execute(query.order_by(Bath.mixed_at, Bath.id)).scalars().unique()
    ]


def traced_uses(session: DbSession, baths: Sequence[TracedBath], *, only_of: int | None = None) -> list[TracedUse]:
    """What went through these baths since the lot was in them, the newest first; only one person's where one is given.

    An entry that was put right counts as it was put right; one taken back counts no more.
    """
    by_id = {traced.bath.id: traced for traced in baths}
    corrections = select(Use.corrects_id).where(Use.corrects_id.is_not(None))
    query = (
        select(Use, UseBath.bath_id)
        .join(UseBath, UseBath.use_id == Use.id)
        .where(UseBath.bath_id.in_(by_id), Use.count > 0, Use.id.not_in(corrections))
        .options(joinedload(Use.person).lazyload(Person.role_rows), joinedload(Use.line))
        .order_by(Use.used_at.desc(), Use.id.desc())
    )
    if only_of is not None:
        query = query.where(Use.person_id == only_of)
    through: dict[int, list[TracedBath]] = {}
    uses: dict[int, Use] = {}
    for use, bath_id in session.execute(query).unique():
        if use.used_at >= by_id[bath_id].since:
            uses[use.id] = use
            through.setdefault(use.id, []).append(by_id[bath_id])
    return [
        TracedUse(
            use,
            only_not_known=all(traced.only_not_known for traced in through[use.id]),
            through=tuple(traced.bath for traced in through[use.id]),
        )
        for use in uses.values()
    ]


@dataclass(frozen=True)
class BackOfBath:
    """One bath that work went through, and the bottles that anything in it came out of by then."""

    bath: Bath
    bottles: tuple[Bottle, ...]
    stocks: tuple[Bath, ...]


def trace_use(session: DbSession, *, use_id: int, person: Person) -> tuple[Use, list[BackOfBath]]:
    """Follow work back, such as a ruined film: one's own, or anybody's for staff. Raises NotPermitted or NotFound."""
    use = queries.use_or_raise(session, use_id)
    if use.person_id != person.id and not may(person, Permission.SEE_USES):
        raise NotPermitted(Permission.SEE_USES)
    came = came_into(session, [part.bath.vessel_id for part in use.baths], until=use.used_at)
    every = set().union(*came.values())
    bottles = select(Bottle).where(Bottle.vessel_id.in_(every)).options(joinedload(Bottle.product)).order_by(Bottle.id)
    of_bottle = {bottle.vessel_id: bottle for bottle in session.execute(bottles).scalars().unique()}
    baths = select(Bath).where(Bath.vessel_id.in_(every)).order_by(Bath.id)
    of_bath = {bath.vessel_id: bath for bath in session.execute(baths).scalars().unique()}
    backs = [
        BackOfBath(
            part.bath,
            bottles=tuple(of_bottle[key] for key in of_bottle if key in came[part.bath.vessel_id]),
            stocks=tuple(
                of_bath[key] for key in of_bath if key in came[part.bath.vessel_id] and key != part.bath.vessel_id
            ),
        )
        for part in counted_in(use)
    ]
    return use, backs
