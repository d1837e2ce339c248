"""Where something of the lab may be poured away: the right containers first, the others, and the foul sewer."""

from collections.abc import Iterable
from dataclasses import dataclass

from labsys.products.models import Product
from labsys.quantities import show_volume
from labsys.waste.contents import Contents, into_of
from labsys.waste.meeting import solution_of
from labsys.waste.rules import Poured, wrong_pour

SEWER = 0  # stands for the foul sewer where a container is chosen by its id


@dataclass(frozen=True)
class Destination:
    """One container something may be poured into, or the foul sewer. `warning` says why it is the wrong one."""

    value: int
    words: str
    detail: str
    warning: str = ""
    advice: str = ""


@dataclass(frozen=True)
class Destinations:
    """Where something may be poured: the right containers first."""

    right: tuple[Destination, ...]
    others: tuple[Destination, ...]
    sewer: Destination

    @property
    def all(self) -> tuple[Destination, ...]:
        return (*self.right, *self.others, self.sewer)

    def of(self, value: int) -> Destination:
        return next(destination for destination in self.all if destination.value == value)


def destinations(*, poured: Poured, product: Product, held: Iterable[Contents], why_not_to_sewer: str) -> Destinations:
    """Sort containers into those that take what is poured and those that do not, by what is in them."""
    here = [_container(contents, poured=poured, product=product) for contents in held]
    sewer = Destination(
        SEWER,
        "Discharge to the foul sewer",
        "Only within the limits of the sewer consent that names it.",
        why_not_to_sewer,
    )
    right = tuple(container for container in here if not container.warning)
    return Destinations(right, tuple(container for container in here if container.warning), sewer)


def _container(contents: Contents, *, poured: Poured, product: Product) -> Destination:
    container = contents.container
    vessel, stream = container.vessel, container.stream
    wrong = wrong_pour(poured=poured, solution=solution_of(poured.kind, product), into=into_of(contents))
    room = show_volume(vessel.capacity - vessel.level)
    where = f"Takes {container.code}, {container.place}" if container.place else f"Takes {container.code}"
    return Destination(
        container.id,
        f"{stream.name} {container.label}",
        f"{where}; room for {room}. In it: {contents.in_words}.",
        wrong.stop if wrong else "",
        wrong.advice if wrong else "",
    )
