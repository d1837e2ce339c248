"""What a person may send from the desk: what to find, and the look of the screen."""

from wtforms import SelectField, StringField
from wtforms.fields.choices import SelectChoice  # type: ignore[attr-defined]  # newer than its stubs
from wtforms.validators import DataRequired

from labsys.answers import LOOKS
from labsys.forms import LabForm, PlainForm


class FindForm(PlainForm):
    """A code or words. It is read by GET and changes nothing, so it carries no token."""

    q = StringField(
        "Code, name or lot",
        [DataRequired("Enter a code, a name or a lot.")],
        description="A code as it stands under the square on the label, or its number alone; or a part of a name. "
        "Hyphens, capitals and accents do not matter.",
    )


class LookForm(LabForm):
    look = SelectField("Look", choices=[SelectChoice(look) for look in LOOKS])
