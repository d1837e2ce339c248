"""The form of a process, with a row for each step."""

from collections.abc import Iterable
from typing import Any, ClassVar

from wtforms import BooleanField, FieldList, FormField, RadioField, SelectField, StringField
from wtforms.fields import TextAreaField
from wtforms.validators import DataRequired, InputRequired, Length, Optional

from labsys.chemistry.sizes import MATERIAL_NAMES
from labsys.forms import FigureField, FormRow, LabForm, VersionField, complain, filled, options, parsed
from labsys.processes.models import Process, ProcessStep
from labsys.processes.rules import read_duration
from labsys.processes.service import StepEntry
from labsys.products.models import Product
from labsys.products.rules import read_dilution, show_dilution
from labsys.quantities import MILLI, duration

MOST_STEPS = 30
_FIRST_ROWS = 3
_TOO_LONG = f"Use at most {ProcessStep.NOTE_LENGTH} characters."


class StepRow(FormRow):
    name = StringField("What it is called", [Length(max=ProcessStep.NAME_LENGTH, message="Use at most 60 characters.")])
    product_id = SelectField("Product", default="", description="Water, or nothing wet: leave it.")
    dilution = StringField("Dilution", description="1+4, stock")
    time = StringField("Time", description="8:30, 8 min, 90 s")
    celsius = FigureField("Temperature", scale=MILLI, highest=60, unit="°C")
    tolerance = FigureField("Give or take", scale=MILLI, highest=5, unit="°C")
    changes = FigureField("Changes of water", highest=99)
    any_film = BooleanField(
        "Its time is the same for every film",
        description="Of a film developer, as in colour. Else the time comes from the lab's developing times.",
    )
    in_the_dark = BooleanField("In total darkness")
    air = StringField(
        "Lid and ventilation",
        [Length(max=ProcessStep.NOTE_LENGTH, message=_TOO_LONG)],
        description="Such as: extraction running, lid on between prints.",
    )
    note = TextAreaField("What to do", [Length(max=ProcessStep.NOTE_LENGTH, message=_TOO_LONG)], render_kw={"rows": 2})
    source = StringField("Source", [Length(max=Product.SOURCE_LENGTH)], description="Data sheet, page, edition")

    needed: ClassVar[dict[str, str]] = {"name": "Name this step, or empty the row."}

    def read(self) -> None:
        self.milli = parsed(self.dilution, read_dilution)
        self.seconds = parsed(self.time, read_duration)
        if self.product_id.data and not self.dilution.data:
            complain(self.dilution, "Write the dilution, such as 1+4, or stock for undiluted.")
        if self.dilution.data and not self.product_id.data:
            complain(self.product_id, "Choose the product that is diluted so, or empty the dilution.")
        if self.tolerance.data and not self.celsius.data:
            complain(self.celsius, "Enter the temperature that it may be off from.")

    @property
    def entered(self) -> StepEntry:
        """What was entered; only of a valid row."""
        return StepEntry(
            name=self.name.data or "",
            product_id=int(self.product_id.data) if self.product_id.data else None,
            water_parts_milli=self.milli,
            seconds=self.seconds,
            temperature_milli_c=self.celsius.amount,
            tolerance_milli_c=self.tolerance.amount,
            changes=self.changes.amount,
            any_film=self.any_film.data,
            in_the_dark=self.in_the_dark.data,
            air=self.air.data or "",
            note=self.note.data or "",
            source=self.source.data or "",
        )


class ProcessForm(LabForm):
    """A way of working, its steps in working order."""

    name = StringField(
        "Name",
        [DataRequired("Name the process."), Length(max=Process.NAME_LENGTH)],
        description="What it is for and how: Fibre prints, two-bath fixing.",
    )
    note = StringField(
        "Note", [Optional(), Length(max=Process.NOTE_LENGTH)], description="What holds for the whole of it."
    )
    steps = FieldList(FormField(StepRow, "Step"), min_entries=MOST_STEPS)

    def offer(self, products: Iterable[Product]) -> None:
        """Hand in what a step can be done with."""
        choices = options(
            {str(product.id): f"{product.name}, {product.supplier}" for product in products}, first="water, or none"
        )
        for row in self.steps.entries:
            row.form.product_id.choices = list(choices.items())

    def validate(self, extra_validators: Any = None) -> bool:
        super().validate(extra_validators)
        self.steps.errors = [entry.errors for entry in self.steps.entries if entry.errors]
        if not filled(self.steps):
            self.form_errors.append("Enter the first step at least.")
        if len(self.steps.entries) > MOST_STEPS:
            self.form_errors.append(f"A process has at most {MOST_STEPS} steps. Split it in two.")
        return not self.errors

    @property
    def entered_steps(self) -> list[StepEntry]:
        """What was entered; only of a valid form."""
        return [row.entered for row in filled(self.steps)]

    @property
    def shown_steps(self) -> list[Any]:
        """The rows to show: to the last one written in, and one to go on with."""
        used = [index for index, row in enumerate(self.steps.entries) if not row.form.is_blank]
        return list(self.steps.entries[: max(_FIRST_ROWS, used[-1] + 2 if used else 0)])

    def rearranged(self, *, up: int | None = None, insert: int | None = None, remove: int | None = None) -> None:
        """Move a row up, open one before it, or take it out; what was typed goes with its row."""
        typed = [row.form.data for row in self.steps.entries]
        if up is not None and 0 < up < len(typed):
            typed[up - 1], typed[up] = typed[up], typed[up - 1]
        if insert is not None and 0 <= insert < len(typed):
            typed = [*typed[:insert], {}, *typed[insert:-1]]
        if remove is not None and 0 <= remove < len(typed):
            typed = [*typed[:remove], *typed[remove + 1 :], {}]
        self.steps.process(None, typed)


class AddProcessForm(ProcessForm):
    material = RadioField("For", [InputRequired("Choose what it is for.")], choices=options(MATERIAL_NAMES))


class ChangeProcessForm(ProcessForm):
    """The same, and which version it started from."""

    version = VersionField()


def typed(process: Process) -> dict[str, Any]:
    """Return a process as it would be typed, to begin a change from; figures are shown by their fields."""
    return {
        "name": process.name,
        "note": process.note,
        "steps": [_typed(step) for step in process.steps],
        "version": str(process.version),
    }


def _typed(step: ProcessStep) -> dict[str, Any]:
    return {
        **{name: getattr(step, name) for name in StepEntry.__dataclass_fields__},
        "product_id": str(step.product_id or ""),
        "dilution": "" if step.water_parts_milli is None else show_dilution(step.water_parts_milli),
        "time": duration(step.seconds) if step.seconds else "",
        "celsius": step.temperature_milli_c,
        "tolerance": step.tolerance_milli_c,
    }
