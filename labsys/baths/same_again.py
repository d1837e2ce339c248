"""Mixing a bath again as it was: whether that may still be offered, how much, and out of which bottles."""

from collections.abc import Sequence
from datetime import date

from sqlalchemy import exists, or_, select

from labsys.baths.models import Bath
from labsys.baths.rules import Taken
from labsys.database import DbSession
from labsys.products.models import Confirmation, DataSheet
from labsys.quantities import UL_PER_ML
from labsys.risk.models import Assessment, SubjectProduct, Version
from labsys.store.models import Bottle
from labsys.store.rules import is_offered

_ROUNDED_FROM = 500 * UL_PER_ML


def why_changed(session: DbSession, bath: Bath) -> str:
    """What changed since a bath was mixed, so that it is planned anew; an empty text where nothing did. One query."""
    product_id, since = bath.product_id, bath.mixed_at
    confirmed = exists().where(
        Confirmation.product_id == product_id,
        Confirmation.version == bath.product.version,
        Confirmation.confirmed_at <= since,
    )
    newer_sheet = exists().where(DataSheet.product_id == product_id, DataSheet.added_at > since)
    of_product = exists().where(SubjectProduct.assessment_id == Assessment.id, SubjectProduct.product_id == product_id)
    approved = exists().where(
        Version.assessment_id == Assessment.id,
        Version.approved_at > since,
        or_(of_product, Assessment.process_id == bath.line.process_id),
    )
    is_confirmed, has_newer_sheet, is_assessed_anew = session.execute(select(confirmed, newer_sheet, approved)).one()
    if has_newer_sheet or not is_confirmed:
        return f"What is known of {bath.product.name} changed since this was mixed: plan it anew."
    if is_assessed_anew:
        return "Its assessment changed since this was mixed: plan it anew, by what is asked for now."
    return ""


def volume_again(bath: Bath) -> int:
    """How much to mix: what was mixed, to the 10 mL that was meant where it is half a litre or more. [µL]"""
    mixed = bath.batches[0].volume_ul
    step = (10 if mixed >= _ROUNDED_FROM else 1) * UL_PER_ML
    return max(step, round(mixed / step) * step)


def out_of(bottles: Sequence[Bottle], amount: int, *, today: date) -> list[Taken] | None:
    """What to take out of which bottles, in their order; None where those that are offered hold too little."""
    taken, wanted = [], amount
    for bottle in bottles:
        if not is_offered(bottle, today=today):
            continue
        part = min(wanted, bottle.vessel.level)
        if part:
            taken.append(Taken(bottle.id, part))
            wanted -= part
    return None if wanted else taken
