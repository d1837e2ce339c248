"""Pages about baths, by subject: lines, one bath, mixing, tests, uses."""

from labsys.baths.blueprint import bp
from labsys.baths.views import (
    amounts,
    baths,
    by_person,
    change_over,
    late_uses,
    lines,
    mixing,
    recalls,
    replenishing,
    stock,
    testing,
    tracing,
    uses,
)

__all__ = [
    "amounts",
    "baths",
    "bp",
    "by_person",
    "change_over",
    "late_uses",
    "lines",
    "mixing",
    "recalls",
    "replenishing",
    "stock",
    "testing",
    "tracing",
    "uses",
]
