"""What people do with products: enter one from its sheets, change it, confirm it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy.exc import IntegrityError

from labsys.chemistry.bath_rules import Holding
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.sizes import Material
from labsys.database import DbSession, violates
from labsys.hazards.cas import check_cas
from labsys.hazards.errors import UnresolvedStatement
from labsys.hazards.waste_codes import waste_code
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require, require_any
from labsys.products import mixtures, queries, rules, safety
from labsys.products.models import (
    AgeRule,
    CapacityMeasure,
    CapacityRule,
    Confirmation,
    Ingredient,
    Product,
    ProductDilution,
)


@dataclass(frozen=True)
class IngredientEntry:
    name: str
    cas: str
    low_ppm: int
    high_ppm: int
    classification: str
    specific_limits: str = ""
    m_acute: int | None = None
    m_chronic: int | None = None


@dataclass(frozen=True)
class DilutionEntry:
    water_parts_milli: int
    use: str


@dataclass(frozen=True)
class CapacityEntry:
    water_parts_milli: int
    material: Material
    measure: CapacityMeasure
    per_litre: int
    source: str


@dataclass(frozen=True)
class AgeEntry:
    holding: Holding
    hours: int
    source: str


@dataclass(frozen=True, kw_only=True)
class DevelopingEntry:
    """What a developer's data sheet says of time, temperature and film; `developing_source` says where."""

    q10_milli: int | None = None
    low_milli_c: int | None = None
    high_milli_c: int | None = None
    least_seconds: int | None = None
    least_concentrate_ul: int | None = None
    developing_source: str = ""


@dataclass(frozen=True, kw_only=True)
class ProductEntry:
    """All that is entered of a product, from its SDS and its data sheet."""

    name: str
    supplier: str
    kind: SolutionKind
    waste_code: str
    h_codes: str = ""
    sds_date: date | None = None
    powder_mg_per_l: int | None = None
    density_mg_per_ml: int | None = None
    ph_limit_milli: int | None = None
    developing: DevelopingEntry = DevelopingEntry()
    ingredients: Sequence[IngredientEntry] = ()
    dilutions: Sequence[DilutionEntry] = ()
    capacities: Sequence[CapacityEntry] = ()
    ages: Sequence[AgeEntry] = ()
    restricted_reason: str = ""
    sheet: safety.SheetEntry | None = None


@act
def add_product(act: Act, *, entry: ProductEntry) -> Product:
    """Register a product. Until somebody confirms it against its SDS, nothing is mixed from it.

    Raises NotPermitted, ProductRefused or SheetRefused.
    """
    require_any(act.actor, Permission.KEEP_STOCK, Permission.CONFIRM_PRODUCT)
    if queries.product_by_name(act.session, name=entry.name, supplier=entry.supplier) is not None:
        raise rules.ProductRefused(f"{entry.supplier} {entry.name} is in the store's list already.", field="name")
    product = Product(created_at=act.now, version=1)
    _fill(product, entry)
    act.session.add(product)
    _flush_with_name_of_its_own(act.session, product)
    safety.settle_restrictions(act, product=product, reason=entry.restricted_reason)
    act.tell("product.added", about=product, facts=_product_facts(product))
    if entry.sheet is not None:
        safety.keep_sheet(act, product=product, entry=entry.sheet)
    return product


@act
def change_product(act: Act, *, product_id: int, entry: ProductEntry, edition: int | None = None) -> Product:
    """Change a product's entries. `edition` is the one the change started from.

    Where the change bears on hazards, it waits to be confirmed again; what comes from the data sheet (dilutions,
    capacities, keeping, developing) does not.

    Raises NotPermitted, NotFound, ProductRefused, or EntriesMoved where the edition has moved on.
    """
    require_any(act.actor, Permission.KEEP_STOCK, Permission.CONFIRM_PRODUCT)
    product = queries.product_or_raise(act.session, product_id, lock=True)
    rules.check_version(seen=edition, stands=product.edition)
    same_name = queries.product_by_name(act.session, name=entry.name, supplier=entry.supplier)
    if same_name is not None and same_name.id != product.id:
        raise rules.ProductRefused(f"{entry.supplier} {entry.name} is in the store's list already.", field="name")
    if (entry.powder_mg_per_l is None) != (product.powder_mg_per_l is None) and queries.has_bottles(
        act.session, product_id
    ):
        raise rules.ProductRefused("There are bottles of it: register the powder or the liquid as another product.")
    confirmed_of = _bears_on_hazards(product)
    for rows in (product.ingredients, product.dilutions, product.capacities, product.ages):
        rows.clear()
    act.session.flush()  # the old rows go before the new ones come, or they would collide
    _fill(product, entry)
    product.edition += 1
    if _bears_on_hazards(product) != confirmed_of:
        product.version += 1
    _flush_with_name_of_its_own(act.session, product)
    safety.settle_restrictions(act, product=product, reason=entry.restricted_reason)
    act.tell("product.changed", about=product, facts=_product_facts(product))
    return product


@act
def confirm_product(act: Act, *, product_id: int, version: int | None = None) -> Confirmation:
    """Say that the entries were compared with the SDS and are right. `version` is the one that was compared.

    Raises NotPermitted, NotFound, ProductRefused, or EntriesMoved where the version has moved on.
    """
    require(act.actor, Permission.CONFIRM_PRODUCT)
    product = queries.product_or_raise(act.session, product_id, lock=True)
    rules.check_version(seen=version, stands=product.version)
    if product.confirmation is not None:
        raise rules.ProductRefused("These entries are confirmed already.")
    if product.sds_date is None:
        raise rules.ProductRefused(
            "Enter the date of the SDS first: a confirmation is against one sheet.", field="sds_date"
        )
    confirmation = Confirmation(
        product_id=product.id, version=product.version, confirmed_by_id=act.actor.id, confirmed_at=act.now
    )
    act.session.add(confirmation)
    facts = {"version": product.version, "sds_date": product.sds_date.isoformat()}
    act.tell("product.confirmed", about=product, facts=facts)
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


def _fill(product: Product, entry: ProductEntry) -> None:
    product.name = entry.name
    product.supplier = entry.supplier
    product.kind = entry.kind
    product.waste_code = waste_code(entry.waste_code).code
    product.h_codes = rules.plain_h_codes(entry.h_codes)
    product.sds_date = entry.sds_date
    product.powder_mg_per_l = entry.powder_mg_per_l
    product.density_mg_per_ml = entry.density_mg_per_ml
    product.ph_limit_milli = entry.ph_limit_milli
    for name, told in vars(entry.developing).items():
        setattr(product, name, told)
    product.ingredients = [_ingredient(one) for one in entry.ingredients]
    product.dilutions = [ProductDilution(**vars(one)) for one in entry.dilutions]
    product.capacities = [CapacityRule(**vars(one)) for one in entry.capacities]
    product.ages = [AgeRule(**vars(one)) for one in entry.ages]
    try:
        mixtures.bottle_label(product)
    except UnresolvedStatement as error:
        raise rules.ProductRefused(
            f"{error.code} names a sensitiser: enter it among the ingredients, with its class.", field="h_codes"
        ) from error


def _ingredient(entry: IngredientEntry) -> Ingredient:
    ingredient = Ingredient(**vars(entry))
    ingredient.cas = check_cas(entry.cas)
    mixtures.as_ingredient(ingredient)  # refuses a class or a limit that cannot be read
    return ingredient


def _bears_on_hazards(product: Product) -> tuple[object, ...]:
    """What of a product's entries a confirmation against its SDS is about."""
    ingredients = [
        (
            one.name,
            one.cas,
            one.low_ppm,
            one.high_ppm,
            one.classification,
            one.specific_limits,
            one.m_acute,
            one.m_chronic,
        )
        for one in product.ingredients
    ]
    named = (product.name, product.supplier, product.kind, product.waste_code, product.h_codes, product.sds_date)
    return (*named, product.powder_mg_per_l, product.density_mg_per_ml, ingredients)


def _product_facts(product: Product) -> dict[str, object]:
    return {
        "name": product.name,
        "supplier": product.supplier,
        "version": product.version,
        "edition": product.edition,
        "h_codes": product.h_codes,
        "ingredients": [[one.cas, one.low_ppm, one.high_ppm] for one in product.ingredients],
    }
