"""Questions a person may ask at the bench, each a form sent by GET, so that the address holds the question."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from typing import Any, ClassVar

from wtforms import Field, SelectField
from wtforms.fields.choices import SelectChoice  # type: ignore[attr-defined]  # newer than its stubs

from labsys.bench.fields import HOW_TO_WRITE, DilutionField, NumberField, WrittenVolumeField
from labsys.bench.results import Answer, WhichOne, which_reading
from labsys.chemistry.sizes import MATERIAL_NAMES, SIZES, Material, Size, size_of
from labsys.equipment.rules import Instruments
from labsys.forms import LabForm
from labsys.labware.models import OwnedCylinder

MINUTES_OF_A_DAY = 1440
NONE_ENTERED = Instruments()


def dilution_field(label: str = "Dilution", **kwargs: Any) -> DilutionField:
    return DilutionField(label, description=HOW_TO_WRITE, **kwargs)


def volume_field(label: str) -> WrittenVolumeField:
    return WrittenVolumeField(label, description="With its unit: 2.5 L, 350 mL or 32 US fl oz.")


def count_field(label: str, high: int, **kwargs: Any) -> NumberField:
    return NumberField(label, low=1, high=high, whole=True, **kwargs)


def choice_field(label: str, choices: Iterable[tuple[str, str]], **kwargs: Any) -> SelectField:
    """A list to choose from, the first of it chosen until another is."""
    offered = [SelectChoice(value, words) for value, words in choices]
    told = {"default": offered[0].value, "invalid_choice_message": "Choose one of the list.", **kwargs}
    return SelectField(label, choices=offered, **told)


class Question(LabForm):
    """One question. `key` stands in the address; several are on one page, so each prefixes the ids of its fields."""

    key: ClassVar[str]
    title: ClassVar[str]
    instruments: Instruments = NONE_ENTERED  # of the lab that asks
    submission_key = None  # type: ignore[assignment]  # nothing is saved

    class Meta:
        csrf = False  # nor changed

    def __init__(self, *args: Any, **kwargs: Any):
        super().__init__(*args, **kwargs)
        for field in self:
            field.id = field.label.field_id = f"{self.key}-{field.name}"

    def validate(self, extra_validators: Any = None) -> bool:
        """Check each field, and then, once each can be used, what they say together."""
        if not super().validate(extra_validators):
            return False
        for field, message in self.conflicts():
            field.errors = [*field.errors, message]
        return not self.errors

    def conflicts(self) -> Iterator[tuple[Field, str]]:
        """What valid fields say that cannot be together: the field to put right, and how."""
        yield from ()

    def offer(self, instruments: Instruments) -> None:
        """Fill in how far off the lab's own instruments count, in a question nobody has asked yet."""
        if (field := self._fields.get("thermometer")) and instruments.thermometer:
            field.data, field.description = f"{instruments.thermometer.off:g}", instruments.thermometer.said
        if (field := self._fields.get("step")) and instruments.step_g:
            field.data = f"{instruments.step_g:g}"

    def work_out(self, owned: Sequence[OwnedCylinder], instruments: Instruments = NONE_ENTERED) -> Answer | WhichOne:
        """Answer a valid question, or ask back where a dilution has two meanings."""
        self.instruments = instruments
        for field in self:
            if isinstance(field, DilutionField) and field.ambiguous:
                volume = self._fields.get("volume") if field.name == "dilution" else None
                return which_reading(ambiguous=field.ambiguous, working_ml=volume.ml if volume else None)
        answer = self.answer(owned)
        thermometer = instruments.thermometer
        if thermometer and "thermometer" in self._fields and self._fields["thermometer"].value == thermometer.off:
            answer = replace(answer, remarks=(*answer.remarks, f"The thermometer: {thermometer.said}"))
        systems = [field.system for field in self if isinstance(field, WrittenVolumeField) and field.data]
        system = next(filter(None, systems), None)
        return answer.in_measures_of(system) if system else answer

    def answer(self, owned: Sequence[OwnedCylinder]) -> Answer:
        """Work out what was asked, with the cylinders entered in the chemical store."""
        raise NotImplementedError

    def address(self, **changes: str) -> dict[str, str]:
        """The arguments of the address that asks this question, with some of them changed."""
        return {"ask": self.key, **{field.name: field.data for field in self if field.data}, **changes}

    @property
    def unclear(self) -> str | None:
        """The name of the dilution that has two meanings, if there is one."""
        return next((field.name for field in self if isinstance(field, DilutionField) and field.ambiguous), None)


class LoadQuestion(Question):
    """A question about pieces of one size of one material."""

    material = choice_field("Material", [(str(material), MATERIAL_NAMES[material]) for material in Material])
    size = choice_field("Size", [(key, key) for key in SIZES])
    count = count_field("How many went through", 100_000)

    @property
    def work(self) -> tuple[Size, Material, int]:
        """What went through, of a valid question."""
        return size_of(key=self.size.data), Material(self.material.data), self.count.count

    def conflicts(self) -> Iterator[tuple[Field, str]]:
        size, material, _ = self.work
        if not size.is_made_in(material):
            yield self.size, f"{size.key} is not made in {MATERIAL_NAMES[material]}. Choose another."
