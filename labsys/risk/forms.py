"""What a person may type about assessments."""

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Any

from wtforms import (
    BooleanField,
    FloatField,
    HiddenField,
    IntegerField,
    RadioField,
    SelectField,
    SelectMultipleField,
    StringField,
    TextAreaField,
)
from wtforms.fields import DateField
from wtforms.fields.choices import SelectChoice  # type: ignore[attr-defined]  # newer than its stubs
from wtforms.validators import InputRequired, Length, NumberRange, Optional

from labsys.forms import LabForm, MassField, VolumeField
from labsys.hazards.banding import Spread, approach_in_words
from labsys.ledger.models import Unit
from labsys.ledger.rules import show
from labsys.people.models import Person
from labsys.products.models import Product
from labsys.products.rules import show_dilution
from labsys.risk.handling import spreads_of
from labsys.risk.models import Action, AssessedSubstance, Assessment, Level, Residual, Route, Under18, Version, Who
from labsys.risk.reading import AS_SUPPLIED, LEVELS
from labsys.risk.rules import Choice, Content

AS_CALCULATED = 0
MOST_PEOPLE = 500
MOST_AIR_CHANGES = 100
MOST_GLOVE_MINUTES = 480  # the highest level of EN 16523-1 (from memory)
_AMOUNT = "Filled in as for a litre of working solution: put in what you handle."
_TOO_LONG = "Use at most %(max)d characters."
_LINE = [Optional(), Length(max=Version.LINE_LENGTH, message=_TOO_LONG)]
_TEXT = [Optional(), Length(max=Version.TEXT_LENGTH, message=_TOO_LONG)]
_HINTS = {
    Level.ELIMINATE: "What is not done, or not used, so that nobody meets it.",
    Level.SUBSTITUTE: "A milder product, a liquid in place of a powder.",
    Level.ENGINEERING: "Ventilation, extraction, covers, trays that hold what spills.",
    Level.PRACTICE: "Tongs, order of work, who may do it, keeping clean.",
    Level.PROTECTION: "What remains for gloves, goggles and apron.",
}


class _Later(Optional):
    """May be left empty while it is a draft; it has to be there before approval, so it is not called optional."""

    def __init__(self) -> None:
        super().__init__()
        self.field_flags = {}


_LINE_LATER = [_Later(), _LINE[1]]
_TEXT_LATER = [_Later(), _TEXT[1]]


class DayField(DateField):
    def process_formdata(self, valuelist: list[str]) -> None:
        if not any(text.strip() for text in valuelist):
            self.data = None
            return
        try:
            super().process_formdata(valuelist)
        except ValueError:
            raise ValueError("Write the day as year-month-day, such as 2026-06-03.") from None


class ProductsForm(LabForm):
    products = SelectMultipleField("Products handled as supplied", [InputRequired("Tick a product.")], coerce=int)
    title = StringField(
        "What it is called",
        [Optional(), Length(max=Assessment.TITLE_LENGTH, message=_TOO_LONG)],
        description="Such as: Making up developer from concentrate. Left empty, it is named after the first product.",
    )

    def offer(self, products: Sequence[Product]) -> None:
        self.products.choices = [SelectChoice(one.id, f"{one.name}, {one.supplier}") for one in products]


class HazardForm(LabForm):
    """`hazard` is the key of a template, or empty for a hazard that has none."""

    hazard = HiddenField()
    title = StringField(
        "Another hazard of the room",
        [Optional(), Length(max=Assessment.TITLE_LENGTH, message=_TOO_LONG)],
        description="One that is not in the list, such as: Hot water from the boiler.",
        id="hazard-title",  # on the page of another form with a title
    )


class _ReadForm(LabForm):
    """Says which edition of a version was read."""

    edition = HiddenField()

    @property
    def seen_edition(self) -> int | None:
        typed = self.edition.data or ""
        return int(typed) if typed.isdecimal() else None


class VersionForm(_ReadForm):
    """A version; `version_form` adds the fields of each substance."""

    task = TextAreaField("What is done", _TEXT_LATER, description="In plain words, with what can go wrong.")
    who = SelectMultipleField(
        "Who may be harmed",
        [_Later()],
        coerce=Who,
        choices=[SelectChoice(one.value, one.value.capitalize()) for one in Who],
    )
    how_many = IntegerField(
        "How many people at once",
        [_Later(), NumberRange(1, MOST_PEOPLE, "Enter a whole number from %(min)d to %(max)d.")],
    )
    routes = SelectMultipleField(
        "How it reaches a person",
        [_Later()],
        coerce=Route,
        choices=[SelectChoice(one.value, one.value.capitalize()) for one in Route],
    )
    frequency = StringField("How often", _LINE_LATER, description="Such as: twice a week.")
    duration = StringField("How long each time", _LINE_LATER)
    existing_controls = TextAreaField("In place already", _TEXT_LATER, description="What keeps people safe today.")
    glove_material = StringField("Gloves", _LINE, description="Material and thickness, such as: nitrile, 0.2 mm.")
    glove_minutes = IntegerField(
        "Breakthrough time",
        [Optional(), NumberRange(1, MOST_GLOVE_MINUTES, "Enter whole minutes from %(min)d to %(max)d.")],
    )
    glove_source = StringField("Where that is said", _LINE, description="Such as: as the glove maker's data says.")
    air_changes = FloatField(
        "Air changes of the room per hour",
        [Optional(), NumberRange(0, MOST_AIR_CHANGES, f"Enter a number from 0 to {MOST_AIR_CHANGES}.")],
    )
    air_changes_source = StringField("How that is known", _LINE, description="Such as: the last extraction test.")
    has_surveillance = BooleanField("Health surveillance", description="Only that it is done; findings are kept apart.")
    surveillance_reason = TextAreaField("Remark on it", _TEXT, description="A reason where it is declined.")
    first_aid = TextAreaField("First aid", _TEXT_LATER, description="What to do first comes first.")
    spill = TextAreaField("Spill, or when something happens", _TEXT)
    storage = TextAreaField("Storage", _TEXT)
    disposal = TextAreaField("Disposal", _TEXT)
    residual = RadioField(
        "Risk that is left",
        [_Later()],
        choices=[SelectChoice(one.value, one.value.capitalize()) for one in Residual],
        validate_choice=False,
    )
    residual_reason = TextAreaField("Why it is judged so", _TEXT_LATER)
    under_18 = RadioField(
        "Open to people under 18",
        [_Later()],
        choices=[SelectChoice(one.value, one.value.capitalize()) for one in Under18],
        validate_choice=False,
        description="For this task, as assessed.",
    )
    under_18_with = StringField("With whom", _LINE, description="Such as: an instructor in the room.")
    review_on = DayField("Next review", [_Later()], description="A year from now is usual (common practice).")

    substances: Sequence[AssessedSubstance] = ()

    def controls_of(self, level: Level) -> TextAreaField:
        found: TextAreaField = self[f"controls_{level.name.lower()}"]
        return found

    @property
    def by_level(self) -> list[TextAreaField]:
        return [self.controls_of(level) for level in Level]

    @property
    def by_substance(self) -> list[dict[str, Any]]:
        """What the template shows of each substance: its row and its fields."""
        return [
            {
                "row": one,
                "named": _named(one),
                **{name: self[f"{name}_{one.id}"] for name in ("amount", "spread", "approach", "because")},
            }
            for one in self.substances
        ]

    def content(self) -> Content:
        """All that was typed."""
        air = self.air_changes.data
        texts: dict[str, str] = {name: self[name].data or "" for name in Content.TEXTS}
        return Content(
            **texts,
            who=frozenset(self.who.data or ()),
            how_many=self.how_many.data,
            routes=frozenset(self.routes.data or ()),
            air_changes_tenths=None if air is None else round(air * 10),
            glove_minutes=self.glove_minutes.data,
            has_surveillance=self.has_surveillance.data,
            residual=Residual(self.residual.data) if self.residual.data in set(Residual) else None,
            under_18=Under18(self.under_18.data) if self.under_18.data in set(Under18) else None,
            review_on=self.review_on.data,
            controls=tuple(self._controls()),
            choices=tuple(self._choices()),
        )

    def _controls(self) -> Iterator[tuple[Level, str]]:
        for level in Level:
            for line in (self.controls_of(level).data or "").splitlines():
                if line.strip():
                    yield level, line.strip()

    def _choices(self) -> Iterator[Choice]:
        for one in self.substances:
            yield Choice(
                substance_id=one.id,
                amount=self[f"amount_{one.id}"].amount,
                spread=self[f"spread_{one.id}"].data,
                approach=self[f"approach_{one.id}"].data or None,
                because=self[f"because_{one.id}"].data or "",
            )


def version_form(version: Version) -> VersionForm:
    """Return the form of a version, filled in with what it says, with the fields of each of its substances."""
    fields: dict[str, Any] = {
        f"controls_{level.name.lower()}": TextAreaField(words, _TEXT, description=f"{_HINTS[level]} One a line.")
        for level, words in LEVELS.items()
    }
    filled: dict[str, Any] = {
        **{name: getattr(version, name) for name in Content.PLAIN},
        "who": [Who(one) for one in version.who.split(";") if one],
        "routes": [Route(one) for one in version.routes.split(";") if one],
        "air_changes": None if version.air_changes_tenths is None else version.air_changes_tenths / 10,
        "edition": str(version.edition),
    }
    for level in Level:
        lines = [one.text for one in version.controls if one.level is level]
        filled[f"controls_{level.name.lower()}"] = "\n".join(lines)
    for one in version.substances:
        fields |= _substance_fields(one)
        filled |= {
            f"amount_{one.id}": show(one.amount, one.unit),
            f"spread_{one.id}": one.spread,
            f"approach_{one.id}": one.chosen_approach or AS_CALCULATED,
            f"because_{one.id}": one.chosen_because,
        }
    form: VersionForm = type("VersionFormHere", (VersionForm,), fields)(data=filled)
    form.substances = version.substances
    return form


def _named(one: AssessedSubstance) -> str:
    return f"{one.name}, {AS_SUPPLIED if one.water_parts_milli is None else show_dilution(one.water_parts_milli)}"


def _substance_fields(one: AssessedSubstance) -> dict[str, Any]:
    """Four fields; their labels name the substance, since a page may hold many."""
    required = [InputRequired(f"Enter how much {one.name} is handled in one go.")]
    if one.unit is Unit.UL:
        amount: Any = VolumeField(
            "Amount in one go", required, unit="mL", description=f"{_AMOUNT} For litres write 2.5 L."
        )
    else:
        amount = MassField("Amount in one go", required, unit="g", description=_AMOUNT)
    kind = "Vapour" if one.unit is Unit.UL else "Dust"
    return {
        f"amount_{one.id}": amount,
        f"spread_{one.id}": SelectField(
            kind,
            coerce=Spread,
            choices=[SelectChoice(each.value, each.value.capitalize()) for each in spreads_of(one.unit)],
        ),
        f"approach_{one.id}": SelectField(
            "Control approach",
            coerce=int,
            choices=[
                SelectChoice(AS_CALCULATED, f"As calculated: {one.approach}. {approach_in_words(one.approach)}"),
                *(
                    SelectChoice(number, f"{number}. {approach_in_words(number)}")
                    for number in range(1, 5)
                    if number != one.approach
                ),
            ],
        ),
        f"because_{one.id}": TextAreaField(
            "Reason for another approach",
            _TEXT,
            description="Such as: diluted, hands kept out with tongs, two minutes a print.",
        ),
    }


class ApprovalForm(_ReadForm):
    because = TextAreaField(
        "Why nobody else can approve it",
        [Optional(), Length(max=Assessment.REASON_LENGTH, message=_TOO_LONG)],
        description="You wrote it yourself. Such as: a one-person lab.",
    )
    outside_name = StringField(
        "Name",
        [Optional(), Length(max=Person.NAME_LENGTH, message=_TOO_LONG)],
        description="Of somebody outside the lab who approved it.",
    )
    outside_organisation = StringField("Organisation", _LINE)


class SendBackForm(LabForm):
    because = TextAreaField(
        "What has to be put right",
        [
            InputRequired("Write what has to be put right."),
            Length(max=Assessment.REASON_LENGTH, message=_TOO_LONG),
        ],
    )


class WithdrawForm(LabForm):
    because = TextAreaField(
        "Why it is withdrawn",
        [InputRequired("Write why it is withdrawn."), Length(max=Assessment.REASON_LENGTH, message=_TOO_LONG)],
        description="Such as: the process is not used here any more.",
    )


class ActionForm(LabForm):
    text = StringField(
        "What has to be done",
        [InputRequired("Write what has to be done."), Length(max=Action.TEXT_LENGTH, message=_TOO_LONG)],
    )
    owner = SelectField("Who does it", [InputRequired("Choose who does it.")], coerce=int)
    due_on = DayField("By when", [InputRequired("Choose the day.")])

    def offer(self, people: Sequence[Person]) -> None:
        self.owner.choices = [SelectChoice(one.id, one.name) for one in people]

    @property
    def day(self) -> date:
        return self.due_on.data or date.max


class FinishForm(LabForm):
    note = StringField(
        "What was done",
        [InputRequired("Write what was done."), Length(max=Action.TEXT_LENGTH, message=_TOO_LONG)],
    )
