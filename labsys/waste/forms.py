"""What people may type about waste."""

import re
from collections.abc import Sequence
from typing import Any, cast

from wtforms import SelectField, SelectMultipleField, StringField, TextAreaField
from wtforms.validators import InputRequired, Length, Optional, ValidationError

from labsys.forms import InstantField, LabForm, MassField, VolumeField, given
from labsys.quantities import parse_volume
from labsys.waste.models import Collection, Pour, WasteContainer, WasteStream
from labsys.waste.service import HandedOver

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


class PourForm(LabForm):
    volume = VolumeField(
        "How much",
        [InputRequired("Enter how much was poured in.")],
        unit="mL",
        description="As measured or read from the bottle. For litres write the unit too: 2.5 L.",
    )
    what = StringField(
        "What was poured",
        [InputRequired("Say what it was, such as: PQ developer 1+9, used once."), Length(max=Pour.WHAT_LENGTH)],
        description="Such as: PQ developer 1+9, used once.",
    )
    waste_code = SelectField("Kind of waste", [InputRequired("Choose the kind of waste.")])
    poured_at = InstantField("When", [Optional()], description="Leave it empty for just now.")


class ReleaseForm(LabForm):
    note = TextAreaField(
        "What was found and done",
        [InputRequired("Write what was found and what was done about it."), Length(max=400)],
        description="Who looked, what is in it, and why it may be used again.",
    )


class ContainerLevelForm(LabForm):
    found = LevelField(
        "What is in it now",
        [InputRequired("Enter how much is in it; 0 if it is empty.")],
        unit="L",
        description="Read from its scale. Write 0 if it is empty.",
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
