"""What a person may send from the desk: a code to find, and the look of the screen."""

from wtforms import SelectField, StringField
from wtforms.fields.choices import SelectChoice  # type: ignore[attr-defined]  # newer than its stubs
from wtforms.validators import DataRequired

from labsys.forms import LabForm, PlainForm


class FindForm(PlainForm):
    """A code from a label. It is read by GET and changes nothing, so it carries no token."""

    code = StringField(
        "Code",
        [DataRequired("Enter the code from the label.")],
        description="As it stands under the square on the label. Hyphens and capitals do not matter.",
    )


LOOKS = ("day", "evening", "low")


class LookForm(LabForm):
    look = SelectField("Look", choices=[SelectChoice(look) for look in LOOKS])
