"""Fields of questions at the bench: numbers within a range, temperatures, dilutions, lines of a formula. What cannot be
meant is refused with the range that is allowed, never moved into it."""

import re
from typing import Any

from wtforms import StringField, TextAreaField
from wtforms.validators import Optional, ValidationError

from labsys.chemistry.celsius import LooksLikeFahrenheit, check_celsius
from labsys.chemistry.dilution import MOST_WATER_PARTS, AmbiguousDilution, Dilution, UnreadableDilution, parse_dilution
from labsys.chemistry.errors import OutOfRange
from labsys.chemistry.formulae import Ingredient, Unit
from labsys.chemistry.salts import Crystal, NoSuchHydrate, read_crystal
from labsys.forms import VolumeField, given
from labsys.processes.rules import read_duration
from labsys.quantities import MG_PER_G, QuantityError, System, parse_mass, read_customary
from labsys.records.errors import Refused

MOST_LINES = 20
HOW_TO_WRITE = "Write 1+6, 1+1+100, stock, 10 mL/L, 5 % or 1 in 10."
_NUMBER = re.compile(r"[+-]?[0-9]{1,9}(?:[.,][0-9]{1,9})?", re.ASCII)
_LINE = re.compile(r"(.{1,60}?)[\s,:;]+([0-9]{1,6}(?:[.,][0-9]{1,4})?)\s*(g|ml)", re.IGNORECASE | re.ASCII)
_PRICE = re.compile(r"(.{1,60}?)[\s,:;]+([0-9]{1,6}(?:[.,][0-9]{1,2})?)", re.ASCII)


class NotANumber(ValueError):
    """What was typed is no plain decimal number."""


def read_number(text: str) -> float:
    """Read a plain decimal number, with a point or a comma; "nan", "inf" and "1e3" are none. Raises NotANumber.

    >>> read_number("7,5")
    7.5
    """
    cleaned = text.strip().replace("−", "-")
    if _NUMBER.fullmatch(cleaned) is None:
        raise NotANumber(text)
    return float(cleaned.replace(",", "."))


class NumberField(StringField):
    """A number within a range. `amount` holds it once valid, None where it may be left empty and is."""

    def __init__(
        self,
        label: str,
        *,
        low: float,
        high: float,
        unit: str | None = None,
        above_low: bool = False,
        whole: bool = False,
        optional: bool = False,
        **kwargs: Any,
    ):
        super().__init__(label, [Optional()] if optional else [], **kwargs)
        self.low, self.high, self.unit = low, high, unit
        self.above_low, self.whole, self.optional = above_low, whole, optional
        self.amount: float | None = None

    @property
    def value(self) -> float:
        """The number, of a valid field that must be filled in."""
        return given(self.amount)

    @property
    def count(self) -> int:
        """The whole number, of a valid field that asks for one."""
        return int(self.value)

    @property
    def wanted(self) -> str:
        """What may be entered, as a sentence."""
        unit = f" {self.unit}" if self.unit else ""
        what = "a whole number" if self.whole else "a number"
        if self.above_low:
            return f"Enter {what} above {self.low:g}, up to {self.high:g}{unit}."
        return f"Enter {what} from {self.low:g} to {self.high:g}{unit}."

    def pre_validate(self, form: Any) -> None:
        if not self.data and self.optional:
            return
        try:
            value = read_number((self.data or "").removesuffix(self.unit or ""))
        except NotANumber:
            raise ValidationError(self.wanted) from None
        if self.whole and not value.is_integer():
            raise ValidationError(self.wanted)
        self.check(value)
        self.amount = value

    def check(self, value: float) -> None:
        """Raise ValidationError outside the range."""
        if not self.low <= value <= self.high or (self.above_low and value == self.low):
            raise ValidationError(self.wanted)


class CelsiusField(NumberField):
    """A temperature; degrees Fahrenheit are told apart and never taken for Celsius."""

    def __init__(self, label: str, *, low: float, high: float, **kwargs: Any):
        super().__init__(label, low=low, high=high, unit="°C", **kwargs)

    def check(self, value: float) -> None:
        try:
            check_celsius(name="temperature", value=value, low=self.low, high=self.high)
        except LooksLikeFahrenheit as error:
            raise ValidationError(
                f"That looks like °F: {value:g} °F is {error.celsius:.3g} °C. {self.wanted}"
            ) from error
        except OutOfRange:
            raise ValidationError(self.wanted) from None


class _TimeField(NumberField):
    """A time as a number in its own unit, or as the clock shows it."""

    unit_s = 1  # [s]
    example = "0:30"

    def pre_validate(self, form: Any) -> None:
        try:
            read_number(self.data or "")
        except NotANumber:
            self._read_clock()
        else:
            super().pre_validate(form)

    def _read_clock(self) -> None:
        if not self.data and self.optional:
            return
        try:
            self.amount = read_duration(self.data or "") / self.unit_s
        except Refused:
            raise ValidationError(f"{self.wanted} Or write it as {self.example}.") from None
        self.check(self.amount)


class MinutesField(_TimeField):
    """A time in minutes, or as the clock shows it: 9.5, 9:30 or 9 min 30 s."""

    unit_s = 60
    example = "9:30"

    def __init__(self, label: str, *, description: str = "", **kwargs: Any):
        told = f"{description} Minutes, or 9:30." if description else "Minutes, or 9:30."
        super().__init__(label, unit="min", description=told, **kwargs)


class SecondsField(_TimeField):
    """A time in seconds, or as the clock shows it: 30, 0:30 or 1 min 10 s."""

    def __init__(self, label: str, **kwargs: Any):
        super().__init__(label, unit="s", description="Seconds, or 0:30.", **kwargs)


class GramsField(NumberField):
    """A mass in grams, or with its unit: 350, 350 g or 1.2 kg."""

    def __init__(self, label: str, **kwargs: Any):
        super().__init__(label, unit="g", **kwargs)

    def pre_validate(self, form: Any) -> None:
        try:
            read_number(self.data or "")
        except NotANumber:
            self._read_with_its_unit()
        else:
            super().pre_validate(form)

    def _read_with_its_unit(self) -> None:
        if not self.data and self.optional:
            return
        try:
            self.amount = parse_mass(self.data or "") / MG_PER_G
        except QuantityError:
            raise ValidationError(f"{self.wanted} Or write it with its unit, such as 1.2 kg.") from None
        self.check(self.amount)


class WrittenVolumeField(VolumeField):
    """A volume that must be written with its unit."""

    def __init__(self, label: str, *, optional: bool = False, **kwargs: Any):
        super().__init__(label, [Optional()] if optional else [], **kwargs)
        self.optional = optional

    def pre_validate(self, form: Any) -> None:
        super().pre_validate(form)
        if self.amount is None and not self.optional:
            raise ValidationError("Enter a volume with its unit, such as 2.5 L or 350 mL.")

    @property
    def system(self) -> System | None:
        """Whose ounces and gallons it is written in, of a valid field; None for litres."""
        customary = read_customary(self.data or "")
        return customary.system if customary else None

    @property
    def ml(self) -> float:
        """The volume, of a valid field. [mL]"""
        return given(self.amount) / 1000


class DilutionField(StringField):
    """A dilution as the trade writes it. `ambiguous` holds the two readings of 1:N, and then there is no `dilution`."""

    def __init__(self, label: str, *, optional: bool = False, **kwargs: Any):
        super().__init__(label, [Optional()] if optional else [], **kwargs)
        self.optional = optional
        self.dilution: Dilution | None = None
        self.ambiguous: AmbiguousDilution | None = None

    @property
    def value(self) -> Dilution:
        """The dilution, of a valid field that must be filled in and has one meaning."""
        return given(self.dilution)

    def pre_validate(self, form: Any) -> None:
        if not self.data and self.optional:
            return
        try:
            self.dilution = parse_dilution(self.data or "")
        except AmbiguousDilution as two_readings:
            self.ambiguous = two_readings
        except UnreadableDilution:
            raise ValidationError(f"That cannot be read as a dilution. {HOW_TO_WRITE}") from None
        except OutOfRange:
            raise ValidationError(f"Enter from stock (no water) to 1+{MOST_WATER_PARTS}.") from None


class _LinesField(TextAreaField):
    """One thing a line; `read` is called with each, and says with a ValidationError what is wrong with it."""

    def pre_validate(self, form: Any) -> None:
        lines = [line.strip() for line in (self.data or "").splitlines() if line.strip()]
        if len(lines) > MOST_LINES:
            raise ValidationError(f"Enter up to {MOST_LINES} lines.")
        for line in lines:
            self.read(line)

    def read(self, line: str) -> None:
        raise NotImplementedError


class IngredientsField(_LinesField):
    """The lines of a formula, each a name and an amount in grams or millilitres per litre."""

    def __init__(self, label: str, **kwargs: Any):
        super().__init__(label, [Optional()], **kwargs)
        self.ingredients: list[Ingredient] = []

    def read(self, line: str) -> None:
        match = _LINE.fullmatch(line)
        if match is None or not float(match[2].replace(",", ".")):
            raise ValidationError(
                f"“{line[:60]}”: write a name and an amount above 0, such as metol 2 g or acid 32 mL."
            )
        unit = Unit.GRAM if match[3].lower() == "g" else Unit.MILLILITRE
        self.ingredients.append(Ingredient(match[1].strip(), float(match[2].replace(",", ".")), unit))


class CrystalsField(_LinesField):
    """Salts with the water of crystallisation they have in the jar, one a line."""

    def __init__(self, label: str, **kwargs: Any):
        super().__init__(label, [Optional()], **kwargs)
        self.crystals: list[Crystal] = []

    def read(self, line: str) -> None:
        try:
            crystal = read_crystal(line)
        except NoSuchHydrate as error:
            raise ValidationError(f"“{line[:60]}”: {error}.") from error
        if crystal is None:
            raise ValidationError(f"“{line[:60]}” is not a salt that is sold with different water of crystallisation.")
        if crystal.waters is None:
            raise ValidationError(f"“{line[:60]}”: say which, {crystal.kinds}.")
        self.crystals.append(crystal)


class PricesField(_LinesField):
    """Prices per kilogram, each a name and a number; `prices` holds them by name in lower case."""

    def __init__(self, label: str, **kwargs: Any):
        super().__init__(label, [Optional()], **kwargs)
        self.prices: dict[str, float] = {}

    def read(self, line: str) -> None:
        match = _PRICE.fullmatch(line)
        if match is None:
            raise ValidationError(f"“{line[:60]}”: write a name and its price for a kilogram, such as metol 90.")
        self.prices[match[1].strip().lower()] = float(match[2].replace(",", "."))
