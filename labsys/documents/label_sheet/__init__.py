"""Sheets of labels for bottles, baths and waste containers: which of them, how large, and where to begin is chosen."""

from collections.abc import Mapping
from typing import Any

from wtforms import IntegerField, SelectField, SelectMultipleField
from wtforms.fields.choices import SelectChoice  # type: ignore[attr-defined]  # newer than its stubs
from wtforms.validators import InputRequired, NumberRange

from labsys.database import DbSession
from labsys.documents.document import Address, Document, form_from
from labsys.documents.label_sheet.collected import LabelChoice, Stuck, collect, everything_to_label
from labsys.documents.label_sheet.drawn import Layout, draw
from labsys.documents.occasion import Occasion
from labsys.drawing.pictograms import pictogram
from labsys.forms import LabForm
from labsys.people.permissions import Permission
from labsys.records.queries import waiting_labels

__all__ = ["LABEL_SHEET", "LabelChoice", "Layout", "everything_to_label"]

MOST_PLACES = 24
SIZES = {
    Layout.LARGE: "2 × 2, large: to 50 L",
    Layout.MEDIUM: "2 × 4: to 3 L",
    Layout.SMALL: "3 × 8, small: codes in place of sentences where there is no room",
}
_LARGE_FROM_UL = 3_000_000  # CLP Annex I Table 1.3: above 3 L a label of 74 × 105 mm, if possible


class LabelsForm(LabForm):
    """Labels to print; sent by GET to look and by POST to issue."""

    label = SelectMultipleField("Labels", [InputRequired("Choose at least one label.")])
    size = SelectField("Size", choices=[SelectChoice(layout.value, words) for layout, words in SIZES.items()])
    first = IntegerField(
        "Begin at place",
        [InputRequired("Enter the first free place of the sheet."), NumberRange(1, MOST_PLACES, "Enter 1 to 24.")],
        description="Counted along the rows from the top left: 1 on a new sheet.",
    )
    everything: tuple[Stuck, ...] = ()
    waiting: tuple[str, ...] = ()  # by their keys: those that nobody has printed yet

    def choice(self) -> LabelChoice:
        """The labels chosen; only of a valid form."""
        return LabelChoice(self.label.data or (), Layout(self.size.data), self.first.data or 1)


def _form(session: DbSession, occasion: Occasion, address: Address | None) -> LabelsForm:
    if address is not None:
        address = address.copy()
        address.setdefault("size", Layout.MEDIUM.value)
        address.setdefault("first", "1")
    codes = waiting_labels(session)
    everything = sorted(everything_to_label(session, occasion), key=lambda labelled: labelled.facts.code not in codes)
    waiting = [labelled.key for labelled in everything if labelled.facts.code in codes]
    if address is not None and not address.getlist("label"):
        address.setlist("label", waiting)
    form = form_from(LabelsForm, address)
    form.everything = tuple(everything)
    form.waiting = tuple(waiting)
    form.label.choices = [
        SelectChoice(labelled.key, f"{labelled.kind.capitalize()}: {labelled.title}") for labelled in form.everything
    ]
    return form


def _page(_: DbSession, form: LabelsForm, __: Occasion) -> Mapping[str, Any]:
    """What the page shows: all that can be chosen and, once something is, what it says."""
    if form.label.data and not form.errors:
        form.validate()
    chosen = [labelled for labelled in form.everything if labelled.key in (form.label.data or ())]
    large = [labelled.title for labelled in chosen if (labelled.holds_ul or 0) > _LARGE_FROM_UL]
    return {
        "found": form.everything,
        "chosen": chosen,
        "waiting": form.waiting,
        "too_large": large if form.size.data != Layout.LARGE else [],
        "pictogram": pictogram,
    }


LABEL_SHEET = Document(
    kind="label sheet",
    path="labels",
    may_see=Permission.SEE_LAB,
    may_issue=Permission.ISSUE_REGISTER,
    form=_form,
    read=LabelsForm.choice,
    written=lambda choice, data: {"labels": ",".join(choice.keys), "size": choice.layout.value, "first": choice.first},
    collect=collect,
    title=lambda data: f"Labels {data.layout}",
    draw=draw,
    labels=lambda data: [label.code for label in data.labels],
    page=_page,
)
