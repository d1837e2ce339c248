"""Whether anything may be mixed from a product, and why: the one decision that every page, plan and act asks for."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum

from labsys.products.models import DataSheet, InterimApproval, Product, SdsRule
from labsys.products.rules import ProductRefused
from labsys.timetable.local_time import day_words

REVIEW_YEARS = 3  # when to ask for a newer sheet: the lab's choice, no law names a number of years
DAYS_PER_YEAR = 365


class SdsState(StrEnum):
    """How the SDS on file stands to the entries, in words for a tag."""

    NONE = "no SDS"
    CURRENT = "SDS current"
    REVIEW_OVERDUE = "SDS review overdue"
    ENTRIES_OLDER = "entries of an older SDS"
    FILE_OLDER = "SDS on file is older"


@dataclass(frozen=True)
class ProductStanding:
    """`words` say why nothing may be mixed, or under which interim approval something may."""

    may_mix: bool
    words: str
    sds: SdsState
    sds_words: str
    sheet: DataSheet | None = None
    interim: InterimApproval | None = None


def standing_of(product: Product, *, today: date, sds_rule: SdsRule) -> ProductStanding:
    """Decide whether a product may be mixed from today.

    Its entries have to be confirmed and, where the lab chose so, its SDS has to be current; an interim approval of
    these very entries stands in for both while it lasts.
    """
    sheet = product.data_sheets[-1] if product.data_sheets else None
    sds = sds_state(sheet, entries_of=product.sds_date, today=today)
    sds_words = _sds_words(sds, sheet, entries_of=product.sds_date)
    interim = interim_on(product.interim_approvals, version=product.version, today=today)
    hinders = ""
    if product.confirmation is None:
        hinders = (
            f"{_ended(product, today=today)}Nobody has confirmed the hazards of {product.name} against its SDS yet. "
            "Ask the safety adviser to do it."
        )
    elif sds_rule is SdsRule.BLOCKS and sds is not SdsState.CURRENT:
        hinders = f"By the lab's rule nothing is mixed from {product.name} without a current SDS. {sds_words}"
    if not hinders:
        return ProductStanding(True, "", sds, sds_words, sheet)
    if interim is not None:
        return ProductStanding(True, interim_words(interim), sds, sds_words, sheet, interim)
    return ProductStanding(False, hinders, sds, sds_words, sheet)


def check_may_mix(standing: ProductStanding) -> None:
    """Raise ProductRefused where nothing may be mixed."""
    if not standing.may_mix:
        raise ProductRefused(standing.words, field="product")


def sds_state(sheet: DataSheet | None, *, entries_of: date | None, today: date) -> SdsState:
    """Say how the newest sheet on file stands to the entries. The day of the review itself is still in time."""
    if sheet is None:
        return SdsState.NONE
    if entries_of is None or entries_of < sheet.issued_on:
        return SdsState.ENTRIES_OLDER
    if entries_of > sheet.issued_on:
        return SdsState.FILE_OLDER
    return SdsState.REVIEW_OVERDUE if today > sheet.review_due else SdsState.CURRENT


def review_due(issued_on: date) -> date:
    """Return when a sheet is to be reviewed unless somebody says otherwise.

    >>> review_due(date(2024, 2, 29))
    datetime.date(2027, 2, 28)
    """
    return issued_on + timedelta(days=REVIEW_YEARS * DAYS_PER_YEAR)


def interim_on(approvals: Sequence[InterimApproval], *, version: int, today: date) -> InterimApproval | None:
    """Return the interim approval of these entries that still runs; its last day counts."""
    running = (
        approval for approval in reversed(approvals) if approval.version == version and approval.last_day >= today
    )
    return next(running, None)


def interim_words(interim: InterimApproval) -> str:
    return f"Interim approval until {day_words(interim.last_day)} by {interim.approved_by.name}: {interim.reason}"


def check_interim(product: Product, *, standing: ProductStanding, last_day: date, today: date) -> None:
    """Raise ProductRefused unless an interim approval up to a day is needed and short enough.

    All approvals of one version together last no longer than one may: they bridge a gap, they do not replace it.
    """
    if standing.may_mix and standing.interim is None:
        raise ProductRefused("Nothing stands against mixing from it: no interim approval is needed.")
    if last_day < today:
        raise ProductRefused("The last day has gone by. Choose today or a later day.", field="last_day")
    first_days = [approval.first_day for approval in product.interim_approvals if approval.version == product.version]
    latest = min([*first_days, today]) + timedelta(days=InterimApproval.MOST_DAYS)
    if last_day > latest:
        counted = "" if not first_days else ", counted from the first approval of these entries"
        raise ProductRefused(
            f"At most {InterimApproval.MOST_DAYS} days{counted}: {day_words(latest)} is the last day it may run to. "
            "Have the entries compared with the SDS by then.",
            field="last_day",
        )


def _ended(product: Product, *, today: date) -> str:
    ended = [
        approval
        for approval in product.interim_approvals
        if approval.version == product.version and approval.last_day < today
    ]
    return f"The interim approval ended on {day_words(ended[-1].last_day)}. " if ended else ""


def _sds_words(state: SdsState, sheet: DataSheet | None, *, entries_of: date | None) -> str:
    if sheet is None:
        return "No SDS is kept here. Ask the supplier for it and add it."
    here = day_words(sheet.issued_on)
    read_from = f"were read from the SDS of {day_words(entries_of)}" if entries_of else "name no date of an SDS"
    return {
        SdsState.CURRENT: f"The SDS of {here} is here. Review due {day_words(sheet.review_due)}.",
        SdsState.REVIEW_OVERDUE: (
            f"The SDS of {here} was to be reviewed by {day_words(sheet.review_due)}. Ask the supplier whether there is "
            "a newer one, and add it."
        ),
        SdsState.ENTRIES_OLDER: (
            f"The entries {read_from}; one of {here} is here. Compare them with it, enter its date and what differs, "
            "and have them confirmed again."
        ),
        SdsState.FILE_OLDER: (
            f"The entries {read_from}; the newest one here is of {here}. Add the one they were read from."
        ),
    }[state]
