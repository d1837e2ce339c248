"""Fields and small helpers of the chemical store's forms."""

import re
from collections.abc import Callable, Mapping
from decimal import Decimal
from typing import Any, TypeVar

from wtforms import Field, StringField
from wtforms.fields import DateField
from wtforms.validators import ValidationError

from labsys.chemistry.dilution import Dilution, parse_dilution
from labsys.chemistry.errors import CalculationError, OutOfRange
from labsys.hazards.errors import BadCas, UnreadableConcentration
from labsys.records.errors import Refused
from labsys.stock import rules

T = TypeVar("T")

_FIGURE = re.compile(r"[0-9]{1,9}(?:[.,][0-9]{1,9})?")


def options(names: Mapping[Any, str], *, first: str | None = None) -> dict[str, Any]:
    """What can be chosen, as value and words; `first` stands for no choice."""
    return {**({} if first is None else {"": first}), **names}


class FigureField(StringField):
    """A number held in `amount` as whole parts of `1 / scale`, so that 1.05 g/mL is 1050; `data` stays as typed."""

    def __init__(
        self, label: str, validators: Any = (), *, scale: int = 1, highest: int, unit: str | None = None, **kwargs: Any
    ):
        super().__init__(label, validators, **kwargs)
        self.scale = scale
        self.highest = highest
        self.unit = unit
        self.amount: int | None = None

    def pre_validate(self, form: Any) -> None:
        if not self.data:
            return
        if not _FIGURE.fullmatch(self.data):
            raise ValidationError(f"{self.label.text}: write a number above zero, without a unit.")
        amount = Decimal(self.data.replace(",", ".")) * self.scale
        if not 0 < amount <= self.highest * self.scale:
            raise ValidationError(f"{self.label.text}: that must be above zero and at most {self.highest}.")
        if amount != int(amount):
            raise ValidationError(f"{self.label.text}: use fewer decimals.")
        self.amount = int(amount)


class DayField(DateField):
    """A day on the calendar."""

    def process_formdata(self, valuelist: list[str]) -> None:
        try:
            super().process_formdata([text.strip() for text in valuelist])
        except ValueError:
            raise ValueError(f"{self.label.text}: write a day of the calendar, such as 2026-03-31.") from None


def read_dilution(text: str) -> int:
    """Read a dilution into thousandths of a part of water. Raises CalculationError or ProductRefused."""
    return rules.milli_of_dilution(parse_dilution(text))


def show_dilution(water_parts_milli: int) -> str:
    dilution: Dilution = rules.dilution_of_milli(water_parts_milli)
    return str(dilution)


def parsed(field: Field, read: Callable[[str], T]) -> T | None:
    """Read what was typed in a field; what cannot be read is complained of at the field."""
    if not field.data:
        return None
    try:
        return read(field.data)
    except BadCas as error:
        complain(field, f"{error.text} is not a CAS number: {error.reason}. Copy it from section 3 of the SDS.")
    except UnreadableConcentration as error:
        complain(field, f"Content {error.text}: {error.reason}.")
    except OutOfRange:
        complain(field, f"{field.data} is weaker than any photographic solution. Check it.")
    except (Refused, CalculationError) as error:
        complain(field, str(error))
    return None


def complain(field: Field, message: str) -> None:
    field.errors = [*field.errors, message]
