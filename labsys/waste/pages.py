"""What the pages of this room show, worked out from what the queries read."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from labsys.drawing.graduate import Liquid, graduate
from labsys.drawing.qr import qr_code
from labsys.drawing.scene import Scene
from labsys.hazards.nations import Nation
from labsys.hazards.retention import consignee_return_due
from labsys.hazards.waste_codes import (
    WasteCode,
    all_waste_codes,
    consignment_code_warning,
    suggested_consignment_code,
    waste_code,
)
from labsys.products.models import Product
from labsys.quantities import UL_PER_ML, show_volume
from labsys.records.models import Lab
from labsys.timetable.local_time import day_words, to_local
from labsys.waste import rules
from labsys.waste.meeting import Apart, groups_of_stream, keep_apart
from labsys.waste.models import Collection, CollectionLine, WasteContainer, WasteStream
from labsys.waste.rules import Fullness

_LIQUID_OF = {Fullness.NEARLY_FULL: Liquid.NEAR_END, Fullness.FULL: Liquid.NEAR_END}


@dataclass(frozen=True)
class ContainerView:
    """A container, how full it is in words, and its graduate."""

    container: WasteContainer
    fullness: Fullness
    room_ul: int
    sentence: str
    scene: Scene

    @property
    def can_be_collected(self) -> bool:
        return self.fullness is not Fullness.EMPTY


def view_of(container: WasteContainer) -> ContainerView:
    vessel = container.vessel
    fullness = rules.fullness(level_ul=vessel.level, capacity_ul=vessel.capacity)
    room = vessel.capacity - vessel.level
    held = f"{show_volume(vessel.level)} of {show_volume(vessel.capacity)}"
    sentence = {
        Fullness.EMPTY: f"Empty. Takes {show_volume(room)}.",
        Fullness.HAS_ROOM: f"{held}. Room for {show_volume(room)}.",
        Fullness.NEARLY_FULL: f"Nearly full: {held}. Room for {show_volume(room)}.",
        Fullness.FULL: f"Full: {held}.",
    }[fullness]
    if container.collected_at is not None:
        sentence = "Collected. Nothing more goes into it."
    elif container.quarantine is not None:
        sentence = f"In quarantine: pour nothing into it. {held}."
    liquid = Liquid.EXHAUSTED if container.quarantine else _LIQUID_OF.get(fullness, Liquid.PLENTY)
    scene = graduate(
        level_ml=vessel.level / UL_PER_ML,
        capacity_ml=vessel.capacity / UL_PER_ML,
        liquid=liquid,
        title=f"{container.label}: {sentence}",
    )
    return ContainerView(container, fullness, room, sentence, scene)


def scan_code(container: WasteContainer, *, public_url: str) -> Scene:
    """Return the code to stick on a container; it leads to the container's page."""
    return qr_code(f"{public_url}/c/{container.label}", title=f"Leads to {container.label}")


@dataclass(frozen=True)
class StreamView:
    """A stream with the List of Waste's words for its code, and its containers in the lab."""

    stream: WasteStream
    text: str
    containers: tuple[ContainerView, ...]


def streams_with_containers(
    streams: Iterable[WasteStream], containers: Sequence[WasteContainer]
) -> tuple[StreamView, ...]:
    return tuple(
        StreamView(
            stream,
            waste_code(stream.code).text,
            tuple(view_of(container) for container in containers if container.stream_id == stream.id),
        )
        for stream in streams
    )


@dataclass(frozen=True)
class Takes:
    """What a container takes, in the List of Waste's words and by the lab's products, and what it must not meet."""

    code: str
    text: str
    products: tuple[str, ...]
    apart: tuple[Apart, ...]


def taken_by(stream: WasteStream, *, products: Sequence[Product]) -> Takes:
    return Takes(
        code=stream.code,
        text=waste_code(stream.code).text,
        products=tuple(dict.fromkeys(product.name for product in products if product.waste_code == stream.code)),
        apart=keep_apart(groups_of_stream(code=stream.code, products=products)),
    )


@dataclass(frozen=True)
class ComparedLine:
    """One container of a collection: what the book and the carrier said, compared."""

    line: CollectionLine
    difference: str
    kg_per_litre: float | None
    warning: str


@dataclass(frozen=True)
class CollectionView:
    """A collection, its lines, and a warning about its note code where it does not look like one of the nation's.

    The consignee's return is told where the rule for it is on file and hazardous waste left.
    """

    collection: Collection
    lines: tuple[ComparedLine, ...]
    note_warning: str
    book_ul: int
    return_due: str


def view_of_collection(collection: Collection, *, nation: str, zone: ZoneInfo) -> CollectionView:
    is_hazardous = any(line.container.stream.code.endswith("*") for line in collection.lines)
    due = consignee_return_due(to_local(collection.collected_at, zone=zone).date())
    return CollectionView(
        collection,
        tuple(_compared(line) for line in collection.lines),
        consignment_code_warning(collection.note_code, nation=nation) or "",
        sum(line.book_ul for line in collection.lines),
        day_words(due) if is_hazardous and nation in (Nation.ENGLAND, Nation.WALES) else "",
    )


def _compared(line: CollectionLine) -> ComparedLine:
    volume = line.book_ul if line.carrier_ul is None else line.carrier_ul
    return ComparedLine(
        line,
        rules.difference_in_words(line.difference_ul),
        rules.kg_per_litre(weight_mg=line.weight_mg, volume_ul=volume),
        rules.weight_warning(weight_mg=line.weight_mg, volume_ul=volume),
    )


def note_code_beginning(lab: Lab) -> str:
    """Return how the lab's own note codes begin, up to the slash; empty where no rule for them is on file."""
    if lab.nation != Nation.ENGLAND:
        return ""
    first = suggested_consignment_code(business_name=lab.name, serial=1) or ""
    return "".join(first.rpartition("/")[:2])


def suggested_note_code(lab: Lab, *, newest: str | None) -> str:
    """Return the next of the lab's own note codes after the newest one used, or an empty text where there is none."""
    if not note_code_beginning(lab):
        return ""
    last = (newest or "").rpartition("/")[2]
    return suggested_consignment_code(business_name=lab.name, serial=int(last) + 1 if last.isdecimal() else 1) or ""


Choices = dict[str, list[tuple[str, str]]]


def code_choices(*, own: WasteStream) -> Choices:
    """The codes a pour may be of: the container's own first, the rest under words that say what choosing one means."""
    return {
        "Belongs in this container": [(own.code, _code_in_words(waste_code(own.code)))],
        "Does not belong in it": [
            (entry.code, _code_in_words(entry)) for entry in all_waste_codes() if entry.code != own.code
        ],
    }


def free_code_choices(streams: Iterable[WasteStream], *, nation: str) -> list[tuple[str, str]]:
    """The codes that have no stream yet, each with its kind of entry in the nation's list; none chosen beforehand."""
    taken = {stream.code for stream in streams}
    free = [
        (entry.code, ". ".join(filter(None, (_code_in_words(entry), entry.entry_type(nation).capitalize()))))
        for entry in all_waste_codes()
        if entry.code not in taken
    ]
    return [("", "Choose the kind of waste"), *free]


def _code_in_words(entry: WasteCode) -> str:
    return f"{entry.code} {entry.text} ({entry.use})" if entry.use else f"{entry.code} {entry.text}"
