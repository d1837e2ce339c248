"""What a person may type about assessments."""

from collections.abc import Iterable, Iterator, Sequence
from enum import StrEnum
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
from wtforms.validators import DataRequired, InputRequired, Length, NumberRange, Optional

from labsys.forms import LabForm, MassField, PlannedDayField, VolumeField, options
from labsys.hazards.banding import Spread, approach_in_words
from labsys.ledger.models import Unit
from labsys.ledger.rules import show
from labsys.people.models import Person
from labsys.products.models import Product
from labsys.risk.handling import spreads_of
from labsys.risk.models import Action, AssessedSubstance, Assessment, Level, Residual, Route, Under18, Version, Who
from labsys.risk.reading import LEVELS, name_and_strength
from labsys.risk.rules import Content, Judgement

AS_CALCULATED = 0
MOST_PEOPLE = 500
MOST_AIR_CHANGES = 100
MOST_GLOVE_MINUTES = 480  # the highest level of EN 16523-1 (from memory)
_AMOUNT = "Filled in as for a litre of working solution: put in what you handle."
_LINE = [Optional(), Length(max=Version.LINE_LENGTH)]
_TEXT = [Optional(), Length(max=Version.TEXT_LENGTH)]
_REASON = Length(max=Assessment.REASON_LENGTH)
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


def _values(kinds: Iterable[StrEnum]) -> dict[str, Any]:
    return options({kind.value: kind.value.capitalize() for kind in kinds})


class ProductsForm(LabForm):
    products = SelectMultipleField("Products handled as supplied", [InputRequired("Tick a product.")], coerce=int)
    title = StringField(
        "What it is called",
        [Optional(), Length(max=Assessment.TITLE_LENGTH)],
        description="Such as: Making up developer from concentrate. Left empty, it is named after the first product.",
    )

    def offer(self, products: Sequence[Product]) -> None:
        self.products.choices = options({product.id: f"{product.name}, {product.supplier}" for product in products})


class HazardForm(LabForm):
    """`hazard` is the key of a template, or empty for a hazard that has none."""

    hazard = HiddenField()
    title = StringField(
        "Another hazard of the room",
        [Optional(), Length(max=Assessment.TITLE_LENGTH)],
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
    who = SelectMultipleField("Who may be harmed", [_Later()], coerce=Who, choices=_values(Who))
    how_many = IntegerField(
        "How many people at once",
        [_Later(), NumberRange(1, MOST_PEOPLE, "Enter a whole number from %(min)d to %(max)d.")],
    )
    routes = SelectMultipleField("How it reaches a person", [_Later()], coerce=Route, choices=_values(Route))
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
    residual = RadioField("Risk that is left", [_Later()], choices=_values(Residual), validate_choice=False)
    residual_reason = TextAreaField("Why it is judged so", _TEXT_LATER)
    under_18 = RadioField(
        "Open to people under 18",
        [_Later()],
        choices=_values(Under18),
        validate_choice=False,
        description="For this task, as assessed.",
    )
    under_18_with = StringField("With whom", _LINE, description="Such as: an instructor in the room.")
    review_on = PlannedDayField("Next review", [_Later()], description="A year from now is usual (common practice).")

    substances: Sequence[AssessedSubstance] = ()

    def controls_of(self, level: Level) -> TextAreaField:
        field: TextAreaField = self[f"controls_{level.name.lower()}"]
        return field

    @property
    def by_level(self) -> list[TextAreaField]:
        return [self.controls_of(level) for level in Level]

    @property
    def by_substance(self) -> list[dict[str, Any]]:
        """What the template shows of each substance: its row and its fields."""
        return [
            {
                "row": row,
                "named": name_and_strength(row),
                **{name: self[f"{name}_{row.id}"] for name in ("amount", "spread", "approach", "because")},
            }
            for row in self.substances
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
            judgements=tuple(self._judgements()),
        )

    def _controls(self) -> Iterator[tuple[Level, str]]:
        for level in Level:
            for line in (self.controls_of(level).data or "").splitlines():
                if line.strip():
                    yield level, line.strip()

    def _judgements(self) -> Iterator[Judgement]:
        for row in self.substances:
            yield Judgement(
                substance_id=row.id,
                amount=self[f"amount_{row.id}"].amount,
                spread=self[f"spread_{row.id}"].data,
                approach=self[f"approach_{row.id}"].data or None,
                because=self[f"because_{row.id}"].data or "",
            )


def version_form(version: Version) -> VersionForm:
    """Return the form of a version, filled in with what it says, with the fields of each of its substances."""
    fields: dict[str, Any] = {
        f"controls_{level.name.lower()}": TextAreaField(words, _TEXT, description=f"{_HINTS[level]} One a line.")
        for level, words in LEVELS.items()
    }
    filled: dict[str, Any] = {
        **{name: getattr(version, name) for name in Content.PLAIN},
        "who": version.who.split(";") if version.who else [],
        "routes": version.routes.split(";") if version.routes else [],
        "air_changes": None if version.air_changes_tenths is None else version.air_changes_tenths / 10,
        "edition": str(version.edition),
    }
    for level in Level:
        lines = [control.text for control in version.controls if control.level is level]
        filled[f"controls_{level.name.lower()}"] = "\n".join(lines)
    for row in version.substances:
        fields |= _substance_fields(row)
        filled |= {
            f"amount_{row.id}": show(row.amount, row.unit),
            f"spread_{row.id}": row.spread,
            f"approach_{row.id}": row.chosen_approach or AS_CALCULATED,
            f"because_{row.id}": row.chosen_because,
        }
    form: VersionForm = type("VersionFormHere", (VersionForm,), fields)(data=filled)
    form.substances = version.substances
    return form


def _substance_fields(row: AssessedSubstance) -> dict[str, Any]:
    """Four fields; their labels name the substance, since a page may hold many."""
    required = [InputRequired(f"Enter how much {row.name} is handled in one go.")]
    amount: VolumeField | MassField
    if row.unit is Unit.UL:
        hint, kind = f"{_AMOUNT} For litres write 2.5 L.", "Vapour"
        amount = VolumeField("Amount in one go", required, unit="mL", description=hint)
    else:
        amount, kind = MassField("Amount in one go", required, unit="g", description=_AMOUNT), "Dust"
    approaches = {number: f"{number}. {approach_in_words(number)}" for number in range(1, 5) if number != row.approach}
    as_calculated = f"As calculated: {row.approach}. {approach_in_words(row.approach)}"
    return {
        f"amount_{row.id}": amount,
        f"spread_{row.id}": SelectField(kind, coerce=Spread, choices=_values(spreads_of(row.unit))),
        f"approach_{row.id}": SelectField(
            "Control approach", coerce=int, choices=options({AS_CALCULATED: as_calculated, **approaches})
        ),
        f"because_{row.id}": TextAreaField(
            "Reason for another approach",
            _TEXT,
            description="Such as: diluted, hands kept out with tongs, two minutes a print.",
        ),
    }


class ApprovalForm(_ReadForm):
    because = TextAreaField(
        "Why nobody else can approve it",
        [Optional(), _REASON],
        description="You wrote it yourself. Such as: a one-person lab.",
    )
    outside_name = StringField(
        "Name", [Optional(), Length(max=Person.NAME_LENGTH)], description="Of somebody outside the lab who approved it."
    )
    outside_organisation = StringField("Organisation", _LINE)


class SendBackForm(LabForm):
    because = TextAreaField("What has to be put right", [InputRequired("Write what has to be put right."), _REASON])


class WithdrawForm(LabForm):
    because = TextAreaField(
        "Why it is withdrawn",
        [InputRequired("Write why it is withdrawn."), _REASON],
        description="Such as: the process is not used here any more.",
    )


class ActionForm(LabForm):
    text = StringField(
        "What has to be done", [InputRequired("Write what has to be done."), Length(max=Action.TEXT_LENGTH)]
    )
    owner = SelectField("Who does it", [InputRequired("Choose who does it.")], coerce=int)
    due_on = PlannedDayField("By when", [InputRequired("Choose the day.")])

    def offer(self, people: Sequence[Person]) -> None:
        self.owner.choices = options({person.id: person.name for person in people})


class FinishForm(LabForm):
    note = StringField("What was done", [InputRequired("Write what was done."), Length(max=Action.TEXT_LENGTH)])


class FindingsForm(LabForm):
    version_id = SelectMultipleField("Given", [DataRequired("Choose what was given.")], coerce=int)
    given_to = StringField(
        "To whom",
        [InputRequired("Enter whom it was given to."), Length(max=Person.NAME_LENGTH)],
        description="Who answers for them.",
    )
