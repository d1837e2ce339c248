"""What people may type about chemicals they bring in."""

from collections.abc import Callable, Iterable

from flask import g
from flask_wtf.file import FileField
from wtforms import BooleanField, Field, RadioField, SelectField, StringField, TextAreaField
from wtforms.validators import DataRequired, InputRequired, Length, Optional, ValidationError

from labsys.brought_in import rules
from labsys.brought_in.models import Declaration, Ending
from labsys.brought_in.service import Decision, Declared
from labsys.database import db
from labsys.forms import InstantField, LabForm, PlannedDayField, options
from labsys.hazards.waste_codes import all_waste_codes
from labsys.processes.models import Process
from labsys.products.forms.safety import ACCEPTED_FILES
from labsys.products.rules import plain_h_codes
from labsys.records import queries as records
from labsys.records.errors import Refused
from labsys.records.models import CodeKind
from labsys.records.rules import CodeRefused, read_code

YES, NO = "yes", "no"
_NOT_SAID = 0
_NAME = Length(max=Declaration.NAME_LENGTH)
_TEXT = Length(max=Declaration.TEXT_LENGTH)


class DeclareForm(LabForm):
    name = StringField(
        "What it is",
        [DataRequired("Name the product or substance."), _NAME],
        description="As on the bottle and in section 1 of the SDS.",
    )
    supplier = StringField("Supplier", [DataRequired("Name the supplier on the SDS."), _NAME])
    h_codes = StringField(
        "H-codes",
        [Optional(), Length(max=Declaration.H_CODES_LENGTH)],
        description="From section 2 of the SDS: H302 H314 EUH031. Or: not classified. Left empty, "
        "it counts as not known.",
    )
    ingredients = TextAreaField(
        "Hazardous ingredients",
        [Optional()],
        description="From section 3 of the SDS, one a line: name, CAS number. Such as: acetic acid, 64-19-7",
    )
    sds = FileField(
        "The SDS, as PDF",
        [Optional()],
        description="At most 10 MB. Without it, show the SDS to whoever decides.",
        render_kw={"accept": ACCEPTED_FILES},
    )
    amount = StringField(
        "How much",
        [DataRequired("Write how much, with its unit: 250 mL, 1 L or 40 g.")],
        description="With its unit: 250 mL, 1 L or 40 g.",
    )
    task = TextAreaField(
        "What for",
        [DataRequired("Write what you will do with it, and where."), _TEXT],
        description="What you will do with it, where, and how strong you mix it.",
    )
    process_id = SelectField("Process", coerce=int, default=_NOT_SAID)
    first_on = PlannedDayField("First day", [InputRequired("Choose the first day.")])
    last_on = PlannedDayField("Last day", [InputRequired("Choose the last day.")])
    waste_code = SelectField("What is left of it", default="")

    def offer_processes(self, processes: Iterable[Process]) -> None:
        names = {process.id: process.name for process in processes}
        self.process_id.choices = options({_NOT_SAID: "None of the lab's", **names})
        codes = {waste.code: f"Waste here: {waste.code} {waste.text}" for waste in all_waste_codes()}
        self.waste_code.choices = options(codes, first="I take it home")

    def validate_h_codes(self, field: Field) -> None:
        _read(lambda: plain_h_codes(field.data or ""))

    def validate_ingredients(self, field: Field) -> None:
        _read(lambda: rules.parse_ingredients(field.data or ""))

    def validate_amount(self, field: Field) -> None:
        _read(lambda: rules.parse_amount(field.data or ""))

    @property
    def declared(self) -> Declared:
        amount, unit = rules.parse_amount(self.amount.data or "")
        return Declared(
            **self.values_of("name", "supplier", "h_codes", "task", "first_on", "last_on", "waste_code"),
            ingredients=rules.parse_ingredients(self.ingredients.data or ""),
            amount=amount,
            unit=unit,
            process_id=self.process_id.data or None,
            sds=self.sds.data.read() if self.sds.data else None,
        )


class DecideForm(LabForm):
    answer = RadioField(
        "May it come in?",
        [InputRequired("Choose yes or no.")],
        choices=options({YES: "Yes: it gets a code and a label", NO: "No"}),
    )
    sds_shown = BooleanField("The supplier's SDS was shown to me, and the entries agree with it")
    conditions = TextAreaField(
        "Conditions",
        [Optional(), _TEXT],
        description="They stand on the label: where it may be used, what to wear, what to keep it from.",
    )
    reasons = TextAreaField("Reasons", [Optional(), _TEXT], description="A no needs them. The person reads them.")

    @property
    def decision(self) -> Decision:
        return Decision(accepts=self.answer.data == YES, **self.values_of("sds_shown", "reasons", "conditions"))


class EndForm(LabForm):
    ending = RadioField(
        "What became of it",
        [InputRequired("Choose what became of it.")],
        choices=options(
            {
                Ending.TAKEN_HOME: "Taken home",
                Ending.DISPOSED_OF: "Disposed of here, into a waste container",
                Ending.NOT_BROUGHT: "It was never brought",
            }
        ),
    )
    container = StringField(
        "Container it went to",
        [Optional()],
        description="The code on the waste container. Only if it was disposed of here.",
    )
    ended_at = InstantField("When", [Optional()], description="Leave it empty for just now.")

    def validate_container(self, field: Field) -> None:
        try:
            read = read_code(field.data, prefix=g.lab.code_prefix)
        except CodeRefused as refusal:
            raise ValidationError(str(refusal)) from refusal
        if read.kind is not CodeKind.CONTAINER or records.code_or_none(db.session, read.code) is None:
            raise ValidationError(f"{read.code} is not on a waste container here. Read it again from the container.")
        field.data = read.code


def _read(reading: Callable[[], object]) -> None:
    """Turn what cannot be read into a message at the field."""
    try:
        reading()
    except Refused as refusal:
        raise ValidationError(str(refusal)) from refusal
