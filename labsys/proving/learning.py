"""What this lab's own tests say a litre takes: how far baths went that were tested, some of them at least.

Clearing times can only lower a capacity: they say when a bath no longer clears, not what stays in the work. To raise
one takes the drop for silver and the test of the wash on work from the end of five baths' lives.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from labsys.baths.models import Bath, Check, CheckKind
from labsys.baths.tested import fresh_clearing, in_order, less
from labsys.chemistry.bath_rules import Stain
from labsys.chemistry.lasting import Lasted, most_go_on_to
from labsys.chemistry.sizes import UNIT_MM2, Load, Material
from labsys.products.models import LearnedCapacity
from labsys.products.sheet import StatedCapacity
from labsys.proving.models import WashTest

LEAST_BATHS = 3  # tested, before anything is proposed: common practice, no source
RAISING = LearnedCapacity.LEAST_BATHS_TO_RAISE
_TENTHS = 10


@dataclass(frozen=True)
class BathTold:
    """One bath as evidence, in mm² a litre: good up to `good`; `failed` where a test then said that it was spent.

    `silver` and `washed` are the most at which work from it passed each of the two tests, with none failed before.
    """

    bath: Bath
    good: float
    failed: float | None
    silver: float
    washed: float

    @property
    def proven(self) -> float:
        """As far as both tests of finished work carry, and the clearing time does not say otherwise."""
        most = min(self.silver, self.washed)
        return 0 if self.failed is not None and self.failed <= most else most


@dataclass(frozen=True)
class Proposal:
    """What the tests propose beside the figure that counts now, with a range, in mm² a litre."""

    per_litre: int
    low: int
    high: int
    baths: int
    silver_baths: int
    thiosulfate_baths: int
    is_lower: bool


def evidence(
    baths: Iterable[Bath], washes: Sequence[WashTest], *, supplier: Sequence[StatedCapacity], material: Material
) -> list[BathTold]:
    """What each tested bath says of a material, work on other materials weighed by the supplier's figures."""
    per_litre = {stated.material: stated.per_litre for stated in supplier}
    told = (_told(bath, [wash for wash in washes if wash.bath_id == bath.id], per_litre, material) for bath in baths)
    return [each for each in told if each is not None]


def _told(
    bath: Bath, washes: Sequence[WashTest], per_litre: dict[Material, int], material: Material
) -> BathTold | None:
    def reached(test: Check | WashTest, at: Check | WashTest) -> float | None:
        return _reached(bath, test.used, at, per_litre, material)

    fresh, good, failed = fresh_clearing(bath), 0.0, None
    is_tested = False
    for check in in_order(bath):
        if check.kind is not CheckKind.CLEARING_TIME or check.is_fresh or fresh is None:
            continue
        at = reached(check, check)
        if at is None:
            return None
        is_tested = True
        if check.value >= 2 * fresh.value:
            failed = at
            break
        good = max(good, at)
    drops = [check for check in in_order(bath) if check.kind is CheckKind.STAIN]
    silver = _passed([(reached(drop, drop), drop.stain is not Stain.PLAIN) for drop in drops])
    washed = _passed([(reached(wash, wash), wash.is_washed is True) for wash in washes])
    if not is_tested and not silver and not washed:
        return None
    return BathTold(bath, max(good, min(silver, washed)) if failed is None else good, failed, silver, washed)


def _passed(tests: Sequence[tuple[float | None, bool]]) -> float:
    """The most at which a test passed before the first that failed."""
    known = sorted((at, is_passed) for at, is_passed in tests if at is not None)
    most = 0.0
    for at, is_passed in known:
        if not is_passed:
            return most if at > most else 0.0
        most = at
    return most


def _reached(
    bath: Bath, used: Load, test: Check | WashTest, per_litre: dict[Material, int], material: Material
) -> float | None:
    """What had gone through a litre by a test, as if it had all been of one material; None where that is not known."""
    when = test.checked_at if isinstance(test, Check) else test.tested_at
    if bath.rotation is not None:
        used = less(used, bath.rotation.used) if when >= bath.rotation.rotated_at else Load()
    litres = Fraction(sum(batch.volume_ul for batch in bath.batches if batch.mixed_at <= when), 1_000_000)
    went = [other for other in Material if used.area_mm2(other)]
    if not litres or material not in per_litre or any(other not in per_litre for other in went):
        return None
    share = sum((Fraction(used.area_mm2(other), per_litre[other]) for other in went), start=Fraction(0))
    return float(share * per_litre[material] / litres)


def propose(told: Sequence[BathTold], *, counts_now: int) -> Proposal | None:
    """What the evidence proposes beside the figure that counts now; None where it proposes nothing."""
    if len(told) < LEAST_BATHS:
        return None
    careful = most_go_on_to(list(_lasted(told, until_good=True)))
    hopeful = most_go_on_to(list(_lasted(told, until_good=False)))
    silver = sorted((each.silver for each in told if each.silver), reverse=True)
    washed = sorted((each.washed for each in told if each.washed), reverse=True)
    if careful is not None and hopeful is not None and 0 < _down(careful) < counts_now:
        figure = _down(careful)
        return _proposal(figure, figure, _down(hopeful), told, silver, washed, is_lower=True)
    proven = sorted((each.proven for each in told), reverse=True)
    if len(proven) < RAISING:
        return None
    figure = _down(proven[RAISING - 1] if careful is None else min(proven[RAISING - 1], careful))
    if figure <= counts_now:
        return None
    return _proposal(figure, figure, _down(proven[0]), told, silver, washed, is_lower=False)


def _lasted(told: Sequence[BathTold], *, until_good: bool) -> Iterator[Lasted]:
    """Each bath until its last good test, or the test that failed; one that never failed lasted at least so long."""
    for each in told:
        if each.failed is None:
            yield Lasted(each.good, is_at_least=True)
        else:
            yield Lasted(each.good if until_good else each.failed)


def _proposal(
    figure: int,
    low: int,
    high: int,
    told: Sequence[BathTold],
    silver: Sequence[float],
    washed: Sequence[float],
    *,
    is_lower: bool,
) -> Proposal:
    return Proposal(
        per_litre=figure,
        low=low,
        high=max(low, high),
        baths=len(told),
        silver_baths=sum(each >= figure for each in silver),
        thiosulfate_baths=sum(each >= figure for each in washed),
        is_lower=is_lower,
    )


def _down(mm2: float) -> int:
    """Down to a tenth of a roll or sheet."""
    return int(Fraction(mm2) * _TENTHS / UNIT_MM2) * UNIT_MM2 // _TENTHS
