"""What people do with products: enter one from its sheets, change it, confirm it."""

from dataclasses import replace

from labsys.chemistry.bath_rules import HOLDING_NAMES
from labsys.database import DbSession, flush_or_refuse
from labsys.hazards.cas import check_cas
from labsys.hazards.waste_codes import waste_code
from labsys.people.acts import Act, act
from labsys.people.permissions import Permission, require, require_any
from labsys.products import queries, rules, safety
from labsys.products.hazards import as_ingredient
from labsys.products.models import AgeRule, CapacityRule, Confirmation, Product, ProductDilution, ProductIngredient
from labsys.products.sheet import ProductSheet, StatedAge

_NAME = {"constraint": "uq_products_name_supplier", "columns": "products.name"}
_ROWS = {"ingredients": ProductIngredient, "dilutions": ProductDilution, "capacities": CapacityRule, "ages": AgeRule}


@act
def add_product(
    act: Act, *, sheet: ProductSheet, restricted_reason: str = "", sds: safety.SheetEntry | None = None
) -> Product:
    """Register a product. Until somebody confirms it against its SDS, nothing is mixed from it.

    Raises NotPermitted, ProductRefused or SheetRefused.
    """
    require_any(act.actor, Permission.KEEP_STOCK, Permission.CONFIRM_PRODUCT)
    if queries.product_by_name(act.session, name=sheet.name, supplier=sheet.supplier) is not None:
        raise _name_taken(sheet)
    product = Product(created_at=act.now, version=1)
    _write(product, sheet)
    act.session.add(product)
    flush_or_refuse(act.session, _name_taken(sheet), **_NAME)
    safety.settle_restrictions(act, product=product, reason=restricted_reason)
    act.tell("product.added", about=product, facts=_product_facts(product))
    if sds is not None:
        safety.keep_sheet(act, product=product, entry=sds)
    return product


@act
def change_product(
    act: Act, *, product_id: int, sheet: ProductSheet, edition: int | None = None, restricted_reason: str = ""
) -> Product:
    """Change a product's entries. `edition` is the one the change started from.

    Where the change bears on hazards, it waits to be confirmed again; what comes from the data sheet (dilutions,
    capacities, keeping, developing) does not.

    Raises NotPermitted, NotFound, ProductRefused, or EntriesMoved where the edition has moved on.
    """
    require_any(act.actor, Permission.KEEP_STOCK, Permission.CONFIRM_PRODUCT)
    product = queries.product_or_raise(act.session, product_id, lock=True)
    rules.check_version(seen=edition, stands=product.edition)
    same_name = queries.product_by_name(act.session, name=sheet.name, supplier=sheet.supplier)
    if same_name is not None and same_name.id != product.id:
        raise _name_taken(sheet)
    if (sheet.powder_mg_per_l is None) != (product.powder_mg_per_l is None) and queries.has_bottles(
        act.session, product_id
    ):
        raise rules.ProductRefused("There are bottles of it: register the powder or the liquid as another product.")
    confirmed = product.sheet.bears_on_hazards
    for rows in (product.ingredients, product.dilutions, product.capacities, product.ages):
        rows.clear()
    act.session.flush()  # the old rows go before the new ones come, or they would collide
    _write(product, sheet)
    product.edition += 1
    if product.sheet.bears_on_hazards != confirmed:
        product.version += 1
    flush_or_refuse(act.session, _name_taken(sheet), **_NAME)
    safety.settle_restrictions(act, product=product, reason=restricted_reason)
    act.tell("product.changed", about=product, facts=_product_facts(product))
    return product


def state_age(session: DbSession, *, product_id: int, age: StatedAge) -> None:
    """Step: add a keeping time that a product's sheet did not have; what bears on hazards stays as it was.

    Raises NotFound, or ProductRefused where it has one by now.
    """
    product = queries.product_or_raise(session, product_id, lock=True)
    if any(rule.holding is age.holding for rule in product.ages):
        raise rules.ProductRefused(
            f"{product.name} has a keeping time for {HOLDING_NAMES[age.holding]} by now. Open this page again."
        )
    product.ages.append(AgeRule(**vars(age)))
    product.edition += 1


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
    if not product.h_codes:
        raise rules.ProductRefused(
            "Say first what the SDS classifies it as: its H-codes, or that it is not classified.", field="h_codes"
        )
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


def _name_taken(sheet: ProductSheet) -> rules.ProductRefused:
    return rules.ProductRefused(f"{sheet.supplier} {sheet.name} is in the store's list already.", field="name")


def _write(product: Product, sheet: ProductSheet) -> None:
    """Put a sheet into a product and its rows. Raises ProductRefused, or HazardsError at what makes no sense."""
    plain = replace(
        sheet,
        waste_code=waste_code(sheet.waste_code).code,
        h_codes=rules.plain_h_codes(sheet.h_codes),
        ingredients=[replace(stated, cas=check_cas(stated.cas)) for stated in sheet.ingredients],
    )
    for stated in plain.ingredients:
        as_ingredient(stated)  # refuses a class or a limit that cannot be read
    for name, told in vars(plain).items():
        setattr(product, name, [_ROWS[name](**vars(stated)) for stated in told] if name in _ROWS else told)
    if "EUH208" in rules.codes_of(plain.h_codes) and not plain.ingredients:
        raise rules.ProductRefused(
            "EUH208 names a sensitiser: enter it among the ingredients, with its class.", field="h_codes"
        )


def _product_facts(product: Product) -> dict[str, object]:
    return {
        "name": product.name,
        "supplier": product.supplier,
        "version": product.version,
        "edition": product.edition,
        "h_codes": product.h_codes,
        "ingredients": [
            [ingredient.cas, ingredient.low_ppm, ingredient.high_ppm] for ingredient in product.ingredients
        ],
    }
