"""The form all forms are made from, rows of it, and the fields of our own: volumes, masses, figures, days, instants."""

import re
from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any, ClassVar, TypeVar
from uuid import uuid4
from zoneinfo import ZoneInfo

from flask import g
from flask_wtf import FlaskForm
from wtforms import Field, FieldList, Form, FormField, HiddenField, StringField
from wtforms.fields import DateField, DateTimeLocalField
from wtforms.validators import InputRequired, Regexp, StopValidation, ValidationError

from labsys import clock
from labsys.chemistry.errors import CalculationError, OutOfRange
from labsys.hazards.errors import BadCas, UnreadableConcentration
from labsys.quantities import QuantityError, figure, parse_mass, parse_volume
from labsys.records.errors import Refused
from labsys.timetable.local_time import NoSuchLocalTime, to_instant
from labsys.timetable.period import Period

CLOCK_TOLERANCE = timedelta(minutes=2)  # a phone's clock may run ahead of ours


def strip(value: Any) -> Any:
    """Take white space from both ends, and the NUL that PostgreSQL does not store."""
    return value.replace("\0", "").strip() if isinstance(value, str) else value


def _key(typed: str | None) -> str:
    """A submission key as it was sent; a new one where none was, or none that can be kept."""
    key = strip(typed or "")
    return key if 8 <= len(key) <= 36 else str(uuid4())


def new_key() -> str:
    """A submission key for a form of one button, of which a page may have several."""
    return str(uuid4())


_TOO_OLD = "This page had been open too long. Open it again, then send it."
_NOT_ON_THE_LIST = "Choose what is on the list."
_NUMBER = "Write a number, such as 4.5."
# What a person is told where a form says nothing better, by what the form library would say.
MESSAGES = {
    "Choices cannot be None.": "There is nothing on this list to choose from.",
    "Field cannot be longer than %(max)d character.": "Use at most %(max)d character.",
    "Field cannot be longer than %(max)d characters.": "Use at most %(max)d characters.",
    "Field must be at least %(min)d character long.": "Use at least %(min)d character.",
    "Field must be at least %(min)d characters long.": "Use at least %(min)d characters.",
    "Field must be between %(min)d and %(max)d characters long.": "Use %(min)d to %(max)d characters.",
    "Field must be equal to %(other_name)s.": "Write the same as in “%(other_name)s”.",
    "Field must be exactly %(max)d character long.": "Use exactly %(max)d character.",
    "Field must be exactly %(max)d characters long.": "Use exactly %(max)d characters.",
    "Invalid CSRF Token.": _TOO_OLD,
    "Invalid Choice: could not coerce.": _NOT_ON_THE_LIST,
    "Invalid choice(s): one or more data inputs could not be coerced.": _NOT_ON_THE_LIST,
    "Invalid email address.": "Write an e-mail address, such as sol@example.org.",
    "Invalid field name '%s'.": "There is no field '%s' to compare this with.",
    "Not a valid choice.": _NOT_ON_THE_LIST,
    "Not a valid date value.": "Write the date as year, month, day, such as 2026-03-02.",
    "Not a valid datetime value.": "Write the date and time, such as 2026-03-02 09:30.",
    "Not a valid float value.": _NUMBER,
    "Not a valid integer value.": "Write a whole number, such as 12.",
    "Number must be at least %(min)s.": "Enter %(min)s or more.",
    "Number must be at most %(max)s.": "Enter %(max)s or less.",
    "Number must be between %(min)s and %(max)s.": "Enter a number from %(min)s to %(max)s.",
    "This field is required.": "Fill this in.",
    "'%(value)s' are not valid choices for this field.": "Choose what is on the list: '%(value)s' are not.",
    "'%(value)s' is not a valid choice for this field.": "Choose what is on the list: '%(value)s' is not.",
}


class _OurWords:
    """Stands where the form library looks for translations."""

    def gettext(self, message: Any) -> str:
        return MESSAGES.get(str(message), str(message))

    def ngettext(self, singular: str, plural: str, number: int) -> str:
        return self.gettext(singular if number == 1 else plural)


class _Meta:
    def bind_field(self, form: Any, unbound_field: Any, options: dict[str, Any]) -> Field:
        if not issubclass(unbound_field.field_class, FieldList | FormField):  # these hold fields, not text
            options["filters"] = [*unbound_field.kwargs.get("filters", []), strip]
        bound: Field = unbound_field.bind(form=form, **options)
        return bound

    def get_translations(self, form: Any) -> _OurWords:
        return _OurWords()


class PlainForm(Form):
    """Strips white space, and says our words: a part of another form, or one read by GET that changes nothing."""

    class Meta(_Meta):
        pass


def check_year(_: Any, field: Field) -> None:
    """Validate a day: its year was not mistyped."""
    if isinstance(field.data, date) and not 2000 <= field.data.year <= 2999:
        raise StopValidation("Check the year.")


class VersionField(HiddenField):
    """Which version of what it changes a form began from."""

    def __init__(self, **kwargs: Any):
        super().__init__(validators=[Regexp(r"[0-9]{1,9}\Z", message="Open this page again.")], **kwargs)

    def process_data(self, value: int | str | None) -> None:
        """Begin from a number as it is kept, or from what was typed."""
        super().process_data(None if value is None else str(value))

    @property
    def number(self) -> int:
        """Only of a valid field."""
        return int(self.data or "")


class LabForm(FlaskForm):  # type: ignore[misc]  # the package has no types
    """Strips white space, says our words, and carries a submission key so that a double tap acts once."""

    submission_key = HiddenField(filters=[_key])

    class Meta(_Meta):
        pass

    def values_of(self, *names: str) -> dict[str, Any]:
        """What a valid form holds in these fields, by their names; text that was not sent is empty."""
        fields = (self[name] for name in names)
        return {
            field.name: "" if field.data is None and isinstance(field, StringField) else field.data for field in fields
        }

    def refuse(self, refusal: Refused) -> None:
        """Show a refusal by its field where it names one, else at the top."""
        field = self._fields.get(refusal.field) if refusal.field else None
        if field is None:
            self.form_errors.append(str(refusal))
        else:
            field.errors = [*field.errors, str(refusal)]


class _QuantityField(StringField):
    """Holds the whole number of the smallest unit in `amount` once valid; `data` stays as typed."""

    parse: Callable[..., int]

    def __init__(self, label: str, validators: list[Any] | None = None, *, unit: str | None = None, **kwargs: Any):
        super().__init__(label, validators, **kwargs)
        self.unit = unit
        self.amount: int | None = None

    def pre_validate(self, form: Any) -> None:
        if not self.data or not self.data.strip():
            return
        try:
            self.amount = type(self).parse(self.data, unit=self.unit)
        except QuantityError as error:
            raise ValidationError(str(error)) from error


class VolumeField(_QuantityField):
    parse = staticmethod(parse_volume)


class MassField(_QuantityField):
    parse = staticmethod(parse_mass)


class InstantField(DateTimeLocalField):
    """A time on the lab's wall clock. Left empty it means just now; `instant` is UTC. The future is refused."""

    def __init__(self, label: str, validators: list[Any] | None = None, **kwargs: Any):
        super().__init__(label, validators, format=["%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S"], **kwargs)
        self.instant: datetime | None = None

    def process_formdata(self, valuelist: list[str]) -> None:
        if valuelist and not valuelist[0].strip():
            self.raw_data = None
            return
        try:
            super().process_formdata(valuelist)
        except ValueError:
            raise ValueError("Write the date and time as on the clock in the lab, or leave it empty for now.") from None

    def pre_validate(self, form: Any) -> None:
        now = clock.now()
        if self.data is None:
            self.instant = now
            return
        zone: ZoneInfo = g.zone
        try:
            instant = to_instant(self.data, zone=zone)
        except NoSuchLocalTime as error:
            raise ValidationError(f"{error} Check the time.") from error
        if instant > now + CLOCK_TOLERANCE:
            raise ValidationError("That is in the future. Enter when it happened, or leave it empty for now.")
        if instant < datetime(2000, 1, 1, tzinfo=UTC):
            raise ValidationError("That is too long ago. Check the year.")
        self.instant = min(instant, now)


_FIGURE = re.compile(r"[-−]?[0-9]{1,9}(?:[.,][0-9]{1,9})?")
T = TypeVar("T")


def options(names: Mapping[Any, str], *, first: str | None = None) -> dict[str, Any]:
    """What can be chosen, as value and words; `first` stands for no choice."""
    return {**({} if first is None else {"": first}), **names}


class FigureField(StringField):
    """A number held in `amount` as whole parts of `1 / scale`, so that 1.05 g/mL is 1050; `data` stays as typed.

    It is above zero unless a `lowest` below zero is named.
    """

    def __init__(
        self,
        label: str,
        validators: Any = (),
        *,
        scale: int = 1,
        lowest: int = 0,
        highest: int,
        unit: str | None = None,
        **kwargs: Any,
    ):
        super().__init__(label, validators, **kwargs)
        self.scale = scale
        self.lowest = lowest
        self.highest = highest
        self.unit = unit
        self.amount: int | None = None

    def process_data(self, value: int | str | None) -> None:
        """Begin from an amount as it is kept, or from what was typed."""
        super().process_data(figure(value, self.scale) if isinstance(value, int) else value)

    def pre_validate(self, form: Any) -> None:
        if not self.data:
            return
        kind = "number" if self.lowest else "number above zero"
        if not _FIGURE.fullmatch(self.data) or (self.data[0] in "-−" and not self.lowest):
            raise ValidationError(f"{self.label.text}: write a {kind}, without a unit.")
        amount = Decimal(self.data.replace(",", ".").replace("−", "-")) * self.scale
        above = amount >= self.lowest * self.scale if self.lowest else amount > 0
        if not above or amount > self.highest * self.scale:
            least = f"at least {self.lowest}" if self.lowest else "above zero"
            raise ValidationError(f"{self.label.text}: that must be {least} and at most {self.highest}.")
        if amount != int(amount):
            raise ValidationError(f"{self.label.text}: use fewer decimals.")
        self.amount = int(amount)


class DayField(DateField):
    """A day on the calendar."""

    unreadable = "{field}: write a day of the calendar, such as 2026-03-31."

    def process_formdata(self, valuelist: list[str]) -> None:
        try:
            super().process_formdata([text.strip() for text in valuelist])
        except ValueError:
            raise ValueError(self.unreadable.format(field=self.label.text)) from None


class PeriodForm(LabForm):
    """A period of whole days; sent by GET to look and by POST to issue."""

    first = DateField("From", [InputRequired("Choose the first day."), check_year], name="from")
    last = DateField("To, this day included", [InputRequired("Choose the last day."), check_year], name="to")

    def validate_last(self, field: DateField) -> None:
        if field.data and self.first.data and field.data < self.first.data:
            raise ValidationError("The last day is before the first. Change one of them.")

    def period(self) -> Period:
        """The period asked for; only of a valid form."""
        return Period(given(self.first.data), given(self.last.data))


class PlannedDayField(DayField):
    """A day that somebody plans for; the complaint stands beside it without its name."""

    unreadable = "Write the day as year-month-day, such as 2026-06-03."


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


def given(value: T | None) -> T:
    """What a valid form holds for certain. Raises ValueError where it was not asked for after all."""
    if value is None:
        raise ValueError("Nothing was given.")
    return value


def complain(field: Field, message: str) -> None:
    field.errors = [*field.errors, message]


class FormRow(PlainForm):
    """One of several rows of a form. A row left empty is ignored; one half filled says what is missing."""

    class Meta(LabForm.Meta):
        pass

    presets: ClassVar[tuple[str, ...]] = ()  # what is chosen already does not make a row filled in
    needed: ClassVar[dict[str, str]] = {}

    @property
    def is_blank(self) -> bool:
        return not any(field.data for name, field in self._fields.items() if name not in self.presets)

    def validate(self, extra_validators: Any = None) -> bool:
        if self.is_blank:
            return True
        super().validate(extra_validators)
        for name, message in self.needed.items():
            if not self[name].data:
                complain(self[name], message)
        self.read()
        return not self.errors

    def read(self) -> None:
        """Parse what was typed, and complain at the field."""
        raise NotImplementedError

    @property
    def key(self) -> tuple[object, ...]:
        """What may stand in one row only."""
        raise NotImplementedError


def filled(rows: "FieldList[Any]") -> list[Any]:
    """The rows somebody wrote in."""
    return [row.form for row in rows.entries if not row.form.is_blank]


def refuse_twins(rows: "FieldList[Any]", *, at: str) -> None:
    """Complain at a field of each row that says again what a row above says."""
    seen: set[tuple[object, ...]] = set()
    for row in filled(rows):
        if None not in row.key and row.key in seen:
            complain(row[at], "A row above says the same. Empty one of the two.")
        seen.add(row.key)
