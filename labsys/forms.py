"""The form all forms are made from, and the fields of our own: volumes, masses, instants, codes."""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import uuid4
from zoneinfo import ZoneInfo

from flask import g
from flask_wtf import FlaskForm
from wtforms import Field, FieldList, FormField, HiddenField, StringField
from wtforms.fields import DateTimeLocalField
from wtforms.validators import ValidationError

from labsys import clock
from labsys.quantities import QuantityError, parse_mass, parse_volume
from labsys.records.errors import Refused
from labsys.timetable.local_time import NoSuchLocalTime, to_instant

CLOCK_TOLERANCE = timedelta(minutes=2)  # a phone's clock may run ahead of ours


def strip(value: Any) -> Any:
    """Take white space from both ends, and the NUL that PostgreSQL does not store."""
    return value.replace("\0", "").strip() if isinstance(value, str) else value


class LabForm(FlaskForm):  # type: ignore[misc]  # the package has no types
    """Strips white space, and carries a submission key so that a double tap acts once."""

    submission_key = HiddenField(default=lambda: str(uuid4()))

    class Meta:
        def bind_field(self, form: Any, unbound_field: Any, options: dict[str, Any]) -> Field:
            if not issubclass(unbound_field.field_class, FieldList | FormField):  # these hold fields, not text
                options["filters"] = [*unbound_field.kwargs.get("filters", []), strip]
            bound: Field = unbound_field.bind(form=form, **options)
            return bound

    def validate_submission_key(self, field: HiddenField) -> None:
        if not 8 <= len(field.data or "") <= 36:
            field.data = str(uuid4())

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
