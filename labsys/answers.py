"""How a view answers: a refusal goes back into the form, a success goes on by GET."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, Protocol, TypeVar

from flask import abort, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from labsys.chemistry.errors import CalculationError
from labsys.database import LARGEST_ROW
from labsys.forms import LabForm
from labsys.hazards.errors import HazardsError
from labsys.records.errors import Refused


class _Keyed(Protocol):
    @property
    def id(self) -> Any: ...


AnyRow = TypeVar("AnyRow", bound=_Keyed)


def row_key(text: str) -> int:
    """Read the key that a page begins after; raises ValueError for a number that no row can have."""
    number = int(text)
    if not 0 <= number <= LARGEST_ROW:
        raise ValueError(text)
    return number


def first_page(rows: list[AnyRow], length: int) -> tuple[list[AnyRow], int | None]:
    """The rows of one page, and the key the next begins after: what was read is one row more, where there is more."""
    return rows[:length], rows[length - 1].id if len(rows) > length else None


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


def form_page(template: str, form: LabForm, **context: Any) -> ResponseReturnValue:
    """Show a form: 200 when it is fresh, 422 when what was sent cannot be accepted."""
    return render_template(template, form=form, **context), 422 if form.errors else 200
