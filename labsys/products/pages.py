"""What pages show of a product: what is entered of it in words, its hazards, its working dilutions."""

from dataclasses import dataclass

from labsys.drawing.pictograms import Pictogram, pictogram
from labsys.drawing.scene import Scene
from labsys.hazards.label import LabelElements
from labsys.hazards.mixtures import Alternative
from labsys.hazards.mixtures.readings import taken, why_it_stands
from labsys.hazards.restricted import Restricted
from labsys.hazards.solution import SolutionHazards
from labsys.products import safety
from labsys.products.hazards import concentrate_of, hazards_of
from labsys.products.models import AcceptedRestriction, Product
from labsys.products.reference import reference_note
from labsys.products.rules import show_dilution

ESTIMATE = "Calculated: an estimate; the SDS wins for what is in the bottle."


def pictograms(label: LabelElements) -> tuple[tuple[str, Scene], ...]:
    """The pictograms of a label, drawn, each with its code."""
    return tuple((code, pictogram(Pictogram(code))) for code in label.pictograms)


@dataclass(frozen=True)
class ReadingView:
    """One point on which two careful people may differ, with which reading stands and why."""

    alternative: Alternative
    is_taken: bool
    why_it_stands: str

    @property
    def stands(self) -> str:
        return self.alternative.outcome if self.is_taken else self.alternative.calculated

    @property
    def other(self) -> str:
        return self.alternative.calculated if self.is_taken else self.alternative.outcome


@dataclass(frozen=True)
class DilutionView:
    """The hazards of a working dilution, and where two careful people may differ about them."""

    water_parts_milli: int
    dilution: str
    uses: str
    hazards: SolutionHazards
    readings: tuple[ReadingView, ...] = ()


def dilutions(product: Product) -> tuple[DilutionView, ...]:
    """Return each dilution of the data sheet once, in its order."""
    uses: dict[int, list[str]] = {}
    for row in product.dilutions:
        uses.setdefault(row.water_parts_milli, []).append(row.use)
    return tuple(dilution_view(product, water_parts_milli=milli, uses=", ".join(of)) for milli, of in uses.items())


def dilution_view(product: Product, *, water_parts_milli: int, uses: str = "") -> DilutionView:
    words = show_dilution(water_parts_milli)
    hazards = hazards_of(product, water_parts_milli=water_parts_milli)
    chosen = {key: choice for milli, key, choice in concentrate_of(product).choices if milli == water_parts_milli}
    return DilutionView(
        water_parts_milli,
        words,
        uses,
        hazards,
        readings=tuple(
            ReadingView(
                alternative,
                taken(alternative, chosen.get(alternative.key)),
                why_it_stands(alternative, chosen.get(alternative.key)),
            )
            for alternative in hazards.alternatives
        ),
    )


def reading_choices(view: DilutionView) -> tuple[tuple[str, str], ...]:
    """What can be chosen for a dilution, by value; the value names the alternative and whether it is taken."""
    return tuple(
        choice
        for place, reading in enumerate(view.readings)
        for choice in (
            (f"{place}-alternative", f"{reading.alternative.outcome}: {reading.alternative.rule}"),
            (f"{place}-calculated", f"{reading.alternative.calculated}: as calculated by the general rule"),
        )
    )


@dataclass(frozen=True)
class Kept:
    """Something restricted in a product, and why it is kept all the same where somebody answers for it."""

    item: Restricted
    accepted: AcceptedRestriction | None


def kept_restricted(product: Product) -> tuple[Kept, ...]:
    accepted = {restriction.item: restriction for restriction in product.accepted_restrictions}
    return tuple(Kept(restriction, accepted.get(restriction.key)) for restriction in safety.restrictions_of(product))


def floor_notes(product: Product) -> dict[str, str]:
    """Where an ingredient as entered stays below the reference list, by CAS number: the list is a floor.

    One of which no classes are entered takes the list's, and one that cannot be read is told elsewhere.
    """
    return {part.cas: part.raised for part in concentrate_of(product).ingredients if part.cas and part.raised}


def reference_notes(product: Product) -> dict[str, str]:
    """What of an unconfirmed product still stands as the reference list gave it, by CAS number."""
    if product.confirmation is not None:
        return {}
    notes = {
        row.cas: reference_note(cas=row.cas, classification=row.classification, specific_limits=row.specific_limits)
        for row in product.ingredients
    }
    return {cas: note for cas, note in notes.items() if note}
