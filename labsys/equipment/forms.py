"""What people may type about equipment: a piece, a check with what was found, a fault and how it was cleared."""

from collections.abc import Sequence
from typing import Any

from wtforms import RadioField, SelectField, StringField, TextAreaField
from wtforms.validators import InputRequired, Length, Optional

from labsys.equipment.models import CheckKind, Equipment, EquipmentKind, Examination, FaultKind
from labsys.equipment.rules import INSTRUMENTS, MICRO
from labsys.equipment.service import EquipmentFacts, Found
from labsys.forms import DayField, FigureField, LabForm, options
from labsys.places.models import Room, Station

_NAME = Length(max=Equipment.NAME_LENGTH)
_WORDS = Length(max=Equipment.WORDS_LENGTH)
PASSED, FAILED = "passed", "failed"


class FactsForm(LabForm):
    """What is said of any piece of equipment."""

    name = StringField("Name", [InputRequired("Name it so that people find it, such as Eyewash at the door."), _NAME])
    whereabouts = StringField(
        "Where it is", [Optional(), _NAME], description="Such as: left of the wet side, on the wall."
    )
    serves = SelectField(
        "What is closed when it fails",
        description="Closed as soon as a check fails, and when one is overdue beyond the lab's grace, until it passes.",
    )
    lapses_on = DayField("Last day of a sealed bottle", [Optional()], description="As it is printed on the bottle.")
    step = FigureField(
        "One step of a balance's display", [Optional()], scale=MICRO, highest=100, unit="g", description="Such as 0.1."
    )

    def offer(self, rooms: Sequence[Room], stations: Sequence[Station]) -> None:
        """Offer rooms and places to serve."""
        served = {f"room-{room.id}": f"{room.name}, all of it" for room in rooms}
        served |= {f"place-{station.id}": station.name for station in stations}
        self.serves.choices = options(served, first="nothing")

    @property
    def facts(self) -> EquipmentFacts:
        """As typed; of a valid form."""
        kind, _, number = (self.serves.data or "").partition("-")
        return EquipmentFacts(
            **self.values_of("name", "whereabouts"),
            room_id=int(number) if kind == "room" else None,
            station_id=int(number) if kind == "place" else None,
            lapses_on=self.lapses_on.data if self.lapses_on else None,
            step_micro=self.step.amount if self.step else None,
        )


class AddForm(FactsForm):
    kind = SelectField(
        "What it is",
        [InputRequired("Choose what it is.")],
        choices=options(
            {kind.value: kind.titled for kind in EquipmentKind if kind is not EquipmentKind.CYLINDER}, first="Choose…"
        ),
    )


class ChangeForm(FactsForm):
    """What can be changed of a piece; never what it is."""

    def fit(self, kind: EquipmentKind) -> None:
        """Ask for nothing that this kind does not have."""
        if kind is not EquipmentKind.EYEWASH_BOTTLE:
            del self.lapses_on
        if kind is not EquipmentKind.BALANCE:
            del self.step


class RetireForm(LabForm):
    because = StringField(
        "Why", [InputRequired("Say why, and what stands in for it."), _WORDS], description="And what stands in for it."
    )


class CheckForm(LabForm):
    """A check and what was found."""

    happened_on = DayField("Done on", [Optional()], description="Leave it empty for today.")
    outcome = RadioField(
        "Outcome",
        [InputRequired("Say whether it passed.")],
        choices=options({PASSED: "It passed", FAILED: "It failed"}),
    )
    note = TextAreaField("What was found", [Optional(), _WORDS], description="Readings, at what, against what.")

    def found(self) -> Found:
        """As typed; of a valid form."""
        return Found(has_passed=self.outcome.data == PASSED, note=self.note.data or "", **self._more())

    def _more(self) -> dict[str, Any]:
        return {}


class ReadingForm(CheckForm):
    """A check of an instrument's reading against something better."""

    error = FigureField(
        "Largest error found",
        [InputRequired("Enter the largest error found; 0 where there was none.")],
        scale=MICRO,
        lowest=-100,
        highest=100,
        description="What it read less what was true, at the mark where it was most off. Under zero where it read too "
        "little.",
    )
    doubt = FigureField(
        "What it was held against is good to ±",
        [InputRequired("Enter how far off that may be: no instrument is exact.")],
        scale=MICRO,
        highest=100,
    )

    def fit(self, kind: EquipmentKind) -> None:
        """Ask in the unit of an instrument."""
        self.error.unit = self.doubt.unit = INSTRUMENTS[kind] or "pH"

    def _more(self) -> dict[str, Any]:
        return {"error_micro": self.error.amount, "doubt_micro": self.doubt.amount}


def _particular(label: str, most: int, description: str) -> TextAreaField:
    return TextAreaField(
        label,
        [InputRequired("The record has to say this. Write “not stated” where the report does not."), Length(max=most)],
        description=description,
    )


class ExaminationForm(CheckForm):
    """What the record of a thorough examination and test of local exhaust says."""

    employer = _particular("Whose plant it is", Examination.TEXT_LENGTH, "Name and address of the employer.")
    plant = _particular("Which plant", Examination.LINE_LENGTH, "Where it stands, and what it draws away.")
    conditions = _particular(
        "Conditions at the test", Examination.LINE_LENGTH, "As in ordinary use, or special ones: which."
    )
    intended = _particular("Performance intended", Examination.TEXT_LENGTH, "What it was made to do.")
    performance = _particular("Performance found", Examination.TEXT_LENGTH, "And whether it still does that.")
    method = _particular(
        "How that was judged", Examination.TEXT_LENGTH, "By eye, pressure, air speed, dust in the air."
    )
    repairs = TextAreaField("Repairs needed", [Optional(), Length(max=Examination.TEXT_LENGTH)])
    examiner = _particular("Who examined it", Examination.LINE_LENGTH, "Name, as what, of whom; who signed.")

    def _more(self) -> dict[str, Any]:
        names = ("employer", "plant", "conditions", "intended", "method", "repairs", "examiner")
        return {"particulars": {**self.values_of(*names), "found": self.performance.data or ""}}


def check_form(kind: EquipmentKind, check: CheckKind) -> CheckForm:
    """The form of a check of a kind of equipment."""
    if check is CheckKind.EXAMINATION:
        return ExaminationForm()
    if check is CheckKind.READING:
        form = ReadingForm()
        form.fit(kind)
        return form
    return CheckForm()


class FaultForm(LabForm):
    """A fault: each kind is a button that sends the form."""

    words = StringField("More about it", [Optional(), _WORDS], description="If you like. Then touch what is wrong.")
    kind = SelectField(choices=options({kind.value: kind[0].upper() + kind[1:] for kind in FaultKind}))


class ClearForm(LabForm):
    how = StringField(
        "What was done",
        [InputRequired("Say what was done: mended, replaced, or nothing found."), Length(max=Equipment.WORDS_LENGTH)],
    )
