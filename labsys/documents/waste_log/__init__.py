"""The waste log of a period: every litre from mixing to collection, and whether the sums agree."""

from werkzeug.datastructures import MultiDict
from wtforms import DateField
from wtforms.validators import InputRequired, ValidationError

from labsys.database import DbSession
from labsys.documents.document import Address, Document, form_from
from labsys.documents.occasion import Occasion
from labsys.documents.waste_log.collected import Period, collect
from labsys.documents.waste_log.data import litres, signed, verdict
from labsys.documents.waste_log.drawn import CLOSING, draw
from labsys.forms import LabForm, check_year
from labsys.people.permissions import Permission
from labsys.timetable.local_time import to_local

__all__ = ["WASTE_LOG", "Period", "PeriodForm"]


class PeriodForm(LabForm):
    """A period of whole days; sent by GET to look and by POST to issue."""

    first = DateField("From", [InputRequired("Choose the first day."), check_year], name="from")
    last = DateField("To, this day included", [InputRequired("Choose the last day."), check_year], name="to")

    def validate_last(self, field: DateField) -> None:
        if field.data and self.first.data and field.data < self.first.data:
            raise ValidationError("The last day is before the first. Change one of them.")

    def period(self) -> Period:
        """The period asked for; only of a valid form."""
        assert self.first.data is not None and self.last.data is not None  # noqa: S101, PT018 - InputRequired says so
        return Period(self.first.data, self.last.data)


def _form(_: DbSession, occasion: Occasion, address: Address | None) -> PeriodForm:
    """The period sent; without one, the month so far by the lab's calendar."""
    if address is not None and not address:
        today = to_local(occasion.now, zone=occasion.zone).date()
        address = MultiDict(Period.month_so_far(today).written)
    return form_from(PeriodForm, address)


WASTE_LOG = Document(
    kind="waste log",
    path="waste-log",
    may_see=Permission.SEE_WASTE_LOG,
    may_issue=Permission.SEE_WASTE_LOG,
    form=_form,
    read=PeriodForm.period,
    written=lambda period, data: period.written,
    collect=collect,
    title=lambda data: f"Waste log, {data.period}",
    draw=draw,
    shows={"closing": CLOSING, "litres": litres, "signed": signed, "verdict": verdict},
)
