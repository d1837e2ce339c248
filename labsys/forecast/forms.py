"""What somebody may enter for the forecast."""

from wtforms import StringField
from wtforms.validators import Length, ValidationError

from labsys.forecast.shopping import MOST_SIZES
from labsys.forms import LabForm
from labsys.ledger.models import Unit
from labsys.quantities import QuantityError, parse_mass, parse_volume


class SizesForm(LabForm):
    """The sizes that a product is sold in, in one line."""

    sizes = StringField(
        "Sizes it is sold in",
        [Length(max=100)],
        description="With a comma between, such as 500 mL, 1 L, 5 L. Left empty, those it came in before count.",
    )
    unit: Unit = Unit.UL

    def validate_sizes(self, field: StringField) -> None:
        read = parse_volume if self.unit is Unit.UL else parse_mass
        typed = [part for part in (field.data or "").split(",") if part.strip()]
        if len(typed) > MOST_SIZES:
            raise ValidationError(f"Enter at most {MOST_SIZES} sizes.")
        try:
            self.amounts = [read(part) for part in typed]
        except QuantityError as error:
            raise ValidationError(str(error)) from error
