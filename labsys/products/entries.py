"""Between the form of a product and its entries: what was typed as entries, entries as they would be typed."""

from fractions import Fraction
from typing import Any

from labsys.chemistry.bath_rules import Holding
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.sizes import UNIT_MM2, Material, area_of_units_mm2
from labsys.forms import filled
from labsys.hazards.concentration import Concentration
from labsys.hazards.mixtures import SpecificLimit
from labsys.hazards.substances import Substance, all_substances
from labsys.products.forms.product import HOURS_PER_DAY, CapacityRow, IngredientRow, NewProductForm, ProductForm
from labsys.products.models import AgeRule, CapacityMeasure, CapacityRule, Ingredient, Product
from labsys.products.rules import show_dilution
from labsys.products.safety import SheetEntry
from labsys.products.service import AgeEntry, CapacityEntry, DilutionEntry, IngredientEntry, ProductEntry
from labsys.quantities import MG_PER_G, MILLI, UL_PER_ML, figure


def entry_of(form: ProductForm) -> ProductEntry:
    """Return the entries of a form that was found valid."""
    return ProductEntry(
        name=form.name.data or "",
        supplier=form.supplier.data or "",
        kind=SolutionKind(form.kind.data),
        waste_code=form.waste_code.data,
        h_codes=form.h_codes.data or "",
        sds_date=form.sds_date.data,
        powder_mg_per_l=form.powder.amount,
        density_mg_per_ml=form.density.amount,
        ph_limit_milli=form.ph_limit.amount,
        developing=form.developing,
        ingredients=[_ingredient(row) for row in filled(form.ingredients)],
        dilutions=[DilutionEntry(row.milli, row.use.data) for row in filled(form.dilutions)],
        capacities=[_capacity(row) for row in filled(form.capacities)],
        ages=[AgeEntry(Holding(row.holding.data), row.hours, row.source.data) for row in filled(form.ages)],
        restricted_reason=form.restricted_reason.data or "",
        sheet=_sheet(form),
    )


def _sheet(form: ProductForm) -> SheetEntry | None:
    if not isinstance(form, NewProductForm) or not form.sheet.data or form.sds_date.data is None:
        return None
    return SheetEntry(
        content=form.sheet.data.read(),
        issued_on=form.sds_date.data,
        supplier=form.supplier.data or "",
        language=form.sheet_language.data or "not noted",
        revision=form.sheet_revision.data or "",
    )


def typed(product: Product) -> dict[str, Any]:
    """Return a product's entries as they would be typed, to begin a change from."""
    return {
        "name": product.name,
        "supplier": product.supplier,
        "kind": product.kind,
        "waste_code": product.waste_code,
        "h_codes": product.h_codes,
        "sds_date": product.sds_date,
        "powder": f"{figure(product.powder_mg_per_l, MG_PER_G)} g" if product.powder_mg_per_l else None,
        "density": figure(product.density_mg_per_ml, MILLI),
        "ph_limit": figure(product.ph_limit_milli, MILLI),
        "q10": figure(product.q10_milli, MILLI),
        "low_celsius": figure(product.low_milli_c, MILLI),
        "high_celsius": figure(product.high_milli_c, MILLI),
        "least_minutes": figure(product.least_seconds, 60),
        "least_concentrate": figure(product.least_concentrate_ul, UL_PER_ML),
        "developing_source": product.developing_source,
        "ingredients": [_typed_ingredient(one) for one in product.ingredients],
        "dilutions": [{"dilution": show_dilution(one.water_parts_milli), "use": one.use} for one in product.dilutions],
        "capacities": [_typed_capacity(one) for one in product.capacities],
        "ages": [_typed_age(one) for one in product.ages],
        "edition": str(product.edition),
    }


def fill_in_known(form: ProductForm) -> list[str]:
    """Fill what is still empty in rows of substances on the reference list, found by CAS number or by name.

    Returns their names. The values are where to begin: the supplier's SDS is what counts.
    """
    names = []
    for row in filled(form.ingredients):
        known = _known(cas=row.cas.data or "", name=row.name.data or "")
        if known is None:
            continue
        for field, text in _reference_texts(known).items():
            row[field].data = row[field].data or text
        names.append(known.name)
    return names


def reference_note(*, cas: str, classification: str, specific_limits: str) -> str:
    """Say of an ingredient that it still carries the values of the reference list, or an empty text."""
    known = _known(cas=cas, name="") if cas else None
    if known is None or classification != _reference_texts(known)["classification"]:
        return ""
    if specific_limits != _reference_texts(known)["specific_limits"]:
        return ""
    return f"To be confirmed against the SDS: as on the reference list, confidence {known.confidence}. {known.source}"


def content(ingredient: Ingredient) -> str:
    """Return an ingredient's content as the sheet gives it."""
    return str(Concentration(ingredient.low_ppm, ingredient.high_ppm))


def capacity_figure(rule: CapacityRule) -> str:
    """Return how many rolls or sheets, or pieces, a litre takes; areas come back as they were typed."""
    if rule.measure is CapacityMeasure.PIECES:
        return str(rule.per_litre)
    return figure(round(Fraction(rule.per_litre * MILLI, UNIT_MM2)), MILLI)


def _ingredient(row: IngredientRow) -> IngredientEntry:
    assert row.cas_number is not None  # noqa: S101 - the form was found valid
    assert row.range is not None  # noqa: S101
    return IngredientEntry(
        name=row.name.data or "",
        cas=row.cas_number,
        low_ppm=row.range.low_ppm,
        high_ppm=row.range.high_ppm,
        classification=row.classes or "",
        specific_limits=row.limits or "",
        m_acute=row.m_acute.amount,
        m_chronic=row.m_chronic.amount,
    )


def _capacity(row: CapacityRow) -> CapacityEntry:
    per_litre = Fraction(row.per_litre.amount or 0, MILLI)
    measure = CapacityMeasure(row.measure.data)
    return CapacityEntry(
        water_parts_milli=row.milli or 0,
        material=Material(row.material.data),
        measure=measure,
        per_litre=area_of_units_mm2(units=per_litre) if measure is CapacityMeasure.AREA else int(per_litre),
        source=row.source.data or "",
    )


def _typed_ingredient(one: Ingredient) -> dict[str, Any]:
    return {
        "name": one.name,
        "cas": one.cas,
        "content": content(one),
        "classification": one.classification,
        "specific_limits": one.specific_limits,
        "m_acute": figure(one.m_acute, 1),
        "m_chronic": figure(one.m_chronic, 1),
    }


def _typed_capacity(one: CapacityRule) -> dict[str, Any]:
    return {
        "dilution": show_dilution(one.water_parts_milli),
        "material": one.material,
        "per_litre": capacity_figure(one),
        "measure": one.measure,
        "source": one.source,
    }


def _typed_age(one: AgeRule) -> dict[str, Any]:
    days, rest = divmod(one.hours, HOURS_PER_DAY)
    return {
        "holding": one.holding,
        "keeps": str(one.hours if rest else days),
        "unit": "hours" if rest else "days",
        "source": one.source,
    }


def _known(*, cas: str, name: str) -> Substance | None:
    return next((one for one in all_substances() if cas == one.cas or (not cas and _is_called(one, name))), None)


def _is_called(one: Substance, name: str) -> bool:
    """Whether a name is that of the list, its explanation in brackets left out or not."""
    full = one.name.casefold()
    return name.casefold() in (full, full.partition(" (")[0])


def _reference_texts(known: Substance) -> dict[str, str]:
    return {
        "name": known.name,
        "cas": known.cas,
        "classification": "; ".join([*map(str, known.classes), *known.euh]),
        "specific_limits": "; ".join(map(_limit_text, known.limits)),
        "m_acute": f"{known.m_acute:g}" if known.m_acute else "",
        "m_chronic": f"{known.m_chronic:g}" if known.m_chronic else "",
    }


def _limit_text(limit: SpecificLimit) -> str:
    what = limit.hazard.code if limit.hazard.name == "EUH" else str(limit.hazard)
    return f"{what}: C>={limit.from_percent:g}"
