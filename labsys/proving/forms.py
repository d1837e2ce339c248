"""What people type of washes and safelights."""

from collections.abc import Sequence
from decimal import Decimal

from wtforms import IntegerField, RadioField, SelectField, StringField
from wtforms.validators import InputRequired, Length, NumberRange, Optional

from labsys.baths.check_forms import DENSITY_MESSAGE, ReadingField, hundredths
from labsys.baths.models import Bath, Work
from labsys.chemistry.bath_rules import Stain
from labsys.chemistry.errors import CalculationError
from labsys.chemistry.sizes import MATERIAL_NAMES, Material
from labsys.forms import FigureField, InstantField, LabForm, complain, options
from labsys.places.models import Station
from labsys.proving.fog import safe_seconds
from labsys.proving.models import UG_PER_G, SafelightTest, WashTest
from labsys.proving.service import LightFound, WashFound

_STAINS = {Stain.NONE: "Nothing to be seen", Stain.FAINT: "A faint tint", Stain.PLAIN: "A plain stain: not washed"}
LONGEST_STEP_MIN = 60
STEPS = 5


def _micrograms(value: Decimal) -> str:
    return f"{value:f} µg/cm² would be {float(value) / 100:g} g/m²."


class WashForm(LabForm):
    material = RadioField("What was tested", [InputRequired("Choose what was tested.")])
    piece = StringField(
        "Which film or paper, and how it was washed",
        [InputRequired("Say which, so that the test can be told from others."), Length(max=WashTest.PIECE_LENGTH)],
    )
    bath_id = SelectField("Fixer it went through", coerce=int)
    stain = RadioField(
        "What the drop left",
        [Optional()],
        choices=options(_STAINS),
        description="One drop of silver nitrate on the blotted white margin, rinsed after two minutes, judged at once.",
    )
    measured = ReadingField(
        "Or measured by a laboratory",
        low=0,
        high=WashTest.MOST_G_PER_M2,
        message=f"Enter thiosulfate in g/m², from 0 to {WashTest.MOST_G_PER_M2}.",
        names=("g/m²", "g/m2"),
        instead=_micrograms,
        scale=UG_PER_G,
        unit="g/m²",
        description="By ISO 18917, within 14 days of the wash. 1 µg/cm² is 0.01 g/m².",
    )
    when = InstantField("When", [Optional()], description="Leave empty for now.")

    def offer(self, work: Work, fixers: Sequence[Bath]) -> None:
        """Offer the materials of the line and its fixers."""
        self.material.choices = [(material.value, MATERIAL_NAMES[material]) for material in work.materials]
        known = [(bath.id, f"{bath.name} {bath.code}") for bath in fixers]
        self.bath_id.choices = [(0, "Not known"), *known]

    def validate(self, extra_validators: object = None) -> bool:
        is_valid = bool(super().validate(extra_validators))
        if is_valid and (not self.stain.data) == (self.measured.amount is None):
            complain(self.stain, "Choose what the drop left, or enter what was measured: one of the two.")
        return is_valid and not self.errors

    @property
    def found(self) -> WashFound:
        """What was found; only of a valid form."""
        return WashFound(
            material=Material(self.material.data),
            piece=self.piece.data or "",
            bath_id=self.bath_id.data or None,
            stain=Stain(self.stain.data) if self.stain.data else None,
            ug_per_m2=self.measured.amount,
        )


class ApproveForm(LabForm):
    """The figure that somebody approves, as the page showed it."""

    water_parts_milli = IntegerField(validators=[InputRequired("Open this page again.")])
    material = SelectField(choices=options(MATERIAL_NAMES))
    per_litre = IntegerField(validators=[InputRequired("Open this page again.")])


class SafelightForm(LabForm):
    station_id = SelectField("Place", coerce=int)
    paper = StringField(
        "Which paper or film",
        [InputRequired("Say which: each has a safe time of its own."), Length(max=SafelightTest.WORDS_LENGTH)],
    )
    lamp = StringField(
        "Lamp and filter", [InputRequired("Say which lamp and filter."), Length(max=SafelightTest.WORDS_LENGTH)]
    )
    distance_cm = IntegerField(
        "Distance in cm",
        [InputRequired("Enter how far the lamp was."), NumberRange(1, 1000, "Enter centimetres, from 1 to 1000.")],
    )
    needed = FigureField(
        "Longest that it is handled there, minutes", [Optional()], scale=60, highest=LONGEST_STEP_MIN, unit="min"
    )
    clean = StringField(
        "Steps that show no change, minutes", [Optional()], description="With spaces between, such as 1 3."
    )
    changed = StringField("Steps that show a change, minutes", [Optional()], description="Such as 7; empty: none.")
    gain = ReadingField(
        "Or of film already exposed: density gained in two minutes",
        low=0,
        high=4,
        message=DENSITY_MESSAGE,
        instead=hundredths,
    )
    when = InstantField("When", [Optional()], description="Leave empty for now.")

    def offer(self, stations: Sequence[Station]) -> None:
        self.station_id.choices = [(station.id, station.name) for station in stations]

    def validate(self, extra_validators: object = None) -> bool:
        is_valid = bool(super().validate(extra_validators))
        self.steps: dict[int, bool] = {}
        for field, is_changed in ((self.clean, False), (self.changed, True)):
            for typed in (field.data or "").split():
                seconds = _seconds(typed)
                if seconds is None or seconds in self.steps:
                    complain(field, f"“{typed}”: write each step once, in minutes up to {LONGEST_STEP_MIN}.")
                else:
                    self.steps[seconds] = is_changed
        if is_valid and not self.errors:
            self._judge()
        return is_valid and not self.errors

    def _judge(self) -> None:
        if bool(self.steps) == (self.gain.amount is not None):
            complain(self.clean, "Enter the steps of the coins, or what the film gained: one of the two.")
        elif self.steps and self.needed.amount is None:
            complain(self.needed, "Enter how long paper is handled there: the light has to be safe for as long.")
        else:
            try:
                self.clean_s, self.changed_s = safe_seconds(self.steps)
            except CalculationError as error:
                words = str(error)
                complain(self.clean, f"{words[:1].upper()}{words[1:]}.")

    @property
    def found(self) -> LightFound:
        """What was found; only of a valid form."""
        is_coins = bool(self.steps)
        return LightFound(
            paper=self.paper.data or "",
            lamp=self.lamp.data or "",
            distance_cm=self.distance_cm.data or 0,
            clean_s=self.clean_s if is_coins else None,
            changed_s=self.changed_s if is_coins else None,
            needed_s=self.needed.amount if is_coins else None,
            gain_milli=self.gain.amount,
        )


def _seconds(typed: str) -> int | None:
    """Minutes as typed, in whole seconds; None for what is no time."""
    try:
        minutes = Decimal(typed.replace(",", "."))
    except ArithmeticError:
        return None
    return round(minutes * 60) if minutes.is_finite() and 0 < minutes <= LONGEST_STEP_MIN else None
