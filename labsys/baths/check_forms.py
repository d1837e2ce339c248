"""What people type of a test of a bath. What looks like another unit is asked back, with what it would come to."""

import re
from collections.abc import Callable
from decimal import Decimal
from typing import Any

from wtforms import BooleanField, RadioField, StringField
from wtforms.validators import InputRequired, Optional, ValidationError

from labsys.baths.models import Check, CheckKind
from labsys.baths.testing import Found
from labsys.chemistry.bath_rules import Colour, Stain
from labsys.chemistry.control_strips import Readings
from labsys.forms import InstantField, LabForm, given, options

MILLI = 1_000
DENSITY_MESSAGE = "Enter the density as the densitometer shows it, from 0 to 4."
_READ = re.compile(r"([-−]?[0-9]{1,9}(?:[.,][0-9]{1,9})?)\s*(\S.*)?")
_SHORTEST_CLEARING_S = 5  # from memory: no bath clears a film faster


class ReadingField(StringField):
    """What was read off, held in `amount` as whole parts of `1 / scale`; `data` stays as typed.

    `names` are the ways its unit may be typed. `instead` looks at a figure outside the range and says what it would be
    in the unit that it seems to be in, or nothing.
    """

    def __init__(
        self,
        label: str,
        validators: Any = (),
        *,
        low: float,
        high: float,
        message: str,
        names: tuple[str, ...] = (),
        instead: Callable[[Decimal], str] = lambda _: "",
        scale: int = MILLI,
        unit: str | None = None,
        **kwargs: Any,
    ):
        super().__init__(label, validators, **kwargs)
        self.scale = scale
        self.low, self.high, self.message = low, high, message
        self.names, self.instead = names, instead
        self.unit = unit
        self.amount: int | None = None

    def pre_validate(self, form: Any) -> None:
        if not self.data:
            return
        read = _READ.fullmatch(self.data)
        if read is None:
            raise ValidationError(f"Write a number, such as 4.5. {self.message}")
        if (typed := (read[2] or "").strip()) and typed.casefold() not in self.names:
            raise ValidationError(f"“{typed}” is another unit. {self.message}")
        value = Decimal(read[1].replace(",", ".").replace("−", "-"))
        if not self.low <= value <= self.high:
            raise ValidationError(" ".join(filter(None, (self.instead(value), self.message))))
        if value * self.scale != int(value * self.scale):
            raise ValidationError(f"{self.label.text}: use fewer decimals.")
        self.amount = int(value * self.scale)


def _minutes(value: Decimal) -> str:
    return f"No film clears in {value:f} s. {value:f} minutes would be {float(value * 60):g} s." if value > 0 else ""


def _fahrenheit(value: Decimal) -> str:
    celsius = (value - 32) / Decimal("1.8")
    return f"No bath is at {value:f} °C. {value:f} °F would be {celsius:.1f} °C." if 5 <= celsius <= 45 else ""


def _grams_per_litre(value: Decimal) -> str:
    return f"{value:f} g/L would be {value / MILLI:.3f}." if 980 <= value <= 1_600 else ""


def _milligrams(value: Decimal) -> str:
    return f"No fixer holds so much. {value:f} mg/L would be {value / MILLI:.3g} g/L." if value > 20 else ""


def hundredths(value: Decimal) -> str:
    """What a density would be that was typed without its point."""
    return f"{value:f} hundredths would be {value / 100:.2f}." if 4 < value <= 400 else ""


def _celsius() -> ReadingField:
    return ReadingField(
        "How warm it was",
        [InputRequired("Enter how warm the bath was as you read it: the reading moves with it.")],
        low=5,
        high=45,
        message="Enter degrees Celsius, from 5 to 45.",
        names=("c", "°c"),
        instead=_fahrenheit,
        unit="°C",
    )


def _density(label: str, description: str) -> ReadingField:
    return ReadingField(
        label,
        [InputRequired("Enter the density.")],
        low=0,
        high=4,
        message=DENSITY_MESSAGE,
        names=("d",),
        instead=hundredths,
        description=description,
    )


class CheckForm(LabForm):
    """One test of a bath; `found` is what it showed."""

    when = InstantField("When", [Optional()], description="Leave empty for now.")

    @property
    def found(self) -> Found:
        raise NotImplementedError


class ClearingForm(CheckForm):
    seconds = ReadingField(
        "Clearing time",
        [InputRequired("Enter the clearing time in seconds.")],
        low=_SHORTEST_CLEARING_S,
        high=Check.LONGEST_CLEARING_S,
        message=f"Enter the clearing time in seconds, from {_SHORTEST_CLEARING_S} to {Check.LONGEST_CLEARING_S}.",
        names=("s", "sec", "seconds"),
        instead=_minutes,
        unit="s",
        description="A piece of the film in use, until it is clear; in seconds.",
    )
    is_fresh = BooleanField(
        "Taken of the fresh bath", description="The later ones are held against it: twice as long is exhausted."
    )

    @property
    def found(self) -> Found:
        return Found(value_milli=given(self.seconds.amount), is_fresh=bool(self.is_fresh.data))


class PhForm(CheckForm):
    ph = ReadingField(
        "pH",
        [InputRequired("Enter the pH, from 0 to 14.")],
        low=0,
        high=14,
        message="Enter the pH, from 0 to 14: a meter's millivolts are not it.",
        names=("ph",),
        description="By meter or paper, at the temperature of the bath.",
    )
    celsius = _celsius()

    @property
    def found(self) -> Found:
        return Found(value_milli=given(self.ph.amount), milli_c=given(self.celsius.amount))


class GravityForm(CheckForm):
    gravity = ReadingField(
        "Specific gravity",
        [InputRequired("Enter the specific gravity, such as 1.085.")],
        low=0.98,
        high=1.6,
        message="Specific gravity has no unit and lies a little above 1: enter it as the hydrometer shows, such as "
        "1.085.",
        instead=_grams_per_litre,
        description="By hydrometer, read to 0.001. Take the sample from under the surface and let it stand.",
    )
    celsius = _celsius()

    @property
    def found(self) -> Found:
        return Found(value_milli=given(self.gravity.amount), milli_c=given(self.celsius.amount))


class SilverForm(CheckForm):
    silver = ReadingField(
        "Silver",
        [InputRequired("Enter what the strip shows, in g/L.")],
        low=0,
        high=20,
        message="Enter grams in a litre, from 0 to 20.",
        names=("g/l",),
        instead=_milligrams,
        unit="g/L",
        description="By a strip of silver test paper, against the colours on its box.",
    )

    @property
    def found(self) -> Found:
        return Found(value_milli=given(self.silver.amount))


class IndicatorForm(CheckForm):
    colour = RadioField(
        "Colour beside a fresh bath",
        [InputRequired("Choose how its colour looks beside a fresh bath.")],
        choices=options(
            {Colour.UNCHANGED: "The same as fresh", Colour.TURNING: "Turning", Colour.CHANGED: "Changed: exhausted"}
        ),
        coerce=Colour,
    )

    @property
    def found(self) -> Found:
        return Found(colour=given(self.colour.data))


class StripForm(CheckForm):
    fog = _density("Base and fog", "The clear step.")
    speed = _density("Speed point", "")
    middle = _density("Middle step", "")

    @property
    def found(self) -> Found:
        read = (given(field.amount) for field in (self.fog, self.speed, self.middle))
        return Found(strip=Readings(*read))


STAINS = {
    Stain.NONE: "Nothing to be seen",
    Stain.FAINT: "A faint tint, barely visible",
    Stain.PLAIN: "A plain stain: not fixed",
}


class StainForm(CheckForm):
    stain = RadioField(
        "What the drop left",
        [InputRequired("Choose what the drop left on the margin.")],
        choices=options(STAINS),
        coerce=Stain,
        description="On the blotted margin of a piece fixed in this bath, after two to three minutes.",
    )

    @property
    def found(self) -> Found:
        return Found(stain=given(self.stain.data))


CHECK_FORMS: dict[CheckKind, type[CheckForm]] = {
    CheckKind.CLEARING_TIME: ClearingForm,
    CheckKind.PH: PhForm,
    CheckKind.INDICATOR: IndicatorForm,
    CheckKind.GRAVITY: GravityForm,
    CheckKind.SILVER: SilverForm,
    CheckKind.STRIP: StripForm,
    CheckKind.STAIN: StainForm,
}
