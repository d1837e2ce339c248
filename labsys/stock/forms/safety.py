"""Forms about the safety of products: data sheets, interim approvals, readings, the lab's rule, shelves."""

from collections.abc import Iterable
from typing import Any

from flask_wtf.file import FileField, FileRequired
from wtforms import HiddenField, RadioField, SelectField, StringField
from wtforms.fields import TextAreaField
from wtforms.validators import DataRequired, InputRequired, Length, Optional, Regexp

from labsys.forms import LabForm
from labsys.places.models import Room
from labsys.stock.forms.fields import DayField, options
from labsys.stock.safety_models import DataSheet, HazardChoice, InterimApproval, SdsRule
from labsys.stock.shelf_models import Shelf, ShelfKind
from labsys.stock.standing import REVIEW_YEARS

ACCEPTED_FILES = ".pdf,application/pdf"

SDS_RULE_NAMES = {
    SdsRule.SHOWN: "It is shown; baths may be mixed all the same",
    SdsRule.BLOCKS: "Nothing is mixed from it until there is one",
}


class SheetForm(LabForm):
    """An SDS as the supplier sent it, with what is printed on it."""

    sheet = FileField(
        "The SDS, as PDF",
        [FileRequired("Choose the PDF of the SDS.")],
        description="At most 10 MB. It is kept as it is and handed out as a download, never opened here.",
        render_kw={"accept": ACCEPTED_FILES},
    )
    issued_on = DayField(
        "Date of the SDS", [InputRequired("Enter its date.")], description="Its newest issue or revision date."
    )
    supplier = StringField(
        "Supplier, as on the sheet",
        [DataRequired("Name the supplier as section 1 does."), Length(max=DataSheet.SUPPLIER_LENGTH)],
    )
    language = StringField(
        "Language", [DataRequired("Say in which language it is."), Length(max=DataSheet.WORDS_LENGTH)]
    )
    revision = StringField(
        "Revision", [Optional(), Length(max=DataSheet.WORDS_LENGTH)], description="As printed: version 4.1."
    )
    review_due = DayField(
        "Review due",
        [Optional()],
        description=f"When to ask for a newer one. Left empty: {REVIEW_YEARS} years after its date, the lab's choice.",
    )


class _VersionForm(LabForm):
    """About one version of a product's entries: the one that was read."""

    version = HiddenField(validators=[Regexp(r"[0-9]{1,9}\Z", message="Open this page again.")])


class InterimForm(_VersionForm):
    last_day = DayField("Last day", [InputRequired("Enter the last day it may be mixed from.")])
    reason = TextAreaField(
        "Why it may be mixed all the same",
        [DataRequired("Write down the reason."), Length(max=InterimApproval.REASON_LENGTH)],
        description="It is shown on the product, when somebody mixes, and on plans.",
        render_kw={"rows": 3},
    )


class ReadingForm(_VersionForm):
    """Which of two readings stands; `offer` hands in the choices."""

    reading = RadioField("Which reading stands", [InputRequired("Choose one of the readings.")])
    reason = TextAreaField(
        "Why",
        [DataRequired("Write down why this reading stands."), Length(max=HazardChoice.REASON_LENGTH)],
        render_kw={"rows": 3},
    )

    def offer(self, readings: Iterable[tuple[str, str]]) -> None:
        self.reading.choices = list(readings)


class SdsRuleForm(LabForm):
    sds_rule = RadioField(
        "Where a product has no current SDS",
        [InputRequired("Choose what follows.")],
        choices=options(SDS_RULE_NAMES),
    )


class ShelfForm(LabForm):
    """A place where bottles stand; `offer` hands in the rooms."""

    name = StringField(
        "Name",
        [DataRequired("Name the place."), Length(max=Shelf.NAME_LENGTH)],
        description="As it is written on it: Shelf 2, left.",
    )
    kind = RadioField(
        "What it is", [InputRequired("Choose what it is.")], choices=options({kind: str(kind) for kind in ShelfKind})
    )
    room_id = SelectField("Room", [Optional()])

    def offer(self, rooms: Iterable[Room]) -> None:
        self.room_id.choices = options({str(room.id): room.name for room in rooms}, first="no room named")


class PlaceForm(LabForm):
    """On which shelf a bottle stands; `offer` hands in the shelves."""

    shelf_id = RadioField("Shelf", [InputRequired("Choose where it stands.")])

    def offer(self, shelves: Iterable[Shelf]) -> None:
        self.shelf_id.choices = shelf_options(shelves)


def shelf_options(shelves: Iterable[Shelf], *, first: str | None = None) -> dict[str, Any]:
    return options({str(one.id): f"{one.name} ({one.kind})" for one in shelves}, first=first)
