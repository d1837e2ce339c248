"""What the papers of the register say: the summary, the first-aid card, and sheets of labels."""

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from labsys.baths.models import Bath
from labsys.database import DbSession
from labsys.documents.collect import day, issue_of
from labsys.documents.first_aid_card import FirstAid, FirstAidData
from labsys.documents.keep_away import keep_away
from labsys.documents.label_sheet import LabelFacts, LabelSheetData, Layout
from labsys.documents.page import Issue
from labsys.documents.register_summary import RegisterSummaryData, SummaryRow
from labsys.drawing.pictograms import Pictogram
from labsys.hazards.label import LabelElements, from_h_codes
from labsys.hazards.waste_codes import waste_code
from labsys.people.models import Person
from labsys.products import mixtures
from labsys.products.models import Product
from labsys.products.rules import show_dilution
from labsys.quantities import show_volume
from labsys.records import queries as records
from labsys.records.models import Lab
from labsys.records.queries import Head
from labsys.register import queries as register
from labsys.register.queries import Holdings
from labsys.register.rows import RegisterRow, rows, working_label
from labsys.store.models import Bottle
from labsys.timetable.local_time import day_words
from labsys.waste import queries as waste
from labsys.waste.meeting import groups_of_stream
from labsys.waste.models import WasteContainer

RINSE = "Eyes or skin: rinse now, 20 minutes."  # published advice ranges from 10 to 20; from memory
_LABEL_BASIS = {
    "bottle": "As the SDS of the product has it; the SDS comes first.",
    "bath": "Estimate, worked out from the SDS, which comes first. Gloves or tongs, the whole process through.",
    "container": "Estimate, from the products whose used solution goes in; used solution holds more than that.",
}


@dataclass(frozen=True)
class Stuck:
    """One thing a label can be made for: its key in the form, such as `bath-7`, and how it is called."""

    key: str
    kind: str
    title: str
    facts: LabelFacts
    holds_ul: int | None


def collect_register(
    session: DbSession, *, issued_by: Person, head: Head, public_url: str, now: datetime
) -> RegisterSummaryData:
    """Read the register as it stands now."""
    lab = records.the_lab(session)
    zone = ZoneInfo(lab.timezone)
    found = rows(register.holdings(session, now=now), now=now, zone=zone)
    return RegisterSummaryData(
        issue=_issue(lab, issued_by=issued_by, head=head, address=f"{public_url}/register", now=now),
        as_of=day(now, zone=zone),
        rows=tuple(_summary_row(one, zone=zone) for one in found),
    )


def _issue(lab: Lab, *, issued_by: Person, head: Head, address: str, now: datetime) -> Issue:
    return issue_of(lab, issued_by=issued_by, now=now, head=head, scan_address=address, scan_code="the register")


def _summary_row(row: RegisterRow, *, zone: ZoneInfo) -> SummaryRow:
    label = row.label
    told = [f"{code} {text}" for code, text in (*label.hazard_statements, *label.euh_statements)]
    signal = f"{label.signal_word}. " if label.signal_word else ""
    marks = [f"Skin sensitiser: {', '.join(row.sensitisers)}"] if row.sensitisers else []
    return SummaryRow(
        what=f"{row.title}\n{row.kind.capitalize()}, {'working solution' if row.dilution else row.supplier}",
        hazards=f"{signal}{' '.join(told) or 'No hazard statement.'}\n({row.basis})",
        pictograms=tuple(Pictogram(code) for code in label.pictograms),
        where="\n".join(one.in_words for one in row.whereabouts) or "none now",
        sds=f"{day_words(row.sds_date) if row.sds_date else 'no date'}\n{row.standing.sds}",
        assessed="\n".join(row.assessed_in_words.split("; ")),
        confirmed=f"{row.confirmed_by}\n{day(row.confirmed_at, zone=zone)}" if row.confirmed_at else "not confirmed",
        marks=(*marks, *(f"Restricted. {one}" for one in row.restrictions)),
        concerns=row.concerns,
    )


_AIDS = (
    (
        "Eyes",
        "Rinse. 20 minutes.",
        "At once, lids held apart, lenses out if they come easily. Somebody else calls for help. Then hospital, with "
        "the SDS.",
        ("H314", "H318", "H319"),
    ),
    (
        "Skin",
        "Clothes off. Rinse. 20 minutes.",
        "Start under the clothes while they come off. Shoes and watch too. A rash, even days later: show it and say "
        "what you worked with.",
        ("H310", "H311", "H312", "H315", "H317"),
    ),
    (
        "Acid or alkali burn",
        "Rinse. Never neutralise.",
        "Nothing on it but water. Alkali feels slippery and burns on when it no longer hurts: keep rinsing. Then help.",
        ("H314",),
    ),
    (
        "Breathed in",
        "Out, to fresh air.",
        "Sit up, loosen the collar. Short of breath, chest tight, or asthma: call an ambulance. Nobody goes back in "
        "alone.",
        ("H330", "H331", "H332", "H334", "H335", "EUH031", "EUH032"),
    ),
    (
        "Swallowed",
        "Rinse the mouth. No vomiting.",
        "Sips of water if wide awake, nothing if not. Get help at once, with the SDS or the bottle in hand.",
        ("H300", "H301", "H302", "H314"),
    ),
)


def collect_first_aid(
    session: DbSession, *, issued_by: Person, head: Head, public_url: str, now: datetime
) -> FirstAidData:
    """Put together the card: our own words, and which products of this lab each accident can come from."""
    lab = records.the_lab(session)
    found = [
        row
        for row in rows(register.holdings(session, now=now), now=now, zone=ZoneInfo(lab.timezone))
        if not row.dilution
    ]
    return FirstAidData(
        issue=_issue(lab, issued_by=issued_by, head=head, address=f"{public_url}/register", now=now),
        emergency=lab.emergency,
        aids=tuple(
            FirstAid(where, first, then, _names(row for row in found if set(row.codes) & set(codes)))
            for where, first, then, codes in _AIDS
        ),
    )


def _names(found: Iterable[RegisterRow]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(row.name for row in found))


def everything_to_label(session: DbSession, *, public_url: str, now: datetime) -> tuple[Stuck, ...]:
    """Return a label for each bottle, bath and container in the lab, in that order; the number of queries is fixed."""
    lab = records.the_lab(session)
    zone = ZoneInfo(lab.timezone)
    holdings = register.holdings(session, now=now)
    products = {product.id: product for product in holdings.products}
    emergency = f"{RINSE} {lab.emergency}".strip()

    def address(code: str) -> str:
        return f"{public_url}/c/{code}"

    return (
        *(
            _bottle(one, products[one.product_id], address=address(one.code), emergency=emergency)
            for one in holdings.bottles
        ),
        *(
            _bath(one, products[one.product_id], address=address(one.code), emergency=emergency, zone=zone)
            for one in holdings.baths
        ),
        *(
            _container(one, holdings, address=address(one.label), emergency=emergency, zone=zone)
            for one in waste.containers_here(session)
        ),
    )


def collect_labels(
    session: DbSession,
    *,
    keys: Collection[str],
    layout: Layout,
    first: int,
    issued_by: Person,
    head: Head,
    public_url: str,
    now: datetime,
) -> LabelSheetData:
    """Put together the labels chosen, in the order of the lab's lists; a key of nothing here is left out."""
    lab = records.the_lab(session)
    found = everything_to_label(session, public_url=public_url, now=now)
    return LabelSheetData(
        issue=_issue(lab, issued_by=issued_by, head=head, address=f"{public_url}/documents/labels", now=now),
        layout=layout,
        first=first,
        labels=tuple(one.facts for one in found if one.key in keys),
    )


def _facts(
    *,
    code: str,
    address: str,
    name: str,
    lines: Sequence[str],
    label: LabelElements,
    notes: Sequence[str],
    kind: str,
    emergency: str,
) -> LabelFacts:
    statements = (*label.hazard_statements, *label.euh_statements)
    none = () if statements else ("Its entries give no hazard statement. Keep it out of eyes and mouth all the same.",)
    return LabelFacts(
        code=code,
        scan_address=address,
        name=name,
        lines=tuple(filter(None, lines)),
        pictograms=tuple(Pictogram(one) for one in label.pictograms),
        signal_word=label.signal_word,
        statements=statements,
        precautions=label.precautionary_statements,
        notes=(*notes, *none),
        basis=_LABEL_BASIS[kind],
        emergency=emergency,
    )


def _bottle(bottle: Bottle, product: Product, *, address: str, emergency: str) -> Stuck:
    lot = f"Lot {bottle.lot}" if bottle.lot else ""
    keep = f"use before {bottle.expires_on:%-d %b %Y}" if bottle.expires_on else ""
    facts = _facts(
        code=bottle.code,
        address=address,
        name=product.name,
        lines=(product.supplier, ", ".join(filter(None, (lot, keep)))),
        label=mixtures.bottle_label(product),
        notes=(f"Waste, once used: {product.waste_code}",),
        kind="bottle",
        emergency=emergency,
    )
    volume = bottle.vessel.capacity if product.powder_mg_per_l is None else None
    return Stuck(f"bottle-{bottle.id}", "bottle", f"{product.name} {bottle.code}", facts, volume)


def _bath(bath: Bath, product: Product, *, address: str, emergency: str, zone: ZoneInfo) -> Stuck:
    label, _ = working_label(product, water_parts_milli=bath.water_parts_milli)
    sensitisers = [one.name for one in product.ingredients if "H317" in one.classification]
    skin = (
        (f"Protect your skin: {', '.join(sensitisers)} can make it allergic at any strength.",) if sensitisers else ()
    )
    facts = _facts(
        code=bath.code,
        address=address,
        name=f"{bath.name}, {show_dilution(bath.water_parts_milli)}",
        lines=(product.name, f"{bath.line.name}, {bath.place}. Mixed {day(bath.mixed_at, zone=zone)}"),
        label=label,
        notes=(*skin, f"Waste: {product.waste_code}"),
        kind="bath",
        emergency=emergency,
    )
    return Stuck(f"bath-{bath.id}", "bath", f"{bath.name} {bath.code}", facts, bath.vessel.capacity)


def _container(container: WasteContainer, holdings: Holdings, *, address: str, emergency: str, zone: ZoneInfo) -> Stuck:
    stream = container.stream
    going_in = [product for product in holdings.products if product.waste_code == stream.code]
    apart = keep_away(groups_of_stream(code=stream.code, products=going_in))
    facts = _facts(
        code=container.label,
        address=address,
        name=f"WASTE: {stream.name}",
        lines=(f"Up to {show_volume(container.vessel.capacity)}, since {day(container.opened_at, zone=zone)}",),
        label=_used(going_in),
        notes=(
            f"{stream.code} {waste_code(stream.code).text}",
            *(f"Keep away from: {one[:1].lower()}{one[1:]}" for one in apart),
        ),
        kind="container",
        emergency=emergency,
    )
    title = f"{stream.name} {container.label}"
    return Stuck(f"container-{container.id}", "container", title, facts, container.vessel.capacity)


def _used(products: Sequence[Product]) -> LabelElements:
    """The hazards of several used solutions together: each at the strongest dilution of its data sheet."""
    codes: list[str] = []
    for product in products:
        strongest = min((one.water_parts_milli for one in product.dilutions), default=0)
        label, _ = working_label(product, water_parts_milli=strongest)
        codes += [code for code, _ in (*label.hazard_statements, *label.euh_statements)]
    parts = [part for product in products for part in product.ingredients]
    return from_h_codes(
        codes,
        names=tuple(dict.fromkeys(part.name for part in parts)),
        sensitisers=tuple(dict.fromkeys(part.name for part in parts if "H317" in part.classification)),
    )
