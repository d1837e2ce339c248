"""What people do with products: enter one from its sheets, change it, confirm it."""

from dataclasses import replace
from datetime import datetime

from sqlalchemy.exc import IntegrityError

from labsys.database import DbSession, violates
from labsys.hazards.cas import check_cas
from labsys.hazards.errors import UnresolvedStatement
from labsys.hazards.waste_codes import waste_code
from labsys.people.models import Person
from labsys.people.permissions import Permission, require, require_any
from labsys.products import mixtures, queries, rules, safety
from labsys.products.models import (
    AgeRule,
    CapacityRule,
    Confirmation,
    Ingredient,
    Product,
    ProductDilution,
)
from labsys.products.sheet import ProductSheet
from labsys.records import service as records
from labsys.records.acts import act

_ROWS = {"ingredients": Ingredient, "dilutions": ProductDilution, "capacities": CapacityRule, "ages": AgeRule}


@act
def add_product(
    session: DbSession,
    *,
    actor: Person,
    sheet: ProductSheet,
    now: datetime,
    restricted_reason: str = "",
    sds: safety.SheetEntry | None = None,
    submission_key: str | None = None,
) -> Product:
    """Register a product. Until somebody confirms it against its SDS, nothing is mixed from it.

    Raises NotPermitted, ProductRefused or SheetRefused.
    """
    require_any(actor, Permission.KEEP_STOCK, Permission.CONFIRM_PRODUCT)
    if queries.product_by_name(session, name=sheet.name, supplier=sheet.supplier) is not None:
        raise rules.ProductRefused(f"{sheet.supplier} {sheet.name} is in the store's list already.", field="name")
    product = Product(created_at=now, version=1)
    _write(product, sheet)
    session.add(product)
    _flush_with_name_of_its_own(session, product)
    safety.settle_restrictions(session, actor=actor, product=product, reason=restricted_reason, now=now)
    records.append(session, act="product.added", about=product, at=now, actor=actor, facts=_product_facts(product))
    if sds is not None:
        safety.keep_sheet(session, actor=actor, product=product, entry=sds, now=now)
    return product


@act
def change_product(
    session: DbSession,
    *,
    actor: Person,
    product_id: int,
    sheet: ProductSheet,
    now: datetime,
    edition: int | None = None,
    restricted_reason: str = "",
    submission_key: str | None = None,
) -> Product:
    """Change a product's entries. `edition` is the one the change started from.

    Where the change bears on hazards, it waits to be confirmed again; what comes from the data sheet (dilutions,
    capacities, keeping, developing) does not.

    Raises NotPermitted, NotFound, ProductRefused, or EntriesMoved where the edition has moved on.
    """
    require_any(actor, Permission.KEEP_STOCK, Permission.CONFIRM_PRODUCT)
    product = queries.product_or_raise(session, product_id, lock=True)
    rules.check_version(seen=edition, stands=product.edition)
    same_name = queries.product_by_name(session, name=sheet.name, supplier=sheet.supplier)
    if same_name is not None and same_name.id != product.id:
        raise rules.ProductRefused(f"{sheet.supplier} {sheet.name} is in the store's list already.", field="name")
    if (sheet.powder_mg_per_l is None) != (product.powder_mg_per_l is None) and queries.has_bottles(
        session, product_id
    ):
        raise rules.ProductRefused("There are bottles of it: register the powder or the liquid as another product.")
    confirmed = product.sheet.bears_on_hazards
    for rows in (product.ingredients, product.dilutions, product.capacities, product.ages):
        rows.clear()
    session.flush()  # the old rows go before the new ones come, or they would collide
    _write(product, sheet)
    product.edition += 1
    if product.sheet.bears_on_hazards != confirmed:
        product.version += 1
    _flush_with_name_of_its_own(session, product)
    safety.settle_restrictions(session, actor=actor, product=product, reason=restricted_reason, now=now)
    records.append(session, act="product.changed", about=product, at=now, actor=actor, facts=_product_facts(product))
    return product


@act
def confirm_product(
    session: DbSession,
    *,
    actor: Person,
    product_id: int,
    now: datetime,
    version: int | None = None,
    submission_key: str | None = None,
) -> Confirmation:
    """Say that the entries were compared with the SDS and are right. `version` is the one that was compared.

    Raises NotPermitted, NotFound, ProductRefused, or EntriesMoved where the version has moved on.
    """
    require(actor, Permission.CONFIRM_PRODUCT)
    product = queries.product_or_raise(session, product_id, lock=True)
    rules.check_version(seen=version, stands=product.version)
    if product.confirmation is not None:
        raise rules.ProductRefused("These entries are confirmed already.")
    if product.sds_date is None:
        raise rules.ProductRefused(
            "Enter the date of the SDS first: a confirmation is against one sheet.", field="sds_date"
        )
    confirmation = Confirmation(
        product_id=product.id, version=product.version, confirmed_by_id=actor.id, confirmed_at=now
    )
    session.add(confirmation)
    facts = {"version": product.version, "sds_date": product.sds_date.isoformat()}
    records.append(session, act="product.confirmed", about=product, at=now, actor=actor, facts=facts)
    return confirmation


def _flush_with_name_of_its_own(session: DbSession, product: Product) -> None:
    """Write a product; the database has the last word on its name when two people enter it at once."""
    taken = rules.ProductRefused(f"{product.supplier} {product.name} is in the store's list already.", field="name")
    try:
        session.flush()
    except IntegrityError as error:
        if violates(error, "uq_products_name_supplier", columns="products.name"):
            raise taken from error
        raise


def _write(product: Product, sheet: ProductSheet) -> None:
    """Put a sheet into a product and its rows. Raises ProductRefused, or HazardsError at what makes no sense."""
    plain = replace(
        sheet,
        waste_code=waste_code(sheet.waste_code).code,
        h_codes=rules.plain_h_codes(sheet.h_codes),
        ingredients=[replace(stated, cas=check_cas(stated.cas)) for stated in sheet.ingredients],
    )
    for stated in plain.ingredients:
        mixtures.as_ingredient(stated)  # refuses a class or a limit that cannot be read
    for name, told in vars(plain).items():
        setattr(product, name, [_ROWS[name](**vars(stated)) for stated in told] if name in _ROWS else told)
    try:
        mixtures.bottle_label(product)
    except UnresolvedStatement as error:
        raise rules.ProductRefused(
            f"{error.code} names a sensitiser: enter it among the ingredients, with its class.", field="h_codes"
        ) from error


def _product_facts(product: Product) -> dict[str, object]:
    return {
        "name": product.name,
        "supplier": product.supplier,
        "version": product.version,
        "edition": product.edition,
        "h_codes": product.h_codes,
        "ingredients": [[one.cas, one.low_ppm, one.high_ppm] for one in product.ingredients],
    }
