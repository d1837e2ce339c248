"""What people do about the safety of a product: its data sheets, interim approvals, chosen readings, the lab's rule."""

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from labsys.database import DbSession
from labsys.hazards.restricted import Restricted, restricted_in
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, may, require, require_any
from labsys.products import queries, rules
from labsys.products.hazards import hazards_of
from labsys.products.models import (
    AcceptedRestriction,
    DataSheet,
    HazardChoice,
    InterimApproval,
    Product,
    SdsRule,
    SheetContent,
    StoreRule,
)
from labsys.products.pdf_file import check_pdf
from labsys.products.standing import check_interim, review_due
from labsys.records import queries as lab_queries
from labsys.timetable.local_time import to_local


@dataclass(frozen=True, kw_only=True)
class SheetEntry:
    """A data sheet as it is handed in; without a day of review the lab's usual one holds."""

    content: bytes
    issued_on: date
    supplier: str
    language: str
    revision: str = ""
    review_due: date | None = None


@act
def add_data_sheet(act: Act, *, product_id: int, entry: SheetEntry) -> DataSheet:
    """Keep a supplier's SDS of a product. Raises NotPermitted, NotFound or SheetRefused."""
    require_any(act.actor, Permission.KEEP_STOCK, Permission.CONFIRM_PRODUCT)
    return keep_sheet(act, product=queries.product_or_raise(act.session, product_id, lock=True), entry=entry)


def keep_content(session: DbSession, content: bytes) -> str:
    """Step: check that bytes are a PDF, keep them once, and return their digest. Raises SheetRefused."""
    check_pdf(content)
    digest = hashlib.sha256(content).hexdigest()
    if session.get(SheetContent, digest) is None:
        session.add(SheetContent(digest=digest, size=len(content), content=content))
    return digest


def keep_sheet(act: Act, *, product: Product, entry: SheetEntry) -> DataSheet:
    """Step: check a sheet, keep its bytes once, and put its digest on the record."""
    digest = keep_content(act.session, entry.content)
    today = _today(act.session, act.now)
    if entry.issued_on > today:
        raise rules.SheetRefused("Its date is in the future. Copy it from the sheet.", field="issued_on")
    due = entry.review_due or review_due(entry.issued_on)
    if due <= entry.issued_on:
        raise rules.SheetRefused("A review comes after the date of the sheet.", field="review_due")
    if any(kept.digest == digest for kept in product.data_sheets):
        raise rules.SheetRefused("This very file is kept for the product already.", field="sheet")
    printed = {"supplier": entry.supplier, "language": entry.language, "revision": entry.revision}
    sheet = DataSheet(
        **printed,
        product_id=product.id,
        digest=digest,
        issued_on=entry.issued_on,
        review_due=due,
        added_at=act.now,
        added_by_id=act.actor.id,
    )
    act.session.add(sheet)
    days = {"issued_on": entry.issued_on.isoformat(), "review_due": due.isoformat()}
    facts = {"product": product.id, "digest": digest, **days, **printed}
    act.tell("data_sheet.added", about=sheet, facts=facts)
    return sheet


@act
def approve_interim(
    act: Act, *, product_id: int, reason: str, last_day: date, version: int | None = None
) -> InterimApproval:
    """Let a product be mixed from for some days though something stands against it, and say why.

    `version` is the one that was read. Raises NotPermitted, NotFound, ProductRefused or EntriesMoved.
    """
    require(act.actor, Permission.CONFIRM_PRODUCT)
    product = queries.product_or_raise(act.session, product_id, lock=True)
    rules.check_version(seen=version, stands=product.version)
    today = _today(act.session, act.now)
    standing = queries.standing(act.session, product, now=act.now)
    check_interim(product, standing=standing, last_day=last_day, today=today)
    approval = InterimApproval(
        product_id=product.id,
        version=product.version,
        reason=reason,
        first_day=today,
        last_day=last_day,
        approved_at=act.now,
        approved_by_id=act.actor.id,
    )
    act.session.add(approval)
    facts = {"version": product.version, "last_day": last_day.isoformat(), "reason": reason}
    act.tell("product.approved_interim", about=product, facts=facts)
    return approval


@act
def choose_reading(
    act: Act,
    *,
    product_id: int,
    water_parts_milli: int,
    key: tuple[str, str],
    takes_alternative: bool,
    reason: str,
    version: int | None = None,
) -> HazardChoice:
    """Choose between two readings of a working solution's hazards, and say why. `key` is the alternative's.

    Raises NotPermitted, NotFound, ProductRefused, or EntriesMoved where the version has moved on.
    """
    require(act.actor, Permission.CONFIRM_PRODUCT)
    product = queries.product_or_raise(act.session, product_id, lock=True)
    rules.check_version(seen=version, stands=product.version)
    solution = hazards_of(product, water_parts_milli=water_parts_milli)
    if key not in [alternative.key for alternative in solution.alternatives]:
        raise rules.ProductRefused("There is no such second reading of this dilution.", field="reading")
    rule, outcome = key
    choice = HazardChoice(
        product_id=product.id,
        version=product.version,
        water_parts_milli=water_parts_milli,
        rule=rule,
        outcome=outcome,
        takes_alternative=takes_alternative,
        reason=reason,
        chosen_at=act.now,
        chosen_by_id=act.actor.id,
    )
    act.session.add(choice)
    facts = {
        "version": product.version,
        "dilution_milli": water_parts_milli,
        "rule": rule,
        "outcome": outcome,
        "takes_alternative": takes_alternative,
        "reason": reason,
    }
    act.tell("product.reading_chosen", about=product, facts=facts)
    return choice


@act
def set_sds_rule(act: Act, *, sds_rule: SdsRule) -> StoreRule:
    """Choose what follows where a product has no current SDS. Raises NotPermitted."""
    require_any(act.actor, Permission.KEEP_LAB, Permission.CONFIRM_PRODUCT)
    rule = act.session.get(StoreRule, 1, with_for_update=True)
    if rule is None:
        rule = StoreRule(id=1, sds_rule=sds_rule)
        act.session.add(rule)
    rule.sds_rule = sds_rule
    facts = {"sds_rule": sds_rule}
    act.tell("store.sds_rule_chosen", about=rule, facts=facts)
    return rule


def settle_restrictions(act: Act, *, product: Product, reason: str) -> None:
    """Step: refuse a product that holds something restricted, unless somebody who may answers for it with a reason.

    What was accepted for this product before stays accepted.
    """
    accepted = {restriction.item for restriction in product.accepted_restrictions}
    restrictions = [restriction for restriction in restrictions_of(product) if restriction.key not in accepted]
    if not restrictions:
        return
    if not may(act.actor, Permission.CONFIRM_PRODUCT):
        raise rules.RestrictedProduct(
            f"{_refusal(restrictions)} Only who may confirm hazards can enter it, with a reason."
        )
    if not reason:
        raise rules.RestrictedProduct(f"{_refusal(restrictions)} If it has to be kept all the same, write down why.")
    for restriction in restrictions:
        act.session.add(
            AcceptedRestriction(
                product_id=product.id,
                item=restriction.key,
                reason=reason,
                accepted_at=act.now,
                accepted_by_id=act.actor.id,
            )
        )
    facts = {"items": [restriction.key for restriction in restrictions], "reason": reason}
    act.tell("product.restriction_accepted", about=product, facts=facts)


def restrictions_of(product: Product) -> tuple[Restricted, ...]:
    """What is restricted in a product, by its name and its ingredients."""
    names = [product.name, *(row.name for row in product.ingredients)]
    return restricted_in(names=names, cas=[row.cas for row in product.ingredients])


def _refusal(restrictions: Iterable[Restricted]) -> str:
    return " ".join(
        f"{restriction.name}: {restriction.reason} ({restriction.source}.) Instead: {restriction.instead}"
        for restriction in restrictions
    )


def _today(session: DbSession, now: datetime) -> date:
    return to_local(now, zone=lab_queries.zone(session)).date()
