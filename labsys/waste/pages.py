"""What the pages of this room show, worked out from what the queries read."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from zoneinfo import ZoneInfo

from labsys.drawing.graduate import Liquid, graduate
from labsys.drawing.qr import scan_code_of
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
from labsys.products.rules import show_dilution
from labsys.quantities import UL_PER_ML, figure, show_volume
from labsys.records.models import Lab
from labsys.timetable.local_time import day_words, to_local
from labsys.waste import rules
from labsys.waste.contents import Contents, hazards_in, into_of
from labsys.waste.leaving import Stays, why_it_stays
from labsys.waste.meeting import Apart, groups_in, keep_apart, solution_of
from labsys.waste.models import Collection, CollectionLine, Pour, WasteContainer, WasteKind, WasteStream
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
    contents: Contents

    @property
    def entry(self) -> WasteCode:
        """The entry of the List of Waste that what is in it belongs to."""
        return waste_code(self.container.code)

    @property
    def properties_in_words(self) -> str:
        return hazards_in(self.contents, going_in=()).properties_in_words

    @cached_property
    def stays(self) -> Stays | None:
        """Why it cannot be handed over."""
        return why_it_stays(self.contents)

    @property
    def takes_more(self) -> bool:
        """Whether anything may go into it."""
        container = self.container
        is_open = not (container.collected_at or container.quarantine or container.restated)
        return is_open and not self.contents.why_not_known


def view_of(contents: Contents) -> ContainerView:
    container = contents.container
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
    elif container.restated is not None:
        sentence = f"Waits to leave as {container.code}: pour nothing into it. {held}."
    elif contents.why_not_known:
        sentence = f"Contents not known: pour nothing into it. {held}."
    liquid = Liquid.EXHAUSTED if container.quarantine else _LIQUID_OF.get(fullness, Liquid.PLENTY)
    scene = graduate(
        level_ml=vessel.level / UL_PER_ML,
        capacity_ml=vessel.capacity / UL_PER_ML,
        liquid=liquid,
        title=f"{container.label}: {sentence}",
    )
    return ContainerView(container, fullness, room, sentence, scene, contents)


def scan_code(container: WasteContainer, *, public_url: str) -> Scene:
    """Return the code to stick on a container; it leads to the container's page."""
    return scan_code_of(container.label, public_url=public_url)


@dataclass(frozen=True)
class StreamView:
    """A stream with the List of Waste's words for its code, and its containers in the lab."""

    stream: WasteStream
    text: str
    containers: tuple[ContainerView, ...]


def streams_with_containers(streams: Iterable[WasteStream], held: Iterable[Contents]) -> tuple[StreamView, ...]:
    views = [view_of(contents) for contents in held]
    return tuple(
        StreamView(
            stream, waste_code(stream.code).text, tuple(view for view in views if view.container.stream_id == stream.id)
        )
        for stream in streams
    )


@dataclass(frozen=True)
class Takes:
    """What a container takes, in the List of Waste's words and by the lab's products, and what it must not meet.

    Of the products, those that would not be stopped as it is now.
    """

    code: str
    text: str
    products: tuple[str, ...]
    apart: tuple[Apart, ...]


def taken_by(contents: Contents, *, products: Sequence[Product]) -> Takes:
    code = contents.container.code
    going_in = [product for product in products if product.waste_code == code]
    expected = contents.solutions or [solution_of(WasteKind(product.kind.value), product) for product in going_in]
    return Takes(
        code=code,
        text=waste_code(code).text,
        products=tuple(dict.fromkeys(product.name for product in going_in if _goes_in(product, contents))),
        apart=keep_apart(groups_in(expected, code=code)),
    )


def _goes_in(product: Product, contents: Contents) -> bool:
    kind = WasteKind(product.kind.value)
    poured = rules.Poured(product.name, product.waste_code, 0, kind=kind, product_id=product.id)
    return rules.wrong_pour(poured=poured, solution=solution_of(kind, product), into=into_of(contents)) is None


@dataclass(frozen=True)
class ComparedLine:
    """One container of a collection: what it left as, and what the book and the carrier said, compared."""

    line: CollectionLine
    left_as: str
    contents: str
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


def view_of_collection(
    collection: Collection, *, held: Mapping[int, Contents], nation: str, zone: ZoneInfo
) -> CollectionView:
    is_hazardous = any(line.container.code.endswith("*") for line in collection.lines)
    due = consignee_return_due(to_local(collection.collected_at, zone=zone).date())
    return CollectionView(
        collection,
        tuple(_compared(line, held=held[line.container_id], nation=nation) for line in collection.lines),
        consignment_code_warning(collection.note_code, nation=nation) or "",
        sum(line.book_ul for line in collection.lines),
        day_words(due) if is_hazardous and nation in (Nation.ENGLAND, Nation.WALES) else "",
    )


def _compared(line: CollectionLine, *, held: Contents, nation: str) -> ComparedLine:
    volume = line.book_ul if line.carrier_ul is None else line.carrier_ul
    return ComparedLine(
        line,
        waste_code(line.container.code).in_words(nation),
        held.in_words,
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


def code_choices(container: WasteContainer) -> Choices:
    """The codes a pour may be of: the container's own first, the rest under words that say what choosing one means."""
    own = container.code
    return {
        "Of a product": [("", "By the product chosen")],
        "Belongs in this container": [(own, _code_in_words(waste_code(own)))],
        "Does not belong in it": [
            (entry.code, _code_in_words(entry)) for entry in all_waste_codes() if entry.code != own
        ],
    }


def all_codes(*, first: str) -> list[tuple[str, str]]:
    """Every code, the one that is meant unless somebody says otherwise at the top."""
    entries = sorted(all_waste_codes(), key=lambda entry: entry.code != first)
    return [(entry.code, _code_in_words(entry)) for entry in entries]


NOT_KNOWN = "not-known"


@dataclass(frozen=True)
class Said:
    """What somebody says a pour is, and the code of it where a product says that. Without a kind it is not known."""

    words: str
    kind: WasteKind | None = None
    product_id: int | None = None
    water_parts_milli: int | None = None
    code: str = ""


def sayings(products: Iterable[Product]) -> dict[str, Said]:
    """Everything a pour may be said to be, by the value of the choice: products at their dilutions, kinds, unknown."""
    of_products = {value: said for product in products for value, said in _of_product(product)}
    of_kinds = {f"kind:{kind.value}": Said(_capital(kind.words), kind) for kind in WasteKind}
    return {**of_products, **of_kinds, NOT_KNOWN: Said("It is not known what it is")}


def _of_product(product: Product) -> Iterator[tuple[str, Said]]:
    undiluted = Said(
        f"{product.name}, undiluted or dilution not known",
        WasteKind(product.kind.value),
        product.id,
        code=product.waste_code,
    )
    for milli in dict.fromkeys(dilution.water_parts_milli for dilution in product.dilutions):
        words = f"{product.name}, {show_dilution(milli)}"
        yield f"product:{product.id}:{milli}", replace(undiluted, words=words, water_parts_milli=milli)
    yield f"product:{product.id}", undiluted


def choice_of(pour: Pour, said: Mapping[str, Said]) -> str:
    """The choice that says what a pour was recorded as."""
    recorded = (pour.kind, pour.product_id, pour.water_parts_milli)
    values = (value for value, one in said.items() if (one.kind, one.product_id, one.water_parts_milli) == recorded)
    return next(values, "" if pour.kind else NOT_KNOWN)


def typed_volume(volume_ul: int) -> str:
    """A volume as a person would type it, nothing rounded off.

    >>> typed_volume(600_000)
    '600 mL'
    """
    return f"{figure(volume_ul, UL_PER_ML)} mL"


def said_choices(said: Mapping[str, Said], *, code: str) -> Choices:
    """The choices of what a pour is; products whose used solution is waste of the code come first."""
    products = sorted(
        ((value, one) for value, one in said.items() if one.product_id), key=lambda choice: choice[1].code != code
    )
    return {
        "Choose": [("", "Choose what it is")],
        "A product": [(value, one.words) for value, one in products],
        "Only its kind is known": [
            (value, one.words) for value, one in said.items() if one.kind and not one.product_id
        ],
        "Nobody knows": [(NOT_KNOWN, said[NOT_KNOWN].words)],
    }


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


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
