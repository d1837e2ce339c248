"""What people may type about inductions."""

from collections.abc import Sequence
from typing import ClassVar

from wtforms import (
    BooleanField,
    FileField,
    IntegerField,
    RadioField,
    SelectField,
    SelectMultipleField,
    StringField,
    TextAreaField,
)
from wtforms.fields.choices import SelectChoice  # type: ignore[attr-defined]  # newer than its stubs
from wtforms.validators import InputRequired, Length, NumberRange, Optional

from labsys.chemistry.sizes import MATERIAL_NAMES, Material
from labsys.forms import InstantField, LabForm, VersionField, options
from labsys.inductions.contents import LONGEST_REFRESHER_DAYS, LONGEST_VALID_DAYS, MOST_QUESTIONS, Further, Question
from labsys.inductions.models import Hazard, Induction, InductionPicture, InductionVersion, SignOff, Withdrawal
from labsys.inductions.service import NeededFor
from labsys.people.models import Person
from labsys.places.models import Station

LONGEST_TEXT = 8_000
STANDS, ENDS = "stands", "ends"
WHOLE, REFRESHER = "whole", "refresher"
_HAZARDS = [SelectChoice(hazard.value, hazard.value.capitalize()) for hazard in Hazard]


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
        choices=_HAZARDS,
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
        description="One point a line. A line that begins with # is a heading. A line [picture 1] shows that picture. "
        "The person reads it all before they confirm.",
    )
    covers = SelectMultipleField(
        "Hazards it covers",
        [Optional()],
        coerce=Hazard,
        choices=_HAZARDS,
        description="Only what is covered can be asked of whoever uses such chemicals.",
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
    practice = TextAreaField(
        "What they show",
        [Optional(), Length(max=LONGEST_TEXT)],
        description="One item a line, such as: Puts gloves on and takes them off. Somebody who holds it sees "
        "each do it before it counts.",
    )
    refresher = TextAreaField(
        "The shorter refresher",
        [Optional(), Length(max=LONGEST_TEXT)],
        description="Written like the text. For who holds it, or held it until a short time ago.",
    )
    refresher_days = IntegerField(
        "Days after it lapsed that the refresher will do",
        [Optional(), NumberRange(0, LONGEST_REFRESHER_DAYS, "Enter %(min)d to %(max)d days.")],
        description="Later, all of it is taught again. 0 if the refresher is only for who still holds it.",
    )
    quiz = TextAreaField(
        "Quiz",
        [Optional(), Length(max=LONGEST_TEXT)],
        description="A question a line, its answers under it: + before the right one, - before the others. Passing it "
        "signs nobody off; without passing it, nothing is confirmed.",
    )
    pass_mark = IntegerField(
        "Right answers that pass", [Optional(), NumberRange(1, MOST_QUESTIONS, "Enter %(min)d to %(max)d.")]
    )

    @property
    def further(self) -> Further:
        """What the version holds besides its text; only of a valid form."""
        values = self.values_of("practice", "refresher", "refresher_days", "quiz", "pass_mark")
        return Further(covers=frozenset(self.covers.data or ()), **values)

    @property
    def has_further(self) -> bool:
        """Whether anything was written below the text, or is to be put right there."""
        names = ("practice", "refresher", "refresher_days", "quiz", "pass_mark")
        return any((self[name].data is not None and self[name].data != "") or self[name].errors for name in names)


class InductionForm(NamingForm, TextForm, NeedsForm):
    """A new induction: its name, its first version and what needs it."""


class VersionForm(TextForm):
    earlier = RadioField(
        "What was signed under earlier versions",
        [InputRequired("Choose whether earlier sign-offs stand.")],
        choices=options(
            {STANDS: "still counts, until it lapses", ENDS: "stops counting at once: everybody repeats all of it"}
        ),
    )

    @classmethod
    def of(cls, version: InductionVersion) -> "VersionForm":
        """The form as the version that stands fills it in; whether earlier sign-offs stand is chosen each time."""
        names = ("text", "valid_days", "practice", "refresher", "refresher_days", "quiz", "pass_mark")
        return cls(**{name: getattr(version, name) for name in names}, covers=list(version.hazards_covered))

    @property
    def must_repeat(self) -> bool:
        return bool(self.earlier.data == ENDS)


class PictureForm(LabForm):
    file = FileField("Picture", description="PNG, JPEG or WebP. Where and with what it was taken is left out.")
    shows = StringField(
        "What it shows",
        [InputRequired("Say what it shows, for who cannot see it."), Length(max=InductionPicture.SHOWS_LENGTH)],
        description="Such as: three trays from above, tongs in each. Read out to who cannot see it.",
    )


class QuizForm(LabForm):
    """The questions of one version, each a choice; made for them by `quiz_form`."""

    version = VersionField()
    asked: ClassVar[Sequence[Question]] = ()

    @property
    def questions(self) -> list[RadioField]:
        return [self[f"question_{number}"] for number in range(len(self.asked))]

    @property
    def answers(self) -> list[int]:
        """The number of the answer to each question; only of a valid form."""
        return [int(field.data) for field in self.questions]


def quiz_form(questions: Sequence[Question]) -> type[QuizForm]:
    """A form that asks these questions."""
    fields = {
        f"question_{number}": RadioField(
            question.asks,
            [InputRequired("Choose an answer.")],
            choices=options({str(key): answer for key, answer in enumerate(question.answers, 1)}),
        )
        for number, question in enumerate(questions)
    }
    return type("AskedQuizForm", (QuizForm,), {**fields, "asked": tuple(questions), "__module__": __name__})


class AppointForm(LabForm):
    person = SelectField("Who", [InputRequired("Choose who holds it.")], coerce=int)
    taught_at = InstantField("They know it since", [Optional()], description="Leave it empty for now.")


class ClassForm(LabForm):
    inductions = SelectMultipleField("What was taught", [InputRequired("Tick what was taught.")], coerce=int)
    find = StringField(
        "Find somebody", [Optional(), Length(max=Person.NAME_LENGTH)], description="Part of a name. Ticks are kept."
    )
    people = SelectMultipleField("Who was taught", [InputRequired("Tick at least one person.")], coerce=int)
    how = RadioField("What they were taught", choices=options({WHOLE: "all of it", REFRESHER: "the shorter refresher"}))
    saw_practice = BooleanField("I saw each of them do what is to be shown")
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
