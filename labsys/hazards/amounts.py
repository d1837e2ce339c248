"""How much a lab may put through, or throw away, before another rule applies: one row a rule, each with its source.

A rule is of a nation, or of one place in it. It speaks to the labs that lie there and to no other.
"""

from collections.abc import Collection
from dataclasses import dataclass
from enum import StrEnum
from functools import cache

from .nations import Nation
from .tables import read_table


class Counted(StrEnum):
    """What a rule adds up."""

    AREA_YEAR = "area in a year"
    AREA_DAY = "area on a day"
    HAZARDOUS_MONTH = "hazardous waste in a month"
    HAZARDOUS_YEAR = "hazardous waste in a year"
    FIXER_DAY = "spent fixer on a day"


UNIT_OF = {
    Counted.AREA_YEAR: "m²",
    Counted.AREA_DAY: "m²",
    Counted.HAZARDOUS_MONTH: "kg",
    Counted.HAZARDOUS_YEAR: "kg",
    Counted.FIXER_DAY: "L",
}


class Reached(StrEnum):
    """How a sum stands to the limit of a rule."""

    NO = "not reached"
    MAYBE = "not known"
    YES = "reached"


@dataclass(frozen=True, slots=True)
class AmountRule:
    """From how much on something applies; `is_at` where it does at the limit itself and not only above it."""

    key: str
    nation: str
    place: str
    counted: Counted
    limit: float
    is_at: bool
    what: str
    source: str

    @property
    def where(self) -> str:
        return f"{self.place}, {self.nation}" if self.place else self.nation

    def reached(self, *, low: float, high: float) -> Reached:
        """Say whether a sum reaches the limit, known between two ends in the rule's own unit."""
        if self._is_over(low):
            return Reached.YES
        return Reached.MAYBE if self._is_over(high) else Reached.NO

    def _is_over(self, amount: float) -> bool:
        return amount >= self.limit if self.is_at else amount > self.limit


@cache
def amount_rules() -> tuple[AmountRule, ...]:
    """Return all rules on file."""
    return tuple(
        AmountRule(
            key=row["key"],
            nation=row["nation"],
            place=row["place"],
            counted=Counted(row["counts"]),
            limit=float(row["limit"]),
            is_at=row["begins"] == "at",
            what=row["what"],
            source=row["source"],
        )
        for row in read_table("amount_rules")
    )


def rules_to_choose(nation: str) -> tuple[AmountRule, ...]:
    """Return the rules of which a lab says itself whether it comes under them.

    Parameters:
        nation: Where the lab lies, as it wrote. [-]
    Returns:
        Those of nations it cannot name: none for a lab whose nation is on file. [-]
    """
    on_file = tuple(Nation)
    return () if nation in on_file else tuple(rule for rule in amount_rules() if rule.nation not in on_file)


def rules_of_lab(nation: str, *, chosen: Collection[str]) -> tuple[AmountRule, ...]:
    """Return the rules that a lab comes under: those of its nation, and those it said.

    Parameters:
        nation: Where the lab lies, as it wrote. [-]
        chosen: Keys of the rules it said it comes under. [-]
    Returns:
        The rules, in the order of the table. [-]

    >>> [rule.key for rule in rules_of_lab("Wales", chosen=["us-small"])], rules_of_lab("England", chosen=())
    (['wales-premises'], ())
    """
    own = [rule for rule in amount_rules() if rule.nation == nation]
    return (*own, *(rule for rule in rules_to_choose(nation) if rule.key in chosen))
