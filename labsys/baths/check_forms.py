"""What people type of a test of a bath: its clearing time, its pH, the colour of its indicator."""

from wtforms import BooleanField, DecimalField, RadioField
from wtforms.validators import InputRequired, NumberRange, Optional

from labsys.baths.models import Check, CheckKind
from labsys.chemistry.bath_rules import Colour
from labsys.forms import InstantField, LabForm, given, options


class ClearingForm(LabForm):
    seconds = DecimalField(
        "Clearing time",
        [
            InputRequired("Enter the clearing time in seconds."),
            NumberRange(
                min=1,
                max=Check.LONGEST_CLEARING_S,
                message=f"Enter the clearing time in seconds, from 1 to {Check.LONGEST_CLEARING_S}.",
            ),
        ],
        description="A piece of the film in use, until it is clear; in seconds.",
    )
    is_fresh = BooleanField(
        "Taken of the fresh bath", description="The later ones are held against it: twice as long is exhausted."
    )
    when = InstantField("When", [Optional()], description="Leave empty for now.")

    @property
    def result(self) -> tuple[int | None, Colour | None, bool]:
        """Value in thousandths, colour, and whether it was taken of the fresh bath."""
        return round(given(self.seconds.data) * 1_000), None, bool(self.is_fresh.data)


class PhForm(LabForm):
    ph = DecimalField(
        "pH",
        [
            InputRequired("Enter the pH, from 0 to 14."),
            NumberRange(min=0, max=14, message="Enter the pH, from 0 to 14."),
        ],
        description="By meter or paper, at the temperature of the bath.",
    )
    when = InstantField("When", [Optional()], description="Leave empty for now.")

    @property
    def result(self) -> tuple[int | None, Colour | None, bool]:
        return round(given(self.ph.data) * 1_000), None, False


class IndicatorForm(LabForm):
    colour = RadioField(
        "Colour beside a fresh bath",
        [InputRequired("Choose how its colour looks beside a fresh bath.")],
        choices=options(
            {Colour.UNCHANGED: "The same as fresh", Colour.TURNING: "Turning", Colour.CHANGED: "Changed: exhausted"}
        ),
        coerce=Colour,
    )
    when = InstantField("When", [Optional()], description="Leave empty for now.")

    @property
    def result(self) -> tuple[int | None, Colour | None, bool]:
        return None, self.colour.data, False


CHECK_FORMS: dict[CheckKind, type[ClearingForm | PhForm | IndicatorForm]] = {
    CheckKind.CLEARING_TIME: ClearingForm,
    CheckKind.PH: PhForm,
    CheckKind.INDICATOR: IndicatorForm,
}
