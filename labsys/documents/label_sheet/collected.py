"""What sheets of labels say: a label for each bottle, bath and container in the lab, and those chosen of them."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from labsys.baths.models import Bath
from labsys.database import DbSession
from labsys.documents.keep_away import keep_away
from labsys.documents.label_sheet.drawn import GRIDS, LabelFacts, LabelSheetData, Layout
from labsys.documents.occasion import Occasion
from labsys.documents.rules import DocumentRefused
from labsys.drawing.pictograms import Pictogram
from labsys.hazards.first_aid import RINSE_NOW
from labsys.hazards.label import LabelElements
from labsys.hazards.waste_codes import waste_code
from labsys.lab.emergency import emergency_of
from labsys.products.hazards import hazards_of
from labsys.products.models import Product
from labsys.products.rules import show_dilution
from labsys.quantities import show_volume
from labsys.register import queries as register
from labsys.store.models import Bottle
from labsys.waste import queries as waste
from labsys.waste.contents import Contents, ContentsHazards, hazards_in
from labsys.waste.meeting import groups_in
from labsys.waste.rules import VENT

_LABEL_BASIS = {
    "bottle": "As the SDS of the product has it; the SDS comes first.",
    "bath": "Estimate, worked out from the SDS, which comes first. Tongs at a tray, gloves at a tank, all through.",
}


@dataclass(frozen=True, slots=True)
class LabelChoice:
    """Labels by their keys, how large, and at which place of the sheet they begin."""

    keys: Sequence[str]
    layout: Layout
    first: int


@dataclass(frozen=True)
class Stuck:
    """One thing a label can be made for: its key in the form, such as `bath-7`, and how it is called."""

    key: str
    kind: str
    title: str
    facts: LabelFacts
    holds_ul: int | None


def everything_to_label(session: DbSession, occasion: Occasion) -> tuple[Stuck, ...]:
    """Return a label for each bottle, bath and container in the lab, in that order; the number of queries is fixed."""
    holdings = register.holdings(session, now=occasion.now)
    products = {product.id: product for product in holdings.products}
    return (
        *(_bottle(bottle, products[bottle.product_id], occasion) for bottle in holdings.bottles),
        *(_bath(bath, products[bath.product_id], occasion) for bath in holdings.baths),
        *(
            _container(held, holdings.products, occasion)
            for held in waste.contents(session, waste.containers_here(session)).values()
        ),
    )


def collect(session: DbSession, choice: LabelChoice, occasion: Occasion) -> LabelSheetData:
    """Put together the labels chosen, in the order of the lab's lists; a key of nothing here is left out.

    Raises DocumentRefused where nothing is left, or the sheet has no such place to begin at.
    """
    data = LabelSheetData(
        issue=occasion.issue("/documents/labels", scan_code="the register"),
        layout=choice.layout,
        first=choice.first,
        labels=tuple(
            labelled.facts for labelled in everything_to_label(session, occasion) if labelled.key in choice.keys
        ),
    )
    places = GRIDS[data.issue.paper, choice.layout].places
    if not data.labels:
        raise DocumentRefused("Choose at least one label.", field="label")
    if not 1 <= choice.first <= places:
        raise DocumentRefused(
            f"A sheet of {choice.layout} has places 1 to {places}. Choose one of them.", field="first"
        )
    return data


def _bottle(bottle: Bottle, product: Product, occasion: Occasion) -> Stuck:
    lot = f"Lot {bottle.lot}" if bottle.lot else ""
    keep = f"use before {bottle.lapses_on:%-d %b %Y}" if bottle.lapses_on else ""
    return _stuck(
        f"bottle-{bottle.id}",
        occasion,
        code=bottle.code,
        called=product.name,
        name=product.name,
        lines=(product.supplier, ", ".join(filter(None, (lot, keep)))),
        label=(hazards := hazards_of(product)).label,
        not_known=hazards.declared_unknown,
        notes=(f"Waste, once used: {product.waste_code}",),
        holds_ul=bottle.vessel.capacity if product.powder_mg_per_l is None else None,
    )


def _bath(bath: Bath, product: Product, occasion: Occasion) -> Stuck:
    hazards = hazards_of(product, water_parts_milli=bath.water_parts_milli)
    named = ", ".join(hazards.skin_sensitisers)
    skin = (f"Protect your skin: {named} can make it allergic at any strength.",) if named else ()
    return _stuck(
        f"bath-{bath.id}",
        occasion,
        code=bath.code,
        called=bath.name,
        name=f"{bath.name}, {show_dilution(bath.water_parts_milli)}",
        lines=(product.name, f"{bath.line.name}, {bath.place}. Mixed {occasion.day(bath.mixed_at)}"),
        label=hazards.label,
        not_known=hazards.declared_unknown,
        notes=(*skin, f"Waste: {product.waste_code}"),
        holds_ul=bath.vessel.capacity,
    )


def _container(contents: Contents, products: Sequence[Product], occasion: Occasion) -> Stuck:
    """What is in it, not what its code says; in quarantine that stands across it before anything else."""
    container = contents.container
    stream, capacity, code = container.stream, container.vessel.capacity, container.code
    going_in = [product for product in products if product.waste_code == stream.code]
    hazards = hazards_in(contents, going_in=going_in)
    apart = keep_away(groups_in(contents.solutions, code=code))
    return _stuck(
        f"container-{container.id}",
        occasion,
        code=container.label,
        called=stream.name,
        name=f"WASTE: {stream.name}",
        lines=(
            f"Contents: {contents.in_words}. {_more(contents, hazards)}".strip(),
            f"{waste_code(code).in_words(occasion.lab.nation)}. Up to {show_volume(capacity)}, "
            f"since {occasion.day(container.opened_at)}",
        ),
        label=hazards.label,
        not_known=hazards.not_known,
        notes=(*_held(contents), *(f"Keep away from: {line[:1].lower()}{line[1:]}" for line in apart)),
        holds_ul=capacity,
        banner=contents.banner,
        basis=hazards.basis,
    )


def _more(contents: Contents, hazards: ContentsHazards) -> str:
    """Hazardous properties and silver of what is in a container, as short as a label has them."""
    if not contents.present:
        return ""
    return f"{hazards.on_label}. Silver: {contents.silver_in_words}."


def _held(contents: Contents) -> tuple[str, ...]:
    """Why a container is held, and that it stays vented."""
    quarantine = contents.container.quarantine
    if quarantine is None:
        return (contents.why_not_known, VENT) if contents.why_not_known else ()
    return (quarantine.reason, VENT)


def _stuck(
    key: str,
    occasion: Occasion,
    *,
    code: str,
    called: str,
    name: str,
    lines: Iterable[str],
    label: LabelElements,
    not_known: tuple[str, ...],
    notes: Iterable[str],
    holds_ul: int | None,
    banner: str = "",
    basis: str = "",
) -> Stuck:
    """Put a label together from what it is stuck on and its hazards."""
    kind = key.partition("-")[0]
    statements = (*label.hazard_statements, *label.euh_statements)
    none = () if statements else ("Its entries give no hazard statement. Keep it out of eyes and mouth all the same.",)
    facts = LabelFacts(
        code=code,
        scan_address=f"{occasion.public_url}/c/{code}",
        name=name,
        lines=tuple(filter(None, lines)),
        pictograms=tuple(Pictogram(pictogram) for pictogram in label.pictograms),
        signal_word=label.signal_word,
        statements=statements,
        precautions=label.precautionary_statements,
        not_known=not_known,
        notes=(*notes, *none),
        basis=basis or _LABEL_BASIS[kind],
        banner=banner,
        emergency=f"{RINSE_NOW} {emergency_of(occasion.lab).call_on_a_label}",
    )
    return Stuck(key, kind, f"{called} {code}", facts, holds_ul)
