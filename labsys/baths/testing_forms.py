"""What people type about testing: how often baths are tested and between which limits, and a reference strip."""

import re
from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any

from wtforms import FieldList, FormField, StringField
from wtforms.fields import TextAreaField
from wtforms.validators import InputRequired, Length, ValidationError

from labsys.baths.due import TEST_HEADS
from labsys.baths.models import CheckKind, CheckRule
from labsys.baths.strip_models import StripAim
from labsys.baths.testing import StatedRule
from labsys.chemistry.control_strips import DENSEST, USUAL_LIMITS, Limits
from labsys.chemistry.sizes import UNIT_MM2, area_of_units_mm2
from labsys.forms import FigureField, FormRow, LabForm, complain, filled, given
from labsys.products.models import Product
from labsys.quantities import MILLI, figure

WITH_LIMITS = (CheckKind.GRAVITY, CheckKind.SILVER)
_DENSITY = re.compile(r"[0-9](?:[.,][0-9]{1,3})?")


class RuleRow(FormRow):
    """How often one kind of test is made, and its limits where it has some of the lab's own."""

    units = FigureField("After how many rolls or sheets 8x10", scale=MILLI, highest=CheckRule.MOST_UNITS)
    days = FigureField("After how many days", highest=CheckRule.MOST_DAYS)
    low = FigureField("At least", scale=MILLI, highest=20)
    high = FigureField("At most", scale=MILLI, highest=20)
    source = StringField("Source of the limits", [Length(max=Product.SOURCE_LENGTH)])

    tested_by: CheckKind  # by its place among the rows

    @property
    def named(self) -> str:
        return TEST_HEADS[self.tested_by]

    @property
    def has_limits(self) -> bool:
        return self.tested_by in WITH_LIMITS

    @property
    def has_lowest(self) -> bool:
        return self.tested_by is CheckKind.GRAVITY

    @property
    def key(self) -> tuple[object, ...]:
        return (self.tested_by,)

    def read(self) -> None:
        low, high = self.low.amount, self.high.amount
        if self.has_lowest and (low is None) != (high is None):
            complain(self.high if high is None else self.low, "Give both limits, or neither.")
        if low is not None and high is not None and low > high:
            complain(self.low, "That is above the other limit.")
        if high is not None and not self.source.data:
            complain(self.source, "Say where these limits are given, such as: our own readings of ten fresh baths.")

    @property
    def stated(self) -> StatedRule:
        """What was entered; only of a valid row."""
        limited = self.has_limits
        return StatedRule(
            self.tested_by,
            every_mm2=area_of_units_mm2(units=Fraction(self.units.amount, MILLI)) if self.units.amount else None,
            every_days=self.days.amount,
            low_milli=self.low.amount if limited else None,
            high_milli=self.high.amount if limited else None,
            source=(self.source.data or "") if limited else "",
        )


class RulesForm(LabForm):
    """A row for each way to test, in order."""

    rules = FieldList(FormField(RuleRow))

    @classmethod
    def begin(cls, kinds: Sequence[CheckKind], rules: Sequence[CheckRule]) -> "RulesForm":
        """The form with a row for each kind of test, as it is stated now."""
        stated = {rule.kind: rule for rule in rules}
        form = cls(rules=[_row(stated.get(kind)) for kind in kinds])
        while len(form.rules) < len(kinds):
            form.rules.append_entry()
        del form.rules.entries[len(kinds) :]
        for row, kind in zip(form.rules.entries, kinds, strict=True):
            row.form.tested_by = kind
        return form

    @property
    def stated(self) -> list[StatedRule]:
        return [row.stated for row in filled(self.rules)]


def _row(rule: CheckRule | None) -> dict[str, Any]:
    if rule is None:
        return {}
    units = rule.every_mm2 and figure(round(Fraction(rule.every_mm2 * MILLI, UNIT_MM2)), MILLI)
    limits = {"low": rule.low_milli, "high": rule.high_milli, "source": rule.source}
    return {"units": units, "days": rule.every_days, **limits}


class DensitiesField(TextAreaField):
    """Densities with spaces between, from clear to dark; `densities` are whole thousandths."""

    densities: tuple[int, ...] = ()

    def pre_validate(self, form: Any) -> None:
        typed = (self.data or "").split()
        wrong = next((each for each in typed if not _DENSITY.fullmatch(each)), None)
        if wrong is not None:
            raise ValidationError(f"“{wrong}” is no density: write them such as 0.12 0.15 0.23, with spaces between.")
        if len(typed) > StripAim.MOST_STEPS:
            raise ValidationError(f"A strip has at most {StripAim.MOST_STEPS} steps.")
        densities = tuple(int(Decimal(each.replace(",", ".")) * MILLI) for each in typed)
        if any(density > DENSEST for density in densities):
            raise ValidationError(f"No film is denser than {DENSEST // MILLI}: check the figures.")
        self.densities = densities


def _limit(label: str, description: str) -> FigureField:
    return FigureField(label, [InputRequired("Enter it.")], scale=MILLI, highest=1, description=description)


class AimForm(LabForm):
    box = StringField(
        "Which strips it holds for",
        [
            InputRequired("Name the box, so that strips of another are not held against it."),
            Length(max=StripAim.BOX_LENGTH),
        ],
        description="Box and date of exposure. Keep them at −18 °C, or below −10 °C for three months at most.",
    )
    densities = DensitiesField(
        "Densities of the reference strip",
        [InputRequired("Read off every step, the clear one first.")],
        description="Every step from clear to dark, with spaces between. The steps to read from then on follow.",
        render_kw={"rows": 3},
    )
    fog_over = _limit("Base and fog, at most over its aim", "")
    middle_within = _limit("Middle step, within", "Above or below its aim.")
    contrast_within = _limit("Contrast, within", "Middle step over speed point, above or below its aim.")
    source = StringField(
        "Source of the limits", [InputRequired("Say where these limits are given."), Length(max=Product.SOURCE_LENGTH)]
    )

    @classmethod
    def begin(cls) -> "AimForm":
        usual = USUAL_LIMITS
        return cls(
            fog_over=usual.fog_over,
            middle_within=usual.middle_within,
            contrast_within=usual.contrast_within,
            source=usual.source,
        )

    @property
    def limits(self) -> Limits:
        """The limits of a valid form."""
        return Limits(
            fog_over=given(self.fog_over.amount),
            middle_within=given(self.middle_within.amount),
            contrast_within=given(self.contrast_within.amount),
            source=given(self.source.data),
        )
