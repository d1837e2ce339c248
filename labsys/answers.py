"""How a view answers: a refusal goes back into the form, a success goes on by GET."""

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import Any, Protocol, TypeVar

from flask import Response, abort, flash, g, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from labsys import clock
from labsys.chemistry.errors import CalculationError
from labsys.database import LARGEST_ROW
from labsys.forms import LabForm
from labsys.hazards.errors import HazardsError
from labsys.records.errors import Refused
from labsys.spreadsheets import MEDIA_TYPE, as_csv
from labsys.timetable.local_time import to_local

LOOKS = ("day", "evening", "low")


class _Keyed(Protocol):
    @property
    def id(self) -> int: ...


Keyed = TypeVar("Keyed", bound=_Keyed)


def chosen_look() -> str | None:
    """The look of the screen that was chosen on this device."""
    look = request.cookies.get("look")
    return look if look in LOOKS else None


def cut_page(rows: Sequence[Keyed], *, limit: int) -> tuple[list[Keyed], int | None]:
    """Cut a page from rows of which one more was read than it holds; with the key of its last where more follow."""
    return list(rows[:limit]), rows[limit - 1].id if len(rows) > limit else None


def row_key(text: str) -> int:
    """Read the key that a page begins after; raises ValueError for a number that no row can have."""
    number = int(text)
    if not 0 <= number <= LARGEST_ROW:
        raise ValueError(text)
    return number


@contextmanager
def refusals(form: LabForm) -> Iterator[None]:
    """Put a rule's refusal into the form, so that the page comes back with what was typed and the reason."""
    try:
        yield
    except Refused as refusal:
        form.refuse(refusal)
    except (CalculationError, HazardsError) as error:
        form.form_errors.append(str(error))


@contextmanager
def refusals_at(endpoint: str, **values: Any) -> Iterator[None]:
    """Answer a rule's refusal of one pressed button: go to a page by GET and say the reason there."""
    try:
        yield
    except Refused as refusal:
        flash(str(refusal), "problem")
        abort(redirect(url_for(endpoint, **values), 303))


def saved(message: str, endpoint: str, **values: Any) -> ResponseReturnValue:
    """Answer a change that succeeded: say so on the next page, and go there by GET."""
    flash(message, "saved")
    return redirect(url_for(endpoint, **values), 303)


def csv_file(heads: Sequence[str], rows: Iterable[Sequence[str]], *, name: str) -> Response:
    """Answer with a table for a spreadsheet, its file named after what it tells of and the day by the lab's clock."""
    answer = Response(as_csv(heads, rows), content_type=MEDIA_TYPE)
    day = to_local(clock.now(), zone=g.zone).date()
    answer.headers["Content-Disposition"] = f'attachment; filename="{name}-{day.isoformat()}.csv"'
    return answer


def form_page(template: str, form: LabForm, **context: Any) -> ResponseReturnValue:
    """Show a form: 200 when it is fresh, 422 when what was sent cannot be accepted."""
    return render_template(template, form=form, **context), 422 if form.errors else 200
