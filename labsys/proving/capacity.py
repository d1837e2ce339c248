"""What this lab's tests propose for each capacity of a product, read from its baths."""

from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import joinedload, selectinload

from labsys.baths.models import Bath, BathLine, Place, Work
from labsys.baths.queries import for_life
from labsys.chemistry.sizes import MATERIAL_NAMES, UNIT_MM2, Material
from labsys.database import DbSession
from labsys.products.capacities import capacities_of
from labsys.products.models import LearnedCapacity, Product
from labsys.products.rules import show_dilution
from labsys.products.sheet import CapacityMeasure, StatedCapacity
from labsys.proving.learning import BathTold, Proposal, evidence, propose
from labsys.proving.models import WashTest

MOST_BATHS = 200  # the newest


@dataclass(frozen=True)
class Learning:
    """One capacity: the supplier's figure, the one that counts now, and what the tests say and propose."""

    stated: StatedCapacity
    supplier: int
    counts: StatedCapacity
    told: tuple[BathTold, ...]
    proposal: Proposal | None
    waiting: LearnedCapacity | None

    @property
    def failed(self) -> int:
        return sum(each.failed is not None for each in self.told)


def learning_of(session: DbSession, product: Product, *, water_parts_milli: int, material: Material) -> Learning | None:
    """What the tests say of one capacity; None where the product's sheet has none."""
    wanted = (water_parts_milli, material)
    return next((each for each in learnings(session, product) if _key(each.stated) == wanted), None)


def learnings(session: DbSession, product: Product) -> list[Learning]:
    """What the tests say of every capacity of a product that is counted by area, in a fixed number of queries."""
    baths = _tested_baths(session, product.id)
    washes = _washes(session, [bath.id for bath in baths])
    in_force = {_key(each): each for each in capacities_of(product)}
    sheet = [each for each in product.sheet.capacities if each.measure is CapacityMeasure.AREA]
    found = []
    for stated in sheet:
        work = Work.FILM if stated.material is Material.FILM else Work.PAPER
        alike = [
            bath for bath in baths if bath.water_parts_milli == stated.water_parts_milli and bath.line.work is work
        ]
        same = [each for each in sheet if each.water_parts_milli == stated.water_parts_milli]
        told = evidence(alike, washes, supplier=same, material=stated.material)
        counts = in_force[_key(stated)]
        proposal = propose(told, counts_now=counts.per_litre)
        found.append(
            Learning(stated, stated.per_litre, counts, tuple(told), proposal, _waiting(product, stated, proposal))
        )
    return found


def _waiting(product: Product, stated: StatedCapacity, proposal: Proposal | None) -> LearnedCapacity | None:
    """What a first person approved of the very figure that is proposed, and no second one yet."""
    of_same = [each for each in product.learned if (each.water_parts_milli, each.material) == _key(stated)]
    newest = of_same[-1] if of_same else None
    if newest is None or proposal is None or newest.second_at is not None:
        return None
    same = newest.per_litre == proposal.per_litre and newest.supplier_per_litre == stated.per_litre
    return newest if same else None


def _key(stated: StatedCapacity) -> tuple[int, Material]:
    return stated.water_parts_milli, stated.material


def _tested_baths(session: DbSession, product_id: int) -> list[Bath]:
    """The newest fixing baths of a product that were tested, with all that their tests are weighed by."""
    tested = (
        select(Bath)
        .join(BathLine)
        .where(Bath.product_id == product_id, Bath.place.in_((Place.FIXER, Place.BLEACH_FIX)))
        .options(*for_life(), selectinload(Bath.batches), joinedload(Bath.line))
        .order_by(Bath.id.desc())
        .limit(MOST_BATHS)
    )
    return list(session.execute(tested).scalars().unique())


def _washes(session: DbSession, bath_ids: list[int]) -> list[WashTest]:
    return list(session.execute(select(WashTest).where(WashTest.bath_id.in_(bath_ids))).scalars())


@dataclass(frozen=True)
class BathShown:
    """One bath of the evidence, in rolls or sheets a litre."""

    bath: Bath
    good: str
    failed: str
    silver: str
    washed: str


@dataclass(frozen=True)
class LearningShown:
    """One capacity as its page shows it, in rolls or sheets a litre."""

    learning: Learning
    what: str
    supplier: str
    counts: str
    figure: str
    span: str
    baths: tuple[BathShown, ...]


def shown(learning: Learning) -> LearningShown:
    """Write a capacity and its evidence in rolls or sheets a litre."""
    stated, proposal = learning.stated, learning.proposal
    return LearningShown(
        learning=learning,
        what=f"{show_dilution(stated.water_parts_milli)}, {MATERIAL_NAMES[stated.material]}",
        supplier=_units(stated.per_litre),
        counts=_units(learning.counts.per_litre),
        figure=_units(proposal.per_litre) if proposal else "",
        span=f"{_units(proposal.low)} and {_units(proposal.high)}" if proposal else "",
        baths=tuple(
            BathShown(
                bath=told.bath,
                good=f"at least {_units(told.good)}" if told.failed is None else _units(told.good),
                failed="" if told.failed is None else _units(told.failed),
                silver=_units(told.silver) if told.silver else "",
                washed=_units(told.washed) if told.washed else "",
            )
            for told in learning.told
        ),
    )


def _units(mm2: float) -> str:
    return f"{mm2 / UNIT_MM2:.1f}".removesuffix(".0")
