"""What a waste log says: its balance, streams, containers and small tables, and how its amounts are written.

Every text is ready to print; amounts are whole microlitres and milligrams.
"""

from dataclasses import dataclass
from decimal import Decimal

from labsys.documents.page import Issue
from labsys.quantities import MG_PER_G, UL_PER_L, UL_PER_ML

NOT_ESTIMATED, NO_SILVER = "not estimated", "–"


@dataclass(frozen=True, slots=True)
class SilverRange:
    """The least and the most silver a pour may have held, estimated. [mg]"""

    low_mg: int
    high_mg: int

    def __str__(self) -> str:
        if self.high_mg < MG_PER_G:
            return f"{self.low_mg} to {self.high_mg} mg"
        return f"{self.low_mg / MG_PER_G:.1f} to {self.high_mg / MG_PER_G:.1f} g"


@dataclass(frozen=True, slots=True)
class Pour:
    """One pour into a container; `wrong_because` is empty for a pour that belonged there.

    `holds_silver` is false for waste that carries none worth an estimate, such as a developer.
    """

    poured_at: str
    bath: str
    volume_ul: int
    silver: SilverRange | None
    by: str
    wrong_because: str = ""
    holds_silver: bool = True

    @property
    def silver_in_words(self) -> str:
        """The estimate, that there is none, or a dash where there is nothing to estimate."""
        if self.silver:
            return str(self.silver)
        return NOT_ESTIMATED if self.holds_silver else NO_SILVER


@dataclass(frozen=True, slots=True)
class Collected:
    """One collection of a container, with the hazardous properties it left with.

    The carrier may give a weight, a volume, both or neither.
    """

    collected_on: str
    note_code: str
    carrier: str
    book_ul: int
    carrier_ul: int | None = None
    weight_mg: int | None = None
    properties: str = "not kept"


@dataclass(frozen=True, slots=True)
class Container:
    """One waste container over the period, its level as it stands at the end of it.

    `quarantined_because` is empty unless it is in quarantine; `advice` then says what to do.
    """

    code: str
    stream: str
    waste_code: str
    opened_at: str
    closed_at: str
    level_ul: int
    capacity_ul: int
    pours: tuple[Pour, ...] = ()
    collections: tuple[Collected, ...] = ()
    quarantined_because: str = ""
    advice: str = ""


@dataclass(frozen=True, slots=True)
class BalanceLine:
    """One line of the balance: where liquid came from or where it is now."""

    named: str
    volume_ul: int
    estimate: bool = False


@dataclass(frozen=True, slots=True)
class Balance:
    """What came in and where it went. `unexplained_ul` is what the lab has written down as unexplained."""

    came_in: tuple[BalanceLine, ...]
    went: tuple[BalanceLine, ...]
    unexplained_ul: int = 0

    @property
    def in_ul(self) -> int:
        """All that came in. [µL]"""
        return sum(line.volume_ul for line in self.came_in)

    @property
    def accounted_ul(self) -> int:
        """All that is written down as being somewhere, the unexplained included. [µL]"""
        return sum(line.volume_ul for line in self.went) + self.unexplained_ul


@dataclass(frozen=True, slots=True)
class StreamTotal:
    """What became of one stream: poured and collected within the period, still here when it ended; by our book."""

    stream: str
    waste_code: str
    poured_ul: int
    collected_ul: int
    here_ul: int


@dataclass(frozen=True, slots=True)
class Discharge:
    """Something let go to the foul sewer, with what was measured against each limit.

    `wrong_because` is empty where it was right.
    """

    discharged_at: str
    what: str
    waste_code: str
    volume_ul: int
    by: str
    wrong_because: str = ""
    measured: str = ""


@dataclass(frozen=True, slots=True)
class Correction:
    """A level set to what was found; `difference_ul` is what was found less what the book said."""

    corrected_at: str
    container: str
    stream: str
    difference_ul: int
    by: str


@dataclass(frozen=True, slots=True)
class StoreRow:
    """A bottle in which other than the book said was found, or which left: amounts as text, powders by weight."""

    happened_at: str
    bottle: str
    amount: str
    why: str
    by: str


@dataclass(frozen=True, slots=True)
class Powders:
    """Powders over the period. They are kept by weight and so have no place in a sum of litres."""

    before_mg: int
    bought_mg: int
    dissolved_mg: int
    unexplained_mg: int
    left_mg: int
    otherwise_mg: int = 0


@dataclass(frozen=True, slots=True)
class WasteLogData:
    """All that a waste log prints; `powders` is None in a lab that has none."""

    issue: Issue
    period: str
    balance: Balance
    streams: tuple[StreamTotal, ...] = ()
    containers: tuple[Container, ...] = ()
    discharges: tuple[Discharge, ...] = ()
    corrections: tuple[Correction, ...] = ()
    found_in_store: tuple[StoreRow, ...] = ()
    left_the_store: tuple[StoreRow, ...] = ()
    powders: Powders | None = None


def verdict(balance: Balance) -> str:
    """Return whether the sums agree, or by how much they do not, as a sentence.

    >>> verdict(Balance((BalanceLine("tap", 5_000_000),), (BalanceLine("now in baths", 5_000_000),)))
    'The sums agree: 5.00 L came in and all of it is accounted for.'
    """
    missing = balance.in_ul - balance.accounted_ul
    if missing:
        more, less = ("came in", "is accounted for") if missing > 0 else ("is accounted for", "came in")
        return f"The sums do not agree: {litres(abs(missing))} more {more} than {less}. Look for a missing entry."
    if balance.unexplained_ul:
        amount, came_in = litres(abs(balance.unexplained_ul)), litres(balance.in_ul)
        found = f"{amount} of it is missing" if balance.unexplained_ul > 0 else f"{amount} more than that was found"
        return f"The sums agree but for {amount}: {came_in} came in; {found} and written down as unexplained."
    return f"The sums agree: {litres(balance.in_ul)} came in and all of it is accounted for."


def litres(ul: int) -> str:
    """Return a volume in litres with two decimals, so that a column of them can be added by eye.

    >>> litres(18_240_000), litres(-350_000)
    ('18.24 L', '−0.35 L')
    """
    return f"{'−' if ul < 0 else ''}{Decimal(abs(ul)) / UL_PER_L:,.2f} L"


def millilitres(ul: int) -> str:
    """Return a volume as a bare number of whole millilitres, for a column that says so.

    >>> millilitres(1_049_000)
    '1,049'
    """
    return f"{round(Decimal(ul) / UL_PER_ML):,}"


def signed(ul: int) -> str:
    """Return a change in whole millilitres with its sign.

    >>> signed(-120_000), signed(50_000)
    ('−120 mL', '+50 mL')
    """
    return f"{'−' if ul < 0 else '+'}{millilitres(abs(ul))} mL"
