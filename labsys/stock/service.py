"""What people do with the chemical store: products, their confirmation, bottles, cylinders."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy.exc import IntegrityError

from labsys.chemistry.bath_rules import Holding
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.measuring import Cylinder, CylinderClass, NotInStandard
from labsys.chemistry.sizes import Material
from labsys.database import DbSession, violates
from labsys.hazards.cas import check_cas
from labsys.hazards.errors import UnresolvedStatement
from labsys.hazards.waste_codes import waste_code
from labsys.ledger import service as ledger
from labsys.ledger.models import Account, VesselKind
from labsys.ledger.rules import Line
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require, require_any
from labsys.quantities import UL_PER_ML
from labsys.records import service as records
from labsys.records.models import CodeKind
from labsys.stock import mixtures, queries, rules, safety, shelves
from labsys.stock.models import (
    AgeRule,
    Bottle,
    CapacityMeasure,
    CapacityRule,
    Confirmation,
    Ingredient,
    OwnedCylinder,
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


@act
def receive_bottle(
    act: Act,
    *,
    product_id: int,
    amount: int,
    lot: str,
    received_at: datetime,
    expires_on: date | None,
    shelf_id: int | None = None,
) -> Bottle:
    """Put a full bottle from the supplier into the store. `amount` is in the product's unit, µL or mg.

    Raises NotPermitted, NotFound or BottleRefused.
    """
    require(act.actor, Permission.KEEP_STOCK)
    product = queries.product_or_raise(act.session, product_id)
    rules.check_bottle(amount=amount, expires_on=expires_on, received_on=received_at.date())
    vessel = ledger.add_vessel(act.session, kind=VesselKind.BOTTLE, capacity=amount, unit=product.unit)
    ledger.move(
        act,
        what="delivery",
        lines=[Line(Account.SUPPLIER, -amount, product.unit), Line(vessel, amount, product.unit)],
        happened_at=received_at,
    )
    bottle = Bottle(
        vessel=vessel,
        product=product,
        code=f"new {vessel.id}",
        lot=lot,
        received_at=received_at,
        recorded_at=act.now,
        expires_on=expires_on,
    )
    act.session.add(bottle)
    act.session.flush()
    bottle.code = records.give_code(act.session, kind=CodeKind.BOTTLE, row_id=bottle.id)
    facts = {"code": bottle.code, "product": product.id, "amount": amount, "unit": product.unit, "lot": lot}
    act.tell("bottle.received", about=bottle, facts=facts)
    shelves.place(act, bottle=bottle, shelf_id=shelf_id)
    return bottle


@act
def correct_level(act: Act, *, bottle_id: int, found: int, found_at: datetime) -> Bottle:
    """Set a bottle's level to what was found in it, in its own unit; the difference is put down as unexplained."""
    require(act.actor, Permission.KEEP_STOCK)
    bottle = queries.bottle_or_raise(act.session, bottle_id, lock=True)
    difference = set_level(act, bottle=bottle, found=found, found_at=found_at)
    if not difference:
        raise rules.BottleRefused("The book says the same. Nothing to correct.", field="found")
    facts = {"found": found, "difference": difference}
    act.tell("bottle.level_corrected", about=bottle, facts=facts)
    return bottle


def set_level(act: Act, *, bottle: Bottle, found: int, found_at: datetime) -> int:
    """Step: bring the book to what was found in a bottle. Returns found less book; zero writes nothing."""
    unit = bottle.vessel.unit
    difference = found - bottle.vessel.level
    if found > rules.MOST_OVER_NOMINAL * bottle.vessel.capacity:
        raise rules.BottleRefused(f"{bottle.code} does not hold that much even when full.", field="found")
    bottle.vessel.capacity = max(bottle.vessel.capacity, found)  # filled to the brim, it holds more than it says
    act.session.flush()
    if difference:
        ledger.move(
            act,
            what="level corrected",
            lines=[Line(bottle.vessel, difference, unit), Line(Account.UNEXPLAINED, -difference, unit)],
            happened_at=found_at,
        )
    return difference


@act
def add_cylinder(
    act: Act, *, nominal_ml: int, division_ul: int, accuracy_class: CylinderClass, kept_for: SolutionKind | None
) -> OwnedCylinder:
    """Note a measuring cylinder the lab owns, and what it is kept for.

    Raises NotPermitted, CylinderRefused, or CalculationError for an impossible one.
    """
    require(act.actor, Permission.KEEP_STOCK)
    try:
        Cylinder(nominal_ml=nominal_ml, division_ml=division_ul / UL_PER_ML, accuracy_class=accuracy_class)
    except NotInStandard as error:
        raise rules.CylinderRefused(
            f"No standard cylinder holds {nominal_ml} mL. Check the size, or choose “no class marked”.",
            field="accuracy_class",
        ) from error
    cylinder = OwnedCylinder(
        nominal_ml=nominal_ml, division_ul=division_ul, accuracy_class=accuracy_class, kept_for=kept_for
    )
    act.session.add(cylinder)
    facts = {"nominal_ml": nominal_ml, "class": accuracy_class, "kept_for": kept_for}
    act.tell("cylinder.added", about=cylinder, facts=facts)
    return cylinder


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
