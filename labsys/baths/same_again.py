"""Mixing a bath again as it was: whether that may still be offered, how much, and out of which bottles."""

from collections.abc import Sequence
from datetime import date, datetime

from labsys.baths.models import Bath
from labsys.baths.rules import Taken
from labsys.database import DbSession
from labsys.products.models import Product
from labsys.products.standing import ProductStanding
from labsys.quantities import UL_PER_ML
from labsys.risk import queries as risk
from labsys.store.models import Bottle

_ROUNDED_FROM = 500 * UL_PER_ML


def why_not_again(session: DbSession, bath: Bath, *, standing: ProductStanding) -> str:
    """Why a bath is to be planned anew instead of being mixed again as it was, or an empty text. Two queries."""
    if not standing.may_mix:
        return standing.words
    if _product_changed_at(bath.product) > bath.mixed_at:
        return f"What is known of {bath.product.name} changed since this was mixed: plan it anew."
    assessed = [risk.live_of_product(session, bath.product_id)]
    if bath.line.process_id is not None:
        assessed.append(risk.live_of_process(session, bath.line.process_id))
    for assessment in assessed:
        approved = [version.approved_at for version in assessment.versions if version.approved_at] if assessment else []
        if any(at > bath.mixed_at for at in approved):
            return "Its assessment changed since this was mixed: plan it anew, by what is asked for now."
    return ""


def _product_changed_at(product: Product) -> datetime:
    confirmed = product.confirmation.confirmed_at if product.confirmation else product.created_at
    return max([confirmed, *(sheet.added_at for sheet in product.data_sheets)])


def volume_again(bath: Bath) -> int:
    """How much to mix: what was mixed, to the 10 mL that was meant where it is half a litre or more. [µL]"""
    mixed = bath.batches[0].volume_ul
    step = (10 if mixed >= _ROUNDED_FROM else 1) * UL_PER_ML
    return max(step, round(mixed / step) * step)


def out_of(bottles: Sequence[Bottle], amount: int, *, today: date) -> list[Taken] | None:
    """What to take out of which bottles, in their order; None where too little is within its date."""
    taken, wanted = [], amount
    for bottle in bottles:
        if bottle.expires_on is not None and bottle.expires_on < today:
            continue
        part = min(wanted, bottle.vessel.level)
        if part:
            taken.append(Taken(bottle.id, part))
            wanted -= part
    return None if wanted else taken
