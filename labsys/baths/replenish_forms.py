"""What people type about replenishing: the rate, how much to add, what was measured out and bled off."""

from collections.abc import Sequence

from wtforms import RadioField, SelectField, StringField
from wtforms.validators import InputRequired, Length, Optional, ValidationError

from labsys.baths.forms import MeasuredForm, read_dilution
from labsys.chemistry.sizes import UNIT_MM2
from labsys.forms import FigureField, LabForm, VolumeField, given, options
from labsys.products.models import Product
from labsys.store.amounts import AmountField
from labsys.waste.destinations import Destination

AREA_UNITS_MM2 = {"units": float(UNIT_MM2), "m2": 1e6, "in2": 645.16}


class ReplenishPlanForm(LabForm):
    """How much to add to a bath: sent by GET."""

    volume = VolumeField(
        "Working solution to add",
        [InputRequired("Enter how much to add, with its unit, such as 500 mL.")],
        description="Made up fresh at the dilution of the bath. With its unit, such as 500 mL.",
    )


class ReplenishForm(MeasuredForm):
    """Measured out to be added to a bath, and what was let off before: `offer` hands in the containers for that."""

    bleed = AmountField("Bled off first", [Optional()], or_nothing=True)
    container_id = RadioField("Bled into", [Optional()], coerce=int)

    def offer(self, containers: Sequence[Destination]) -> None:
        self.container_id.choices = [(container.value, container.words) for container in containers]

    def validate_container_id(self, field: RadioField) -> None:
        if self.bleed.amount and not field.data:
            raise ValidationError("Choose the container it was bled into.")


class RateForm(LabForm):
    """With what a bath is replenished and how much, as its data sheet prints it."""

    product_id = SelectField("Replenisher", coerce=int)
    dilution = StringField(
        "Its own strength",
        [InputRequired("Write how it is made up, such as 1+4, or undiluted.")],
        description="Such as 1+4, or undiluted.",
    )
    volume = VolumeField(
        "How much of it, made up",
        [InputRequired("Enter how much goes in, with its unit, such as 75 mL.")],
        description="With its unit, such as 75 mL.",
    )
    area = FigureField("For how much gone through", [InputRequired("Enter for how much.")], highest=100_000, scale=1000)
    unit = RadioField(
        "Counted in",
        choices=options({"units": "rolls of 120 or 135-36, or sheets of 8x10 in", "m2": "m²", "in2": "in²"}),
        default="units",
    )
    source = StringField(
        "Source",
        [InputRequired("Say where this is given."), Length(max=Product.SOURCE_LENGTH)],
        description="Data sheet, page, edition",
    )
    water_parts_milli: int

    def validate_dilution(self, field: StringField) -> None:
        self.water_parts_milli = read_dilution(field.data or "")

    @property
    def rate_mm2(self) -> int:
        """The area the volume is for; only of a valid form."""
        return max(1, round(given(self.area.amount) * AREA_UNITS_MM2[self.unit.data] / 1000))
