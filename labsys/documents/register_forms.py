"""Which labels to print, how large, and where on the sheet to begin."""

from collections.abc import Sequence

from wtforms import IntegerField, SelectField, SelectMultipleField
from wtforms.fields.choices import SelectChoice  # type: ignore[attr-defined]  # newer than its stubs
from wtforms.validators import InputRequired, NumberRange

from labsys.documents.collect_register import Stuck
from labsys.documents.label_sheet import Layout
from labsys.forms import LabForm

MOST_PLACES = 24
SIZES = {
    Layout.LARGE: "2 × 2, large: to 50 L",
    Layout.MEDIUM: "2 × 4: to 3 L",
    Layout.SMALL: "3 × 8, small: codes in place of sentences where there is no room",
}


class LabelsForm(LabForm):
    """Labels to print; sent by GET to look and by POST to issue."""

    label = SelectMultipleField("Labels", [InputRequired("Choose at least one label.")])
    size = SelectField("Size", choices=[SelectChoice(one.value, words) for one, words in SIZES.items()])
    first = IntegerField(
        "Begin at place",
        [InputRequired("Enter the first free place of the sheet."), NumberRange(1, MOST_PLACES, "Enter 1 to 24.")],
        description="Counted along the rows from the top left: 1 on a new sheet.",
    )

    def offer(self, found: Sequence[Stuck]) -> None:
        self.label.choices = [SelectChoice(one.key, f"{one.kind.capitalize()}: {one.title}") for one in found]
