"""What a person may choose about their mail."""

from wtforms import SelectMultipleField
from wtforms.fields.choices import SelectChoice  # type: ignore[attr-defined]  # newer than its stubs
from wtforms.validators import Optional

from labsys.forms import LabForm
from labsys.mail.kinds import ALL

CHOSEN = tuple(kind for kind in ALL if not kind.is_always_written)


class WantedMailForm(LabForm):
    wanted = SelectMultipleField(
        "Write to me when",
        [Optional()],
        choices=[SelectChoice(kind.name, kind.what) for kind in CHOSEN],
        description="Nobody is written to about what they did themselves. The same always stands on the pages too.",
    )
