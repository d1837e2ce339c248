"""What asks for which competence: mixing by what the product really is, out of hours, and acts that ask for one alone.

The products' hazards are asked of their owner, `labsys.products.hazards`; what nobody has stated asks for what it may
be.
"""

from collections.abc import Iterable
from datetime import datetime, timedelta

from labsys.chemistry.care import SolutionKind
from labsys.competences.models import Competence
from labsys.competences.rules import Asked
from labsys.database import DbSession
from labsys.hazards.concentrate import single_codes
from labsys.places import queries as places
from labsys.places.calendar import Opening
from labsys.products.hazards import hazards_of
from labsys.products.models import Product
from labsys.timetable.local_time import clock_words, to_local
from labsys.timetable.spans import Span

TO_RELEASE = (Asked(Competence.RELEASING, "a container is released from quarantine"),)
TO_CHANGE_OVER = (Asked(Competence.CHANGING_OVER, "a spent bath is changed over"),)
TO_HAND_OVER = (Asked(Competence.WASTE_AWAY, "waste is signed away to a carrier"),)


def of_mixing(product: Product) -> list[Asked]:
    """What measuring out a product for a mix asks for."""
    asked = []
    if product.powder_mg_per_l is not None:
        asked.append(Asked(Competence.POWDERS, f"{product.name} is weighed out as a powder"))
    if burns := why_it_burns(product):
        asked.append(Asked(Competence.CORROSIVES, burns))
    if product.kind is SolutionKind.TONER:
        asked.append(Asked(Competence.TONERS, f"{product.name} is a toner"))
    return asked


def why_it_burns(product: Product) -> str:
    """Why a product as supplied is handled as one that burns skin, as a clause; empty where it is known not to."""
    supplied = hazards_of(product)
    if "H314" in single_codes(supplied.h_codes):
        return f"{product.name} as supplied burns skin (H314)"
    if product.h_codes:
        return ""
    if supplied.is_not_known or any(part.unknown_toxicity for part in supplied.ingredients):
        return f"nobody has stated all that {product.name} can do, so it may burn skin"
    return ""


def of_mixing_at(session: DbSession, product: Product, *, at: datetime) -> list[Asked]:
    """What mixing from a product at an instant asks for: by what it is, and by the hour."""
    asked = of_mixing(product)
    if closed := why_out_of_hours(session, at):
        asked.append(Asked(Competence.OUT_OF_HOURS, closed))
    return asked


def why_out_of_hours(session: DbSession, at: datetime) -> str:
    """Why an instant is outside the hours in which the lab is open, as a clause; empty where it is within them."""
    moment = Span(at, at + timedelta(minutes=1))
    return out_of_hours(places.calendar(session, within=moment).lab, at)


def out_of_hours(opening: Opening, at: datetime) -> str:
    """The same, by opening hours already read. Without any no hour is known to be staffed."""
    moment = Span(at, at + timedelta(minutes=1))
    if not opening.hours and not opening.special:
        return "no opening hours are stated, so no hour counts as staffed (whoever keeps the places states them)"
    if _is_within(opening.around(moment), at):
        return ""
    local = to_local(at, zone=opening.zone)
    return f"{clock_words(at, zone=opening.zone)} on {local:%A} {local:%-d %B} is outside opening hours"


def _is_within(spans: Iterable[Span], at: datetime) -> bool:
    return any(span.start <= at < span.end for span in spans)
