"""What people may type about waste."""

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, ClassVar, cast

from wtforms import (
    BooleanField,
    FieldList,
    FormField,
    RadioField,
    SelectField,
    SelectMultipleField,
    StringField,
    SubmitField,
    TextAreaField,
)
from wtforms.validators import InputRequired, Length, Optional, ValidationError

from labsys.forms import (
    FigureField,
    FormRow,
    InstantField,
    LabForm,
    MassField,
    PlannedDayField,
    VolumeField,
    check_year,
    complain,
    filled,
    given,
    options,
    refuse_twins,
)
from labsys.quantities import MILLI, parse_volume
from labsys.waste.measured import HIGHEST, LimitedForm
from labsys.waste.models import (
    Collection,
    DischargeAnswer,
    Pour,
    PourCorrection,
    Quarantine,
    ReleaseKind,
    SewerConsent,
    SewerLimit,
    StatedProperties,
    WasteContainer,
    WasteKind,
    WasteStream,
)
from labsys.waste.pages import Said, all_codes, code_choices, said_choices
from labsys.waste.rules import Poured, Restated
from labsys.waste.service import HandedOver
from labsys.waste.sewer import ConsentEntry, LimitEntry
from labsys.waste.sewer_rules import is_ph, is_within_its_scale

LIMIT_ROWS = 8
_NOTHING = re.compile(r"\s*0+(?:[.,]0*)?\s*(?:ml|l)?\s*", re.IGNORECASE | re.ASCII)


class LevelField(VolumeField):
    """A volume that may be nothing: a container found empty."""

    @staticmethod
    def parse(text: str, *, unit: str | None = None) -> int:
        return 0 if _NOTHING.fullmatch(text) else parse_volume(text, unit=unit)


class StreamForm(LabForm):
    code = SelectField(
        "Kind of waste",
        [InputRequired("Choose the kind of waste.")],
        description="By its code in the List of Waste. An asterisk says that it is hazardous.",
    )
    name = StringField(
        "What you call it",
        [
            InputRequired("Give it a name people here know, such as Used fixer."),
            Length(max=WasteStream.name.type.length),
        ],
        description="As it stands on the containers, such as Used fixer.",
    )


class ContainerForm(LabForm):
    stream = SelectField("What goes into it", [InputRequired("Choose a stream.")], coerce=int)
    capacity = VolumeField(
        "What it holds when full",
        [InputRequired("Enter how much the container holds.")],
        unit="L",
        description="To the fill line, not to the brim.",
    )
    place = StringField(
        "Where it stands",
        [Optional(), Length(max=WasteContainer.place.type.length)],
        description="Such as: under the wet side, in the tray.",
    )
    opened_at = InstantField("Put into use", [Optional()], description="Leave it empty for now.")


class PouredForm(LimitedForm):
    """Something poured away: how much, and what it is."""

    volume = VolumeField(
        "How much",
        [InputRequired("Enter how much, with its unit, such as 350 mL.")],
        description="As measured or read from the bottle, with its unit: 350 mL or 2.5 L.",
    )
    what = StringField(
        "In your own words",
        [InputRequired("Say what it was, such as: PQ developer 1+9, used once."), Length(max=Pour.WHAT_LENGTH)],
        description="Such as: PQ developer 1+9, used once.",
    )
    of = SelectField(
        "What it is",
        [InputRequired("Choose what it is: a product, a kind, or that it is not known.")],
        description="A product of the lab if it is one, else its kind. A bath is dumped from its own page.",
    )
    waste_code = SelectField("Kind of waste", description="Of a product it is known: leave this as it stands.")
    poured_at = InstantField("When", [Optional()], description="Leave it empty for just now.")
    said: Said | None = None

    def offer(self, *, said: Mapping[str, Said], container: WasteContainer | None = None) -> None:
        """Hand in what it may be said to be, and the container it goes into where it goes into one."""
        self.of.choices = said_choices(said, code=container.code if container else "")
        of_product = [("", "By the product chosen"), *all_codes(first="")]
        self.waste_code.choices = code_choices(container) if container else of_product
        self.said = said.get(self.of.data or "")

    def validate_waste_code(self, field: SelectField) -> None:
        code = self.said.code if self.said else ""
        if not code and not field.data:
            raise ValidationError("Choose the kind of waste.")
        if code and field.data and field.data != code:
            raise ValidationError(f"The used solution of that product is {code}. Choose one of the two.")

    @property
    def poured(self) -> Poured:
        """What a valid form says of a pour."""
        said = given(self.said)
        return Poured(
            what=given(self.what.data),
            waste_code=said.code or self.waste_code.data,
            volume_ul=given(self.volume.amount),
            kind=said.kind,
            product_id=said.product_id,
            water_parts_milli=said.water_parts_milli,
        )


class PourForm(PouredForm):
    """What goes into a container, or is in it already."""

    record_done = SubmitField("It has been poured already: record it")


class CorrectPourForm(PouredForm):
    """What a pour really was."""

    nothing = BooleanField("Nothing was poured at all", description="Then the rest may stay as it stands.")
    reason = TextAreaField(
        "Why", [InputRequired("Write why it is corrected."), Length(max=PourCorrection.REASON_LENGTH)]
    )


class LimitRow(FormRow):
    """One limit of a consent: a quantity with its unit, at least so much, at most so much, or both."""

    quantity = StringField("What", [Length(max=80)], description="Such as pH, silver, thiosulfate or temperature.")
    low = FigureField("At least", scale=MILLI, lowest=-HIGHEST, highest=HIGHEST)
    high = FigureField("At most", scale=MILLI, lowest=-HIGHEST, highest=HIGHEST)
    unit = StringField("Unit", [Length(max=SewerLimit.UNIT_LENGTH)], description="Such as mg/L or °C; none for pH.")

    needed: ClassVar[dict[str, str]] = {"quantity": "Write what is limited, such as pH."}

    def read(self) -> None:
        """A limit has a figure; one without is a condition, which has its own field."""
        if self.low.amount is None and self.high.amount is None:
            complain(self.high, "Enter the figure: at least, at most, or both.")
        elif not is_within_its_scale(self.quantity.data or "", self.low.amount, self.high.amount):
            complain(self.high, "pH goes from 0 to 14. Check the figure.")
        elif is_ph(self.quantity.data or "") and self.unit.data:
            complain(self.unit, "pH has no unit: leave it empty, or say what else is limited.")
        elif None not in (self.low.amount, self.high.amount) and given(self.low.amount) > given(self.high.amount):
            complain(self.high, "That is less than the least. Check the two.")

    @property
    def key(self) -> tuple[object, ...]:
        return ((self.quantity.data or "").lower() or None,)


class ConsentForm(LabForm):
    """A sewer consent as its paper states it."""

    reference = StringField(
        "Reference", [InputRequired("Copy the reference from the consent."), Length(max=SewerConsent.REFERENCE_LENGTH)]
    )
    issued_by = StringField(
        "Issued by",
        [InputRequired("Enter who issued it: the sewerage undertaker."), Length(max=SewerConsent.ISSUED_BY_LENGTH)],
    )
    codes = SelectMultipleField("Codes it names", description="Only what stands on the paper.")
    kinds = SelectMultipleField("Kinds it names", choices=options({kind.value: kind.words for kind in WasteKind}))
    limits = FieldList(FormField(LimitRow, "Limit"), min_entries=LIMIT_ROWS)
    conditions = TextAreaField(
        "What else it asks for",
        [Optional(), Length(max=SewerLimit.QUANTITY_LENGTH)],
        description="Without a figure, such as: never at night. Whoever discharges has to say that it is kept to.",
    )
    most_a_day = VolumeField(
        "At most a day", [Optional()], description="With its unit, such as 20 L; empty for no limit."
    )
    valid_from = PlannedDayField("From", [InputRequired("Enter the first day it holds."), check_year])
    valid_until = PlannedDayField(
        "Until",
        [InputRequired("Enter the last day it holds, or the day by which you look at it again."), check_year],
        description="The last day it holds, or by when you look at it again.",
    )

    def validate(self, extra_validators: Any = None) -> bool:
        super().validate(extra_validators)
        refuse_twins(self.limits, at="quantity")
        self.limits.errors = [entry.errors for entry in self.limits.entries if entry.errors]
        if not (filled(self.limits) or self.conditions.data):
            complain(self.conditions, "Copy its limits: each figure into a row above, what has none here.")
        return not self.errors

    @property
    def entry(self) -> ConsentEntry:
        """The consent as typed; only of a valid form."""
        rows = [
            LimitEntry(row.quantity.data, row.unit.data or "", row.low.amount, row.high.amount)
            for row in filled(self.limits)
        ]
        conditions = [LimitEntry(self.conditions.data)] if self.conditions.data else []
        return ConsentEntry(
            reference=given(self.reference.data),
            issued_by=given(self.issued_by.data),
            limits=[*rows, *conditions],
            most_ul_a_day=self.most_a_day.amount,
            valid_from=given(self.valid_from.data),
            valid_until=given(self.valid_until.data),
            codes=self.codes.data or (),
            kinds=[WasteKind(kind) for kind in self.kinds.data or ()],
        )


class AnswerForm(LabForm):
    answer = TextAreaField(
        "What was found and done",
        [InputRequired("Write whom you told and what was done."), Length(max=DischargeAnswer.ANSWER_LENGTH)],
        description="Whom you rang, what they said, and what keeps it from happening again.",
    )


class QuarantineForm(LabForm):
    reason = TextAreaField(
        "Why",
        [InputRequired("Write what is in it that should not be, or what is not known."), Length(max=400)],
        description="Such as: somebody emptied a jug without a label into it.",
    )


class ReleaseForm(LabForm):
    """How a quarantine ends; what is in the container is stated in full unless there is a lighter way."""

    kind = RadioField("How", [InputRequired("Choose how it is released.")], coerce=ReleaseKind)
    note = TextAreaField(
        "Why",
        [InputRequired("Write what was found and what was done about it."), Length(max=Quarantine.NOTE_LENGTH)],
        description="Who looked, what was found, and why it may be released.",
    )
    code = SelectField("Code it leaves under", [Optional()])
    components = TextAreaField(
        "What is in it",
        [Length(max=Quarantine.NOTE_LENGTH)],
        description="Each component with its content, such as: used fixer 95 %, used developer 5 %.",
    )
    properties = StringField(
        "Hazardous properties",
        [Length(max=Quarantine.PROPERTIES_LENGTH)],
        description="Such as HP 5, HP 14; none where an assessment found none.",
    )
    acceptance = StringField(
        "Who takes it so, in writing",
        [Length(max=Quarantine.ACCEPTANCE_LENGTH)],
        description="The consignee, the date and the reference of their letter or mail.",
    )

    def offer(self, *, kinds: Iterable[ReleaseKind], codes: list[tuple[str, str]]) -> None:
        """Hand in how it may be released now, and the codes there are."""
        self.kind.choices = options({kind: RELEASES[kind] for kind in kinds})
        self.code.choices = codes

    @property
    def restated(self) -> Restated:
        return Restated(**self.values_of("code", "components", "properties", "acceptance"))


class StateForm(LabForm):
    """The hazardous properties of a container, as somebody competent knows them."""

    properties = StringField(
        "Hazardous properties",
        [
            InputRequired("Write them by their codes, such as HP 5, HP 14, or write none."),
            Length(max=Quarantine.PROPERTIES_LENGTH),
        ],
        description="By their codes, such as HP 5, HP 14. Write none where an assessment found none.",
    )
    reason = TextAreaField(
        "How you know",
        [InputRequired("Write how you know."), Length(max=StatedProperties.REASON_LENGTH)],
        description="The SDS, a test or the consignee's assessment: which, and of what day.",
    )


RELEASES = {
    ReleaseKind.CORRECTED: "The entry was wrong and is corrected: nothing wrong is in it",
    ReleaseKind.CARRY_OVER: "Trivial carry-over: it goes on in use",
    ReleaseKind.RESTATED: "Classified anew: nothing more goes in, and it leaves as stated below",
}


class ContainerLevelForm(LabForm):
    found = LevelField(
        "What is in it now",
        [InputRequired("Enter how much is in it; 0 if it is empty.")],
        description="Read from its scale, with its unit: 4.5 L. Write 0 if it is empty.",
    )
    found_at = InstantField("When you looked", [Optional()], description="Leave it empty for just now.")


class CollectForm(LabForm):
    """A collection; `collect_form` adds the carrier's figures for each container."""

    containers = SelectMultipleField(
        "Containers handed over",
        [InputRequired("Tick at least one container.")],
        coerce=int,
        validate_choice=False,  # one collected meanwhile is named by the rule, in better words
    )
    note_code = StringField(
        "Consignment note code",
        [InputRequired("Copy the code from the consignment note."), Length(max=Collection.NOTE_CODE_LENGTH)],
        filters=[lambda text: text.upper() if text else text],
    )
    carrier = StringField(
        "Carrier",
        [InputRequired("Enter who took it."), Length(max=Collection.CARRIER_LENGTH)],
        description="The business and its registration, as on the note.",
    )
    collected_at = InstantField("When it was collected", [Optional()], description="Leave it empty for just now.")

    def carrier_volume(self, container_id: int) -> VolumeField | None:
        """The carrier's volume of a container that stands here."""
        return cast(VolumeField | None, self._fields.get(f"volume_{container_id}"))

    def carrier_weight(self, container_id: int) -> MassField | None:
        """The carrier's net weight of a container that stands here."""
        return cast(MassField | None, self._fields.get(f"weight_{container_id}"))

    def validate_containers(self, field: SelectMultipleField) -> None:
        ticked = set(field.data or ())
        for name, other in self._fields.items():
            kind, _, number = name.rpartition("_")
            if kind in ("volume", "weight") and other.data and int(number) not in ticked:
                raise ValidationError("A figure is given for a container that is not ticked. Tick it, or clear it.")

    def handed_over(self) -> list[HandedOver]:
        """What was ticked, with the carrier's figures as far as given."""
        figures = [
            (number, self.carrier_volume(number), self.carrier_weight(number)) for number in given(self.containers.data)
        ]
        return [
            HandedOver(number, volume.amount if volume else None, weight.amount if weight else None)
            for number, volume, weight in figures
        ]


def collect_form(containers: Sequence[WasteContainer]) -> CollectForm:
    """Return the form of a collection, with two optional figures for each container."""
    figures: dict[str, Any] = {}
    for container in containers:
        figures[f"volume_{container.id}"] = VolumeField(
            f"Carrier's volume of {container.label}", [Optional()], unit="L"
        )
        figures[f"weight_{container.id}"] = MassField(f"Net weight of {container.label}", [Optional()], unit="kg")
    form: CollectForm = type("CollectFormHere", (CollectForm,), figures)()
    form.containers.choices = [(container.id, container.label) for container in containers]
    return form
