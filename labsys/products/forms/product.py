"""The form of a product, with rows for its ingredients, dilutions, capacities and keeping times."""

from datetime import date
from fractions import Fraction
from typing import Any, ClassVar

from flask import g
from flask_wtf.file import FileField
from wtforms import FieldList, FormField, RadioField, SelectField, StringField
from wtforms.fields import TextAreaField
from wtforms.validators import DataRequired, InputRequired, Length, Optional, ValidationError

from labsys import clock
from labsys.chemistry.bath_rules import HOLDING_NAMES, Holding
from labsys.chemistry.care import KIND_NAMES, SolutionKind
from labsys.chemistry.sizes import MATERIAL_NAMES, Material, area_of_units_mm2
from labsys.forms import (
    DayField,
    FigureField,
    FormRow,
    LabForm,
    MassField,
    VersionField,
    complain,
    filled,
    options,
    parsed,
    refuse_twins,
)
from labsys.hazards.cas import check_cas
from labsys.hazards.concentration import parse_concentration
from labsys.products import rules
from labsys.products.forms.developing import DevelopingFields
from labsys.products.forms.keeping import LONGEST_KEPT_HOURS, check_kept, hours_kept
from labsys.products.forms.measured import MeasuredFields, ends_of, ph_field, typed_spans
from labsys.products.forms.safety import ACCEPTED_FILES
from labsys.products.models import AcceptedRestriction, DataSheet, Product, ProductIngredient
from labsys.products.rules import read_dilution, show_dilution
from labsys.products.safety import SheetEntry
from labsys.products.sheet import (
    ATE_COLUMNS,
    MEASURE_NAMES,
    CapacityMeasure,
    ProductSheet,
    StatedAge,
    StatedCapacity,
    StatedDilution,
    StatedIngredient,
)
from labsys.quantities import MG_PER_G, MILLI, UL_PER_ML, figure
from labsys.timetable.local_time import to_local

INGREDIENT_ROWS = 8
DILUTION_ROWS = 4
CAPACITY_ROWS = 6
AGE_ROWS = 5
_AMOUNTS = {
    "flash_point": "flash_point_milli_c",
    "viscosity": "viscosity_milli",
    "unknown_toxicity": "unknown_toxicity_ppm",
    "powder": "powder_mg_per_l",
    "ph_limit": "ph_limit_milli",
    "q10": "q10_milli",
    "low_celsius": "low_milli_c",
    "high_celsius": "high_milli_c",
    "least_minutes": "least_seconds",
    "least_concentrate": "least_concentrate_ul",
}  # fields whose amount the sheet keeps under another name
ATE_FIELDS = {kept.removesuffix("_milli"): kept for kept in ATE_COLUMNS}


class IngredientRow(FormRow):
    name = StringField("Name", [Length(max=120, message="Use at most 120 characters.")])
    cas = StringField("CAS number", render_kw={"list": "known-substances"})
    content = StringField("Content by mass", description="As the sheet gives it: 5-10 %, < 1 %.")
    classification = TextAreaField(
        "Classes",
        description="Skin Corr. 1B H314; Skin Sens. 1 H317. Or: not classified. Left empty, it counts as not known.",
        render_kw={"rows": 2},
    )
    specific_limits = TextAreaField("Specific limits", description="Skin Irrit. 2 H315: 10 <= C < 25")
    m_acute = FigureField("M-factor, acute", highest=1_000_000)
    m_chronic = FigureField("M-factor, chronic", highest=1_000_000)
    ate_oral = FigureField("ATE, swallowed", scale=MILLI, highest=1_000_000, unit="mg/kg")
    ate_dermal = FigureField("ATE, through the skin", scale=MILLI, highest=1_000_000, unit="mg/kg")
    ate_gas = FigureField("ATE, inhaled as a gas", scale=MILLI, highest=1_000_000, unit="ppm")
    ate_vapour = FigureField("ATE, inhaled as a vapour", scale=MILLI, highest=1_000_000, unit="mg/L")
    ate_dust_mist = FigureField("ATE, inhaled as dust or mist", scale=MILLI, highest=1_000_000, unit="mg/L")
    workplace_limit = StringField(
        "Workplace limit",
        [Length(max=ProductIngredient.LIMIT_LENGTH)],
        description="As section 8 names it: 0.5 mg/m³ over 8 hours.",
    )

    needed: ClassVar[dict[str, str]] = {
        "name": "Name this ingredient, or empty the row.",
        "cas": "Enter its CAS number, from section 3 of the SDS.",
        "content": "Enter how much of it there is, such as 5-10 %.",
    }

    def read(self) -> None:
        self.cas_number = parsed(self.cas, check_cas)
        self.range = parsed(self.content, parse_concentration)
        self.classes = parsed(self.classification, rules.plain_classes)
        self.limits = parsed(self.specific_limits, rules.plain_limits)

    @property
    def key(self) -> tuple[object, ...]:
        return (self.cas_number,)

    @property
    def stated(self) -> StatedIngredient:
        """What was entered; only of a valid row."""
        assert self.cas_number is not None  # noqa: S101 - the form was found valid
        assert self.range is not None  # noqa: S101
        return StatedIngredient(
            name=self.name.data or "",
            cas=self.cas_number,
            low_ppm=self.range.low_ppm,
            high_ppm=self.range.high_ppm,
            classification=self.classes or "",
            specific_limits=self.limits or "",
            m_acute=self.m_acute.amount,
            m_chronic=self.m_chronic.amount,
            workplace_limit=self.workplace_limit.data or "",
            **{kept: getattr(self, name).amount for name, kept in ATE_FIELDS.items()},
        )

    @property
    def is_folded(self) -> bool:
        """Whether nothing is written in what is seldom stated."""
        seldom = ("specific_limits", "m_acute", "m_chronic", "workplace_limit", *ATE_FIELDS)
        return not any(self[name].data or self[name].errors for name in seldom)


class DilutionRow(FormRow):
    dilution = StringField("Dilution", description="1+4, stock, 10 mL/L")
    use = StringField("For", [Length(max=60, message="Use at most 60 characters.")], description="film, paper")
    ph = ph_field("pH as used", description="Where it is stated or was measured")

    needed: ClassVar[dict[str, str]] = {
        "dilution": "Write the dilution, such as 1+4.",
        "use": "Say what this dilution is for, such as film.",
    }

    def read(self) -> None:
        self.milli = parsed(self.dilution, read_dilution)

    @property
    def key(self) -> tuple[object, ...]:
        return self.milli, self.use.data

    @property
    def stated(self) -> StatedDilution:
        """What was entered; only of a valid row."""
        return StatedDilution(self.milli or 0, self.use.data or "", **ends_of(self))


class CapacityRow(FormRow):
    dilution = StringField("Dilution", description="One of those above")
    material = SelectField("Material", choices=options(MATERIAL_NAMES, first="Choose…"))
    per_litre = FigureField("A litre takes", scale=MILLI, highest=10_000)
    measure = SelectField("Counted in", choices=options(MEASURE_NAMES))
    source = StringField("Source", [Length(max=Product.SOURCE_LENGTH)], description="Data sheet, page, edition")

    presets: ClassVar[tuple[str, ...]] = ("measure",)
    needed: ClassVar[dict[str, str]] = {
        "dilution": "Say at which dilution this holds, such as 1+4.",
        "material": "Choose the material.",
        "per_litre": "Enter how many a litre takes.",
        "source": "Say where this capacity is given, such as the data sheet and its page.",
    }

    def read(self) -> None:
        self.milli = parsed(self.dilution, read_dilution)
        if self.measure.data == CapacityMeasure.PIECES and (self.per_litre.amount or 0) % MILLI:
            complain(self.per_litre, "Pieces are counted whole.")

    @property
    def key(self) -> tuple[object, ...]:
        return self.milli, self.material.data, self.measure.data

    @property
    def stated(self) -> StatedCapacity:
        """What was entered; only of a valid row."""
        units, measure = Fraction(self.per_litre.amount or 0, MILLI), CapacityMeasure(self.measure.data)
        return StatedCapacity(
            water_parts_milli=self.milli or 0,
            material=Material(self.material.data),
            measure=measure,
            per_litre=area_of_units_mm2(units=units) if measure is CapacityMeasure.AREA else int(units),
            source=self.source.data or "",
        )


class AgeRow(FormRow):
    holding = SelectField("Kept in", choices=options(HOLDING_NAMES, first="Choose…"))
    keeps = FigureField("Keeps for", highest=LONGEST_KEPT_HOURS)
    unit = SelectField("Hours or days", choices={"days": "days", "hours": "hours"})
    source = StringField("Source", [Length(max=Product.SOURCE_LENGTH)], description="Data sheet, page, edition")

    presets: ClassVar[tuple[str, ...]] = ("unit",)
    needed: ClassVar[dict[str, str]] = {
        "holding": "Choose what it is kept in.",
        "keeps": "Enter how many hours or days it keeps.",
        "source": "Say where this keeping time is given, such as the data sheet and its page.",
    }

    def read(self) -> None:
        check_kept(self.keeps, self.unit.data)

    @property
    def key(self) -> tuple[object, ...]:
        return (self.holding.data,)

    @property
    def stated(self) -> StatedAge:
        """What was entered; only of a valid row."""
        hours = hours_kept(self.keeps, self.unit.data)
        return StatedAge(Holding(self.holding.data), hours, self.source.data or "")


class ProductForm(MeasuredFields, DevelopingFields, LabForm):
    """A product as its SDS and data sheet describe it, in the order of the sheets."""

    name = StringField(
        "Name",
        [DataRequired("Name the product."), Length(max=Product.NAME_LENGTH)],
        description="What it is, in the words of the trade: PQ liquid concentrate.",
    )
    supplier = StringField("Supplier", [DataRequired("Name the supplier."), Length(max=Product.NAME_LENGTH)])
    kind = RadioField("What it is", [InputRequired("Choose what it is.")], choices=options(KIND_NAMES))
    waste_code = SelectField(
        "Waste code of the used solution",
        [InputRequired("Choose the waste code of the used solution.")],
        description="Most used developer is 09 01 01*, most used fixer 09 01 04*, bleach and bleach-fix 09 01 05*; "
        "a * means hazardous.",
    )
    sds_date = DayField(
        "Date of the SDS",
        [Optional()],
        description="Its issue or revision date. Without it nobody can confirm these entries.",
    )
    h_codes = StringField(
        "H-codes",
        [Optional(), Length(max=300)],
        description="From section 2, of the product as supplied: H314 H317 EUH031. Or: not classified. "
        "Left empty, it counts as not known.",
    )
    ingredients = FieldList(FormField(IngredientRow, "Ingredient"), min_entries=INGREDIENT_ROWS)
    powder = MassField(
        "Powder for one litre",
        [Optional()],
        description="Only for a powder: how much of it makes one litre of undiluted solution, such as 97 g.",
    )
    dilutions = FieldList(FormField(DilutionRow, "Dilution"), min_entries=DILUTION_ROWS)
    capacities = FieldList(FormField(CapacityRow, "Capacity"), min_entries=CAPACITY_ROWS)
    ages = FieldList(FormField(AgeRow, "Keeping time"), min_entries=AGE_ROWS)
    ph_limit = FigureField(
        "Exhausted above pH", [Optional()], scale=MILLI, highest=13, description="For an acid stop bath."
    )
    restricted_reason = TextAreaField(
        "Why it is kept all the same",
        [Optional(), Length(max=AcceptedRestriction.REASON_LENGTH)],
        description="With your name and the time on the record.",
        render_kw={"rows": 3},
    )

    @property
    def entered(self) -> ProductSheet:
        """What was entered; only of a valid form."""
        return ProductSheet(
            name=self.name.data or "",
            supplier=self.supplier.data or "",
            kind=SolutionKind(self.kind.data),
            waste_code=self.waste_code.data,
            h_codes=self.h_codes.data or "",
            sds_date=self.sds_date.data,
            developing_source=self.developing_source.data or "",
            ingredients=[row.stated for row in filled(self.ingredients)],
            dilutions=[row.stated for row in filled(self.dilutions)],
            capacities=[row.stated for row in filled(self.capacities)],
            ages=[row.stated for row in filled(self.ages)],
            **{kept: self[name].amount for name, kept in _AMOUNTS.items()},
            **ends_of(self),
        )

    def validate_sds_date(self, field: DayField) -> None:
        today = to_local(clock.now(), zone=g.zone).date()
        if field.data and not date(1980, 1, 1) <= field.data <= today:
            raise ValidationError("Date of the SDS: that is not a day on which this sheet can have been issued.")

    def validate_h_codes(self, field: StringField) -> None:
        parsed(field, rules.plain_h_codes)

    def validate(self, extra_validators: Any = None) -> bool:
        super().validate(extra_validators)
        self._check_rows_together()
        return not self.errors

    def _check_rows_together(self) -> None:
        refuse_twins(self.ingredients, at="cas")
        refuse_twins(self.dilutions, at="dilution")
        refuse_twins(self.capacities, at="material")
        refuse_twins(self.ages, at="holding")
        given = {row.milli for row in filled(self.dilutions)}
        for row in filled(self.capacities):
            if row.milli is not None and row.milli not in given:
                complain(row.dilution, f"{row.dilution.data} is not among the dilutions. Enter it there too.")
        for rows in (self.ingredients, self.dilutions, self.capacities, self.ages):
            rows.errors = [entry.errors for entry in rows.entries if entry.errors]  # the list took its own too early


class NewProductForm(ProductForm):
    """The same, and the SDS itself where it is at hand."""

    sheet = FileField(
        "The SDS, as PDF",
        [Optional()],
        description="At most 10 MB. It can also be added later.",
        render_kw={"accept": ACCEPTED_FILES},
    )
    sheet_language = StringField(
        "Language of the SDS", [Optional(), Length(max=DataSheet.WORDS_LENGTH)], default="English"
    )
    sheet_revision = StringField(
        "Revision of the SDS", [Optional(), Length(max=DataSheet.WORDS_LENGTH)], description="As printed: version 4.1."
    )

    def validate(self, extra_validators: Any = None) -> bool:
        super().validate(extra_validators)
        if self.sheet.data and self.sds_date.data is None and not self.sds_date.errors:
            complain(self.sds_date, "Enter the date of the SDS you chose.")
        return not self.errors

    @property
    def sds(self) -> SheetEntry | None:
        """The SDS that was handed in with it; only of a valid form."""
        if not self.sheet.data or self.sds_date.data is None:
            return None
        return SheetEntry(
            content=self.sheet.data.read(),
            issued_on=self.sds_date.data,
            supplier=self.supplier.data or "",
            language=self.sheet_language.data or "not noted",
            revision=self.sheet_revision.data or "",
        )


class ChangeProductForm(ProductForm):
    """The same, and which edition of the entries it started from."""

    edition = VersionField()


def typed(sheet: ProductSheet) -> dict[str, Any]:
    """Return a sheet as it would be typed, to begin a change from; figures are shown by their fields."""
    return {
        **vars(sheet),
        **{name: getattr(sheet, kept) for name, kept in _AMOUNTS.items()},
        **typed_spans(sheet),
        "powder": f"{figure(sheet.powder_mg_per_l, MG_PER_G)} g" if sheet.powder_mg_per_l else None,
        "least_concentrate": figure(sheet.least_concentrate_ul, UL_PER_ML),
        "ingredients": [
            {**vars(stated), "content": stated.content}
            | {name: getattr(stated, kept) for name, kept in ATE_FIELDS.items()}
            for stated in sheet.ingredients
        ],
        "dilutions": [{**vars(stated), "dilution": stated.words, "ph": stated.ph} for stated in sheet.dilutions],
        "capacities": [
            {**vars(stated), "dilution": show_dilution(stated.water_parts_milli), "per_litre": stated.typed}
            for stated in sheet.capacities
        ],
        "ages": [{**vars(stated), "keeps": stated.span[0], "unit": f"{stated.span[1]}s"} for stated in sheet.ages],
    }
