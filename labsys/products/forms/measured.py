"""The part of a product's form that section 9 of its SDS fills: density, pH, flash point, and what is seldom stated."""

from typing import Any

from wtforms import StringField
from wtforms.validators import Optional, ValidationError

from labsys.forms import FigureField
from labsys.hazards.concentration import PPM_PER_PERCENT
from labsys.hazards.errors import UnreadableFigure
from labsys.hazards.spans import parse_span
from labsys.products.sheet import ProductSheet, span_words
from labsys.quantities import MILLI

# The name of a field on the form, and of its two ends where they are kept.
SPANS = {"density": ("density_mg_per_ml", "density_high_mg_per_ml"), "ph": ("ph_low_milli", "ph_high_milli")}


class SpanField(StringField):
    """A figure or a range, its ends held in `amounts` as whole thousandths; `data` stays as typed."""

    def __init__(
        self,
        label: str,
        validators: Any = (),
        *,
        lowest: float,
        highest: float,
        may_be_open: bool = False,
        unit: str | None = None,
        **kwargs: Any,
    ):
        super().__init__(label, validators, **kwargs)
        self.unit = unit
        self.lowest, self.highest, self.may_be_open = lowest, highest, may_be_open
        self.amounts: tuple[int | None, int | None] = (None, None)

    def pre_validate(self, form: Any) -> None:
        if not self.data:
            return
        try:
            self.amounts = parse_span(self.data, lowest=self.lowest, highest=self.highest, may_be_open=self.may_be_open)
        except UnreadableFigure as error:
            raise ValidationError(f"{self.label.text}: {error.reason}.") from error


def ph_field(label: str, **kwargs: Any) -> SpanField:
    return SpanField(label, [Optional()], lowest=0, highest=14, may_be_open=True, **kwargs)


class MeasuredFields:
    """Fields of what is measured of a product as supplied. Left empty, it is not stated, and never taken as mild."""

    density = SpanField(
        "Density",
        [Optional()],
        lowest=0.5,
        highest=5,
        unit="g/mL",
        description="Of a liquid, a figure or a range: 1.05, 1.20-1.25.",
    )
    ph = ph_field(
        "pH as supplied", description="A figure or a range: 13, 10-11, > 12. Of a powder, of its undiluted solution."
    )
    flash_point = FigureField(
        "Flash point",
        [Optional()],
        scale=MILLI,
        lowest=-100,
        highest=500,
        unit="°C",
        description="The lowest, where a range is given.",
    )
    viscosity = FigureField(
        "Kinematic viscosity at 40 °C",
        [Optional()],
        scale=MILLI,
        highest=100_000,
        unit="mm²/s",
        description="Where H304 is among the classes.",
    )
    unknown_toxicity = FigureField(
        "Share of unknown acute toxicity",
        [Optional()],
        scale=PPM_PER_PERCENT,
        highest=100,
        unit="%",
        description="Where section 2 or 11 says that a share of it consists of such ingredients.",
    )


def ends_of(form: Any) -> dict[str, int | None]:
    """What a valid form or row holds in its spans, as it is kept."""
    return {
        kept: amount
        for name, both in SPANS.items()
        if name in form
        for kept, amount in zip(both, form[name].amounts, strict=True)
    }


def typed_spans(sheet: ProductSheet) -> dict[str, str]:
    """The spans of a sheet as they would be typed."""
    return {name: span_words(getattr(sheet, low), getattr(sheet, high)) for name, (low, high) in SPANS.items()}
