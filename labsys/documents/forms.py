"""What people may ask of a document."""

from datetime import date

from wtforms import DateField
from wtforms.validators import InputRequired, ValidationError

from labsys.documents.collect_log import Period
from labsys.forms import LabForm

_FIRST_YEAR, _LAST_YEAR = 2000, 2999


class PeriodForm(LabForm):
    """A period of whole days; sent by GET to look and by POST to issue."""

    first = DateField("From", [InputRequired("Choose the first day.")], name="from")
    last = DateField("To, this day included", [InputRequired("Choose the last day.")], name="to")

    def validate_first(self, field: DateField) -> None:
        _check_year(field.data)

    def validate_last(self, field: DateField) -> None:
        _check_year(field.data)
        if field.data and self.first.data and field.data < self.first.data:
            raise ValidationError("The last day is before the first. Change one of them.")

    def period(self) -> Period:
        """The period asked for; only of a valid form."""
        assert self.first.data is not None and self.last.data is not None  # noqa: S101, PT018 - InputRequired says so
        return Period(self.first.data, self.last.data)


def _check_year(day: date | None) -> None:
    if day is not None and not _FIRST_YEAR <= day.year <= _LAST_YEAR:
        raise ValidationError("Check the year.")
