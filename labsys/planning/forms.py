"""What a person may ask of a plan; sent by GET, so that the address holds the plan."""

from collections.abc import Iterable, Sequence
from typing import Any

from wtforms import BooleanField, FloatField, HiddenField, IntegerField, SelectField
from wtforms.validators import InputRequired, NumberRange, Optional, ValidationError

from labsys.answers import row_key
from labsys.chemistry.sizes import SIZES, Material, size_of
from labsys.database import LARGEST_ROW
from labsys.forms import LabForm, VolumeField, given
from labsys.labware.models import WorkingVessel
from labsys.labware.rules import fill_for
from labsys.planning.asked import ANOTHER_FILM, AskedPlan
from labsys.planning.facts import Conditions
from labsys.planning.loads import MOST_PIECES
from labsys.processes.film_times import subject_in_words
from labsys.processes.models import FilmTime, Process, ProcessStep
from labsys.products.rules import show_dilution

_AS_THE_PROCESS = ""
_NOT_CHOSEN = ""


def _celsius(label: str, low: float, high: float, **kwargs: Any) -> FloatField:
    """A temperature; one that only Fahrenheit could mean is not taken for Celsius."""
    message = f"Enter degrees Celsius, from {low:g} to {high:g}."
    return FloatField(label, [Optional(), NumberRange(low, high, message)], **kwargs)


class PlanForm(LabForm):
    """Process, load and the temperatures of the day."""

    process_id = SelectField("Process", [InputRequired("Choose a process.")], coerce=row_key)
    size = SelectField("Size", [InputRequired("Choose a size.")], validate_choice=False)
    count = IntegerField(
        "How many",
        [
            InputRequired("Enter how many you will process."),
            NumberRange(1, MOST_PIECES, f"Enter a whole number from 1 to {MOST_PIECES}."),
        ],
        default=1,
    )
    vessel = SelectField("Tank or tray", [Optional()], default=_NOT_CHOSEN, validate_choice=False)
    volume = VolumeField("Volume", [Optional()], description="Left empty, what covers this load is taken.", unit="mL")
    dilution = SelectField("Developer", [Optional()], default=_AS_THE_PROCESS, validate_choice=False)
    film = SelectField("Film", [Optional()], default=_NOT_CHOSEN, validate_choice=False)
    celsius = _celsius("Developer today", 5, 60)
    room = _celsius("Room", 0, 45)
    cold = _celsius("Cold tap", 0, 45)
    hot = _celsius("Hot tap", 1, 65)
    blank = BooleanField("Leave the name open")
    booking_id = HiddenField()
    offered: Sequence[str] = ()
    dilutions: Sequence[tuple[str, str]] = ()
    films: Sequence[tuple[str, str]] = ()
    vessels: Sequence[WorkingVessel] = ()

    def offer(
        self,
        *,
        processes: Iterable[Process],
        process: Process | None,
        vessels: Sequence[WorkingVessel],
        film_times: Iterable[FilmTime],
    ) -> None:
        """Hand in processes, tanks and trays and, once a process is chosen, its sizes, dilutions and films."""
        self.process_id.choices = [(process.id, process.name) for process in processes]
        material = process.material if process else Material.FILM
        self.offered = [key for key, size in SIZES.items() if size.is_made_in(material)]
        self.size.choices = [(key, key) for key in self.offered]
        self.dilutions = _dilutions(process)
        self.dilution.choices = [(_AS_THE_PROCESS, "As the process says"), *self.dilutions]
        self.films = _films(film_times) if process and material is Material.FILM else []
        self.film.choices = [(_NOT_CHOSEN, "Not said"), *self.films]
        size = SIZES.get(self.size.data or "")
        self.vessels = [vessel for vessel in vessels if size is None or fill_for(vessel, size=size, count=1)]
        self.vessel.choices = [
            (_NOT_CHOSEN, "The smallest that takes it"),
            *((str(vessel.id), vessel.name) for vessel in self.vessels),
        ]

    def validate_size(self, field: SelectField) -> None:
        if field.data and field.data not in self.offered:
            raise ValidationError(f"This process is not for {field.data}. Choose a size.")

    def validate_dilution(self, field: SelectField) -> None:
        if field.data and field.data not in {value for value, _ in self.dilutions}:
            field.data = _AS_THE_PROCESS
            raise ValidationError("The data sheet of this developer does not give that dilution. Choose again.")

    def validate_film(self, field: SelectField) -> None:
        if field.data and field.data not in {value for value, _ in self.films}:
            field.data = _NOT_CHOSEN
            raise ValidationError("That film has no developing time in this developer any more. Choose again.")

    def validate_vessel(self, field: SelectField) -> None:
        if field.data and self.chosen_vessel is None:
            field.data = _NOT_CHOSEN
            raise ValidationError(f"No such tank or tray takes {self.size.data}. Choose again.")

    def validate_hot(self, field: FloatField) -> None:
        if field.data is not None and self.cold.data is not None and field.data <= self.cold.data:
            raise ValidationError("The hot tap has to be warmer than the cold one.")

    @property
    def chosen_vessel(self) -> WorkingVessel | None:
        """The tank or tray chosen, or None."""
        return next((vessel for vessel in self.vessels if str(vessel.id) == self.vessel.data), None)

    @property
    def booking_number(self) -> int | None:
        """The booking named in the address, or None."""
        text = self.booking_id.data or ""
        return int(text) if text.isascii() and text.isdigit() and int(text) <= LARGEST_ROW else None

    def asked(self) -> AskedPlan:
        """The plan asked for; only of a valid form."""
        return AskedPlan(
            process_id=self.process_id.data,
            size=size_of(key=self.size.data),
            count=given(self.count.data),
            volume_ul=self.volume.amount,
            vessel_id=self.chosen_vessel.id if self.chosen_vessel else None,
            water_parts_milli=int(self.dilution.data) if self.dilution.data else None,
            conditions=Conditions(
                developer_celsius=self.celsius.data,
                room_celsius=self.room.data,
                cold_celsius=self.cold.data,
                hot_celsius=self.hot.data,
            ),
            film=self.film.data or "",
            booking_id=self.booking_number,
            is_blank=self.blank.data,
        )


def _films(film_times: Iterable[FilmTime]) -> list[tuple[str, str]]:
    """Each film, exposure index and agitation once, by the first row that is about it; and one for all others."""
    first: dict[tuple[str, int, str], FilmTime] = {}
    for row in film_times:
        first.setdefault(row.subject, row)
    named = [(str(row.id), subject_in_words(row)) for row in first.values()]
    return [*named, (ANOTHER_FILM, "Another film or exposure index: not in the lab's table")]


def _dilutions(process: Process | None) -> list[tuple[str, str]]:
    """The dilutions on the data sheet of the developer of a process."""
    steps: list[ProcessStep] = process.steps if process else []
    product = next((step.product for step in steps if step.product and step.product.kind == "developer"), None)
    if product is None:
        return []
    return [
        (str(listed.water_parts_milli), f"{show_dilution(listed.water_parts_milli)}, {listed.use}")
        for listed in product.dilutions
    ]
