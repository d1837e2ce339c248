"""The part of a product's form that a developer's data sheet fills: time, temperature, concentrate for each film."""

from wtforms import Field, StringField
from wtforms.validators import Length, Optional, ValidationError

from labsys.chemistry.care import SolutionKind
from labsys.forms import FigureField, VolumeField
from labsys.products.models import Product
from labsys.quantities import MILLI

_COLDEST_MILLI_C = 10_000
_FIGURES = ("q10", "low_celsius", "high_celsius", "least_minutes", "least_concentrate")


class DevelopingFields:
    """Fields of a developer. Left empty, film is reckoned by the general rule, and paper is not corrected at all."""

    q10 = FigureField(
        "Factor for 10 °C",
        [Optional()],
        scale=MILLI,
        highest=5,
        description="How many times faster it works 10 °C warmer, such as 2.2.",
    )
    low_celsius = FigureField("Its times hold from", [Optional()], scale=MILLI, highest=40, unit="°C")
    high_celsius = FigureField("to", [Optional()], scale=MILLI, highest=40, unit="°C")
    least_minutes = FigureField("Shortest time", [Optional()], scale=60, highest=60, unit="min")
    least_concentrate = VolumeField(
        "Least concentrate for a roll",
        [Optional()],
        unit="mL",
        description="Or for 80 square inches of sheets: four 4x5 in, one 8x10 in.",
    )
    developing_source = StringField(
        "Source of these", [Length(max=Product.SOURCE_LENGTH)], description="Data sheet, page, edition"
    )

    def validate_q10(self, field: FigureField) -> None:
        if field.amount and field.amount < MILLI:
            raise ValidationError("Factor for 10 °C: at least 1, since nothing works slower when it is warmer.")

    def validate_low_celsius(self, field: FigureField) -> None:
        if field.amount and field.amount < _COLDEST_MILLI_C:
            raise ValidationError("Nothing is reckoned below 10 °C. Enter the coldest the sheet gives.")
        if not self.high_celsius.data:
            raise ValidationError("Enter how warm it may be too.")

    def validate_high_celsius(self, field: FigureField) -> None:
        if not self.low_celsius.data:
            raise ValidationError("Enter how cold it may be too.")
        if field.amount and self.low_celsius.amount and field.amount <= self.low_celsius.amount:
            raise ValidationError("The warmest has to be above the coldest.")

    def validate_developing_source(self, field: StringField) -> None:
        if not any(self._figures()):
            return
        if self["kind"].data != SolutionKind.DEVELOPER:  # type: ignore[index]  # it is part of a form
            raise ValidationError("These are figures of a developer. Empty them, or choose developer above.")
        if not field.data:
            raise ValidationError("Say where these are given, such as the data sheet and its page.")

    def _figures(self) -> list[object]:
        fields: list[Field] = [getattr(self, name) for name in _FIGURES]
        return [field.data for field in fields]
