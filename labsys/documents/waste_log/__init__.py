"""The waste log of a period: every litre from mixing to collection, and whether the sums agree."""

from werkzeug.datastructures import MultiDict

from labsys.database import DbSession
from labsys.documents.document import Address, Document, form_from
from labsys.documents.occasion import Occasion
from labsys.documents.waste_log.collected import collect
from labsys.documents.waste_log.data import litres, signed, verdict
from labsys.documents.waste_log.drawn import CLOSING, draw
from labsys.forms import PeriodForm
from labsys.people.permissions import Permission
from labsys.timetable.local_time import to_local
from labsys.timetable.period import Period

__all__ = ["WASTE_LOG"]


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
