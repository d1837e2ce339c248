"""Decisions about how baths are kept up: one-shot, replenished, seasoned, drawn from stock, and toners apart."""

from dataclasses import asdict, dataclass
from datetime import datetime
from fractions import Fraction
from math import ceil

from labsys.baths import rules
from labsys.baths.models import Bath, Place, Way, Work
from labsys.chemistry.life import State
from labsys.chemistry.sizes import Load
from labsys.quantities import show_volume


@dataclass(frozen=True)
class Drawn:
    """What was really measured out of a stock solution. [µL]"""

    stock_id: int
    amount_ul: int


@dataclass(frozen=True)
class Seasoned:
    """How much of an earlier bath goes into a new one. [µL]"""

    from_bath_id: int
    amount_ul: int


def seasoning_load(old: Bath, amount_ul: int) -> Load:
    """What part of an old bath brings along of all that went through it: its share by volume, rounded up.

    Source:
        Mass balance of a perfectly mixed tank.
    """
    share = Fraction(amount_ul, old.vessel.level)
    return Load(**{name: ceil(amount * share) for name, amount in asdict(rules.counted(old)).items()})


def check_seasoning(bath: Bath, old: Bath, amount_ul: int) -> None:
    """Raise BathRefused unless some of an old bath may season a new one."""
    called = f"{old.name} {old.code}"
    if bath.place is not Place.DEVELOPER:
        raise rules.BathRefused("Only a developer is seasoned.", field="seasoned")
    if (old.line_id, old.place, old.product_id) != (bath.line_id, bath.place, bath.product_id) or old.dumped_at:
        raise rules.BathRefused(
            f"{called} is not the same developer of this line. Season it with none.", field="seasoned"
        )
    if amount_ul > old.vessel.level:
        held, wanted = show_volume(old.vessel.level), show_volume(amount_ul)
        raise rules.BathRefused(f"{called} holds {held}, less than the {wanted} for seasoning.", field="seasoned")
    rules.check_room(capacity_ul=bath.vessel.capacity - bath.vessel.level, volume_ul=amount_ul)


def check_way(way: Way, *, in_service: bool, is_powder: bool, is_drawn: bool) -> None:
    """Raise BathRefused for a stock solution that is none: it is made of a powder, and nothing goes through it."""
    if way is not Way.STOCK:
        return
    if is_drawn or not is_powder:
        raise rules.BathRefused(
            "A stock solution is made up of a powder. Draw from a liquid in its bottle.", field="way"
        )
    if in_service:
        raise rules.BathRefused(
            "Nothing goes through a stock solution: save it as a spare and draw working baths from it.", field="begins"
        )


def check_stock(stock: Bath, product_id: int, *, now: datetime) -> None:
    """Raise BathRefused unless a working bath of a product may be drawn from a stock solution now."""
    called = f"{stock.name} {stock.code}"
    if not stock.is_stock or stock.product_id != product_id:
        raise rules.BathRefused(f"{called} is no stock solution of this product.", field="stock")
    if stock.dumped_at is not None:
        raise rules.BathRefused(f"{called} was dumped already.", field="stock")
    if rules.life(stock, now=now).state is State.EXHAUSTED:
        raise rules.BathRefused(f"{called} has stood too long. Dump it, and make up fresh stock.", field="stock")


def restored_mm2(bath: Bath, *, added_ul: int) -> int:
    """The area that so much replenisher makes good, never more than went through since. [mm²]"""
    rate = bath.replenishing
    if rate is None:
        return 0
    used = bath.used.film_mm2 + bath.used.rc_mm2 + bath.used.fibre_mm2
    return min(max(0, used - rate.restored_mm2), added_ul * rate.rate_mm2 // rate.rate_ul)


def check_may_replenish(bath: Bath, *, working_ul: int) -> None:
    """Raise BathRefused for a bath that is not replenished, or for more than it holds when full."""
    called, holds = f"{bath.name} {bath.code}", bath.vessel.capacity
    if bath.way in (Way.ONE_SHOT, Way.STOCK):
        what = "is used once and dumped" if bath.way is Way.ONE_SHOT else "is a stock solution: make up a new one"
        raise rules.BathRefused(f"{called} {what}.")
    if bath.way is Way.REPLENISHED and bath.replenishing is None:
        raise rules.BathRefused(f"Nobody has said with what {called} is replenished and how much. Say so first.")
    if working_ul > holds:
        raise rules.BathRefused(
            f"{called} holds {show_volume(holds)} when full, less than the {show_volume(working_ul)} to go in. Check "
            "the figure.",
            field="volume",
        )


def to_replenish_ul(bath: Bath) -> int:
    """How much replenisher is due for what went through since it was last made good; none without a rate. [µL]"""
    if bath.replenishing is None:
        return 0
    rate, used = bath.replenishing, bath.used.film_mm2 + bath.used.rc_mm2 + bath.used.fibre_mm2
    return ceil(Fraction(max(0, used - rate.restored_mm2) * rate.rate_ul, rate.rate_mm2))


def to_bleed_ul(bath: Bath, *, added_ul: int) -> int:
    """How much to bleed off first, so that the tank holds no more than when it was mixed. [µL]"""
    if bath.replenishing is None:
        return 0
    return max(0, bath.vessel.level + added_ul - bath.replenishing.tank_ul)


def check_belongs(place: Place, *, work: Work) -> None:
    """Raise BathRefused for a toner among prints that are not toned: each of them would count in it."""
    if place is Place.TONER and work is not Work.TONING:
        raise rules.BathRefused(
            "A toner stands in a line of its own: prints that are not toned do not count in it. Lay out a line for "
            "toning and mix it there."
        )
