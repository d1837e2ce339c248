"""Forms of one button or a few fields: confirming, bottles, measuring cylinders."""

from wtforms import BooleanField, HiddenField, RadioField, SelectField, StringField
from wtforms.validators import DataRequired, InputRequired, Length, Optional, Regexp, ValidationError

from labsys.chemistry.measuring import CylinderClass
from labsys.forms import InstantField, LabForm, MassField, VolumeField
from labsys.stock import rules
from labsys.stock.forms.fields import DayField, FigureField, options
from labsys.stock.models import Bottle

CLASS_NAMES = {CylinderClass.A: "class A", CylinderClass.B: "class B", CylinderClass.UNMARKED: "no class marked"}


class ConfirmForm(LabForm):
    """One button: the entries of this version agree with the SDS."""

    version = HiddenField(validators=[Regexp(r"[0-9]{1,9}\Z", message="Open this page again.")])


class BottleForm(LabForm):
    """A bottle as it comes from the supplier; what is in it is asked in the product's unit."""

    lot = StringField("Lot", [Optional(), Length(max=Bottle.LOT_LENGTH)], description="As printed on it.")
    expires_on = DayField("Use before", [Optional()], description="The date on it, where it has one.")
    received_at = InstantField("Received", [Optional()], description="Left empty, it means just now.")
    shelf_id = SelectField("It goes on", [Optional()])


class LiquidBottleForm(BottleForm):
    amount = VolumeField(
        "What is in it",
        [DataRequired("Enter what is in it, as printed: 1 L.")],
        description="1 L, 500 mL.",
    )


class PowderBottleForm(BottleForm):
    amount = MassField(
        "What is in it",
        [DataRequired("Enter what is in it, as printed: 1 kg.")],
        description="1 kg, 250 g.",
    )


class LevelForm(LabForm):
    """What was found in a bottle."""

    is_empty = BooleanField("It is empty")
    found_at = InstantField("When you looked", [Optional()], description="Left empty, it means just now.")
    found: VolumeField | MassField

    def validate_found(self, field: VolumeField | MassField) -> None:
        if self.is_empty.data:
            if field.data:
                raise ValidationError("Either tick that it is empty, or write what is left.")
        elif not field.data:
            raise ValidationError("Write what is left in it, or tick that it is empty.")

    @property
    def level(self) -> int:
        """What was found, in the bottle's unit."""
        return 0 if self.is_empty.data else self.found.amount or 0


class LiquidLevelForm(LevelForm):
    found = VolumeField("What is left", unit="mL", description="To the nearest mark. Litres may be written as 2.5 L.")


class PowderLevelForm(LevelForm):
    found = MassField("What is left", unit="g", description="Weigh it without the packet. Write 1.5 kg or 250 g.")


class CylinderForm(LabForm):
    nominal_ml = FigureField("It holds", [DataRequired("Enter what it holds.")], highest=10_000, unit="mL")
    division = FigureField(
        "One division of its scale",
        [DataRequired("Enter what one division stands for.")],
        scale=1_000,
        highest=10_000,
        unit="mL",
        description="The step from one mark to the next.",
    )
    accuracy_class = RadioField(
        "Class printed on it", [InputRequired("Choose the class.")], choices=options(CLASS_NAMES)
    )
    kept_for = SelectField("Kept for", choices=options(rules.KIND_NAMES, first="any solution"))

    def validate_division(self, field: FigureField) -> None:
        if field.amount and self.nominal_ml.amount and field.amount > self.nominal_ml.amount * 1_000:
            raise ValidationError("One division cannot be more than the cylinder holds.")
