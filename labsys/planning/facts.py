"""What a session plan is made from: a process with its solutions, the shared baths, the load and the water at hand.

Plain values, so that the plan can be worked out anywhere; `queries` reads them from the lab's tables.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from labsys.baths.models import Place
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.dilution import Dilution
from labsys.chemistry.life import Life
from labsys.chemistry.measuring import Cylinder
from labsys.chemistry.sizes import Load, Material, Size, load_of
from labsys.drawing.pictograms import Pictogram
from labsys.hazards.protective import Advice, Task, advice_for


@dataclass(frozen=True, slots=True)
class Dangers:
    """What a product or a working solution can do to a person.

    `statements` are in full, for reading; the codes are what protection is chosen by.
    """

    h_codes: tuple[str, ...] = ()
    euh_codes: tuple[str, ...] = ()
    sensitisers: tuple[str, ...] = ()
    is_powder: bool = False
    burns_through_nitrile: bool = False
    is_stated: bool = True
    signal_word: str = ""
    pictograms: tuple[Pictogram, ...] = ()
    statements: tuple[str, ...] = ()
    not_known: tuple[str, ...] = ()

    @property
    def told(self) -> str:
        """The statements, and after them what nobody stated and what was assumed in its place."""
        return " ".join([*self.statements, *(["Not known, or assumed:"] if self.not_known else []), *self.not_known])

    @property
    def told_briefly(self) -> str:
        """The same where there is no room for it: that not all is known, and where to read what."""
        return " ".join([*self.statements, *(["Not all of it is known: read its label."] if self.not_known else [])])


def advice_on(dangers: Iterable[Dangers], *, task: Task) -> Advice:
    """Return protection and cautions for handling several things: the strongest of each kind, each said once."""
    handled = tuple(dangers)
    return advice_for(
        h_codes=[code for danger in handled for code in danger.h_codes],
        euh_codes=[code for danger in handled for code in danger.euh_codes],
        sensitisers=dict.fromkeys(name for danger in handled for name in danger.sensitisers),
        is_powder=any(danger.is_powder for danger in handled),
        task=task,
        burns_through_nitrile=any(danger.burns_through_nitrile for danger in handled),
        is_stated=all(danger.is_stated for danger in handled),
    )


@dataclass(frozen=True, slots=True)
class Developing:
    """What a developer's own data sheet says, None where it says nothing. [-, °C, min, mL for 80 in²]"""

    q10: float | None = None
    low_celsius: float | None = None
    high_celsius: float | None = None
    least_minutes: float | None = None
    least_concentrate_ml: float | None = None
    source: str = ""


@dataclass(frozen=True, slots=True)
class Solution:
    """A product at the dilution it is to be used at; `usual_dilution` is the one the process is written for.

    `standing` says why it may not be mixed, or under which interim approval it may.
    """

    product_id: int
    product: str
    kind: SolutionKind
    dilution: Dilution
    usual_dilution: Dilution
    powder_mg_per_l: int | None = None
    may_mix: bool = True
    standing: str = ""
    cylinders: tuple[Cylinder, ...] = ()
    water_cylinders: tuple[Cylinder, ...] = ()
    developing: Developing = Developing()
    bottle: Dangers = Dangers()
    working: Dangers = Dangers()

    @property
    def strength(self) -> str:
        """The dilution in words."""
        return "undiluted" if self.dilution.is_stock else str(self.dilution)


@dataclass(frozen=True, slots=True)
class Step:
    """One step as the process is written; steps in water have no solution.

    `celsius_off` is how far off its temperature may be; `air` is said of lid and ventilation. `any_film` says of a
    developer that its time is that of every film.
    """

    name: str
    solution: Solution | None = None
    seconds: int | None = None
    celsius: float | None = None
    celsius_off: float | None = None
    changes: int | None = None
    any_film: bool = False
    in_the_dark: bool = False
    air: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class TimeRow:
    """A row of the lab's developing times. [s, °C, 1/L, -]

    `longer_share` is by how much longer it takes for each roll that went through a litre beyond the first
    `free_per_litre`; None where the row says nothing of a used developer.
    """

    seconds: int
    celsius: float
    source: str
    free_per_litre: float = 0.0
    longer_share: float | None = None


@dataclass(frozen=True, slots=True)
class ChosenFilm:
    """A film, its exposure index and agitation in words, with its rows for this developer, dilution and format."""

    words: str
    rows: tuple[TimeRow, ...] = ()


@dataclass(frozen=True, slots=True)
class ProcessFacts:
    """A way of working, its steps in working order."""

    process_id: int
    name: str
    material: Material
    steps: tuple[Step, ...]
    note: str = ""


@dataclass(frozen=True, slots=True)
class SharedBath:
    """A bath that stands in the lab; `state` says in words how good it is."""

    bath_id: int
    code: str
    name: str
    line: str
    process_id: int | None
    materials: frozenset[Material]
    place: Place
    product_id: int
    dilution: Dilution
    is_in_service: bool
    life: Life
    state: str
    level_ul: int
    capacity_ul: int


@dataclass(frozen=True, slots=True)
class PlannedLoad:
    """What is to be processed in one go, and the volume of solution it is planned in.

    `covering_ul` is the least that covers it, None where that is the planned volume. `vessel` names the tank or tray of
    the lab it goes into, empty where none is chosen; `largest_ul` is the most that can be mixed for it, None where that
    is not known. `notes` say what has to be known of the filling.
    """

    size: Size
    material: Material
    count: int
    working_ul: int
    vessel: str = ""
    largest_ul: int | None = None
    notes: tuple[str, ...] = ()
    covering_ul: int | None = None

    @property
    def least_ul(self) -> int:
        """The least that covers it. [µL]"""
        return self.working_ul if self.covering_ul is None else self.covering_ul

    @property
    def on_a_bath(self) -> Load:
        """What it counts for against the life of a bath. [mm², -]"""
        return load_of(size=self.size, material=self.material, count=self.count)


@dataclass(frozen=True, slots=True)
class Conditions:
    """The temperatures of the day, each None where nobody measured it. [°C]"""

    developer_celsius: float | None = None
    room_celsius: float | None = None
    cold_celsius: float | None = None
    hot_celsius: float | None = None


NOT_MEASURED = Conditions()
