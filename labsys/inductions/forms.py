"""What people may type about inductions."""

from collections.abc import Sequence

from wtforms import BooleanField, IntegerField, SelectField, SelectMultipleField, StringField, TextAreaField
from wtforms.fields.choices import SelectChoice  # type: ignore[attr-defined]  # newer than its stubs
from wtforms.validators import InputRequired, Length, NumberRange, Optional

from labsys.chemistry.sizes import MATERIAL_NAMES, Material
from labsys.forms import InstantField, LabForm
from labsys.inductions.models import Hazard, Induction, SignOff, Withdrawal
from labsys.inductions.service import NeededFor
from labsys.inductions.teaching import LONGEST_VALID_DAYS
from labsys.people.models import Person
from labsys.places.models import Station

LONGEST_TEXT = 8_000


class NamingForm(LabForm):
    name = StringField(
        "What it is called",
        [InputRequired("Give it a name people here know, such as Skin care."), Length(max=Induction.NAME_LENGTH)],
        description="Such as Skin care, or Enlarger.",
    )
    how_to_get = StringField(
        "How people get it",
        [InputRequired("Say how somebody who lacks it gets it."), Length(max=Induction.how_to_get.type.length)],
        description="Shown to whoever lacks it, such as: Come on Mondays at six, or ask an instructor.",
    )


class NeedsForm(LabForm):
    stations = SelectMultipleField("To work at", [Optional()], coerce=int)
    materials = SelectMultipleField(
        "To process",
        [Optional()],
        coerce=Material,
        choices=[
            SelectChoice(material.value, words.capitalize() if words[0] != "R" else words)
            for material, words in MATERIAL_NAMES.items()
        ],
    )
    hazards = SelectMultipleField(
        "To use chemicals that are",
        [Optional()],
        coerce=Hazard,
        choices=[SelectChoice(hazard.value, hazard.value.capitalize()) for hazard in Hazard],
        description="A sensitiser at any strength; all else as it is supplied, whoever dilutes it. Mixing asks it too.",
    )

    def offer(self, stations: Sequence[Station]) -> None:
        self.stations.choices = [(station.id, station.name) for station in stations]

    @property
    def needed_for(self) -> NeededFor:
        return NeededFor(
            station_ids=frozenset(self.stations.data or ()),
            materials=frozenset(self.materials.data or ()),
            hazards=frozenset(self.hazards.data or ()),
        )


class TextForm(LabForm):
    text = TextAreaField(
        "What is taught",
        [InputRequired("Write what is taught, one point a line."), Length(max=LONGEST_TEXT)],
        description="One point a line. The person reads these points before they confirm.",
    )
    valid_days = IntegerField(
        "Days it stays valid",
        [
            Optional(),
            NumberRange(
                1, LONGEST_VALID_DAYS, "Enter %(min)d to %(max)d days, or leave it empty if it does not lapse."
            ),
        ],
        description="From the day of the teaching; 365 is a year. Leave it empty if it does not lapse.",
    )


class InductionForm(NamingForm, TextForm, NeedsForm):
    """A new induction: its name, its first version and what needs it."""


class VersionForm(TextForm):
    must_repeat = BooleanField(
        "Everybody has to repeat it", description="What was signed under earlier versions stops counting at once."
    )


class AppointForm(LabForm):
    person = SelectField("Who", [InputRequired("Choose who holds it.")], coerce=int)
    taught_at = InstantField("They know it since", [Optional()], description="Leave it empty for now.")


class ClassForm(LabForm):
    inductions = SelectMultipleField("What was taught", [InputRequired("Tick what was taught.")], coerce=int)
    find = StringField(
        "Find somebody", [Optional(), Length(max=Person.NAME_LENGTH)], description="Part of a name. Ticks are kept."
    )
    people = SelectMultipleField("Who was taught", [InputRequired("Tick at least one person.")], coerce=int)
    taught_at = InstantField("When", [Optional()], description="Leave it empty for just now.")


class SheetForm(LabForm):
    sign_offs = SelectMultipleField("Who signed", [InputRequired("Tick who signed the sheet.")], coerce=int)
    sheet = StringField(
        "Where the signed sheet is kept",
        [InputRequired("Say where the signed sheet is kept."), Length(max=SignOff.SHEET_LENGTH)],
        description="So that somebody else finds it, such as: folder Inductions 2026, page 12.",
    )


class WithdrawForm(LabForm):
    reason = TextAreaField(
        "Why it no longer counts",
        [InputRequired("Say why it no longer counts."), Length(max=Withdrawal.reason.type.length)],
        description="Write what happened, nothing about anybody's health. Whoever sees the sign-off reads it.",
    )
