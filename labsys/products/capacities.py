"""The one answer to what a litre takes: the supplier's figure, or this lab's own where two people approved it."""

from collections.abc import Iterator
from dataclasses import replace

from labsys.chemistry.sizes import UNIT_MM2
from labsys.products.models import CapacityRule, LearnedCapacity, Product
from labsys.products.sheet import CapacityMeasure, StatedCapacity

_Key = tuple[int, str, str]


def capacities_of(product: Product) -> list[StatedCapacity]:
    """What counts for baths of a product, dilution by dilution and material by material."""
    return list(_in_force(product))


def _in_force(product: Product) -> Iterator[StatedCapacity]:
    learned = {_key(each): each for each in product.learned if each.second_at is not None}
    for rule in product.capacities:
        stated = StatedCapacity(rule.water_parts_milli, rule.material, rule.measure, rule.per_litre, rule.source)
        yield _of_both(stated, learned.pop(_key(rule), None))
    for own in learned.values():
        if own.is_lower:  # the supplier's figure is gone from the sheet; what the tests showed is not
            area = CapacityMeasure.AREA
            yield StatedCapacity(own.water_parts_milli, own.material, area, own.per_litre, source_of(own))


def _of_both(stated: StatedCapacity, own: LearnedCapacity | None) -> StatedCapacity:
    """The lab's own figure; one that raised another supplier's figure than stands now does not count any more."""
    if own is None or (not own.is_lower and stated.per_litre != own.supplier_per_litre):
        return stated
    if own.is_lower and stated.per_litre <= own.per_litre:
        return stated
    return replace(stated, per_litre=own.per_litre, source=source_of(own))


def source_of(own: LearnedCapacity) -> str:
    """By whose word it stands."""
    second = own.second_by.name if own.second_by else ""
    units = own.supplier_per_litre / UNIT_MM2
    return (
        f"This lab's tests of {own.baths} baths, approved by {own.first_by.name} and {second}; "
        f"the supplier gives {units:.3g}"
    )


def _key(row: CapacityRule | LearnedCapacity) -> _Key:
    measure = row.measure if isinstance(row, CapacityRule) else CapacityMeasure.AREA
    return row.water_parts_milli, row.material, measure
