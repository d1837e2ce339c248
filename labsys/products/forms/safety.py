"""Forms about the safety of a product: confirming, data sheets, interim approvals, readings, the lab's rule."""

from collections.abc import Iterable

from flask_wtf.file import FileField, FileRequired
from wtforms import RadioField, StringField
from wtforms.fields import TextAreaField
from wtforms.validators import DataRequired, InputRequired, Length, Optional

from labsys.forms import DayField, LabForm, VersionField, options
from labsys.products.models import DataSheet, HazardChoice, InterimApproval, SdsRule
from labsys.products.standing import REVIEW_YEARS

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


class ConfirmForm(LabForm):
    """One button about one version of a product's entries: the one that was read."""

    version = VersionField()


class InterimForm(ConfirmForm):
    last_day = DayField("Last day", [InputRequired("Enter the last day it may be mixed from.")])
    reason = TextAreaField(
        "Why it may be mixed all the same",
        [DataRequired("Write down the reason."), Length(max=InterimApproval.REASON_LENGTH)],
        description="It is shown on the product, when somebody mixes, and on plans.",
        render_kw={"rows": 3},
    )


class ReadingForm(ConfirmForm):
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
        "Where a product has no current SDS", [InputRequired("Choose what follows.")], choices=options(SDS_RULE_NAMES)
    )
