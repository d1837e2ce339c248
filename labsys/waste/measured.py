"""What is measured before something goes down the sink: a field for each limit, on whichever form asks."""

from collections.abc import Sequence
from typing import Any, ClassVar, TypeVar

from wtforms import BooleanField, Field
from wtforms.validators import Optional

from labsys.forms import FigureField, LabForm
from labsys.quantities import MILLI
from labsys.waste.models import SewerLimit
from labsys.waste.sewer_rules import PH_ENDS, Reading, Readings, is_ph

HIGHEST = 1_000_000  # [units of the limit]
_NOT_MEASURED = "Leave it empty if it was not measured; below what the test shows, write the least it shows."


class LimitedForm(LabForm):
    """A form of something that may go down the sink; `asking` hands in what is limited there."""

    limits: ClassVar[Sequence[SewerLimit]] = ()

    @property
    def measured(self) -> list[Field]:
        """The field of each limit."""
        return [self[_name(limit)] for limit in self.limits]

    @property
    def readings(self) -> Readings:
        """What a valid form says against each limit; what was left empty was not measured."""
        return {limit.id: _reading(limit, self[_name(limit)]) for limit in self.limits}


F = TypeVar("F", bound=LimitedForm)


def asking(form: type[F], limits: Sequence[SewerLimit]) -> type[F]:
    """Return a form with a field for each limit."""
    fields: dict[str, Any] = {_name(limit): _field(limit) for limit in limits}
    return type(form.__name__, (form,), {"limits": tuple(limits), **fields})


def _name(limit: SewerLimit) -> str:
    return f"limit_{limit.id}"


def _field(limit: SewerLimit) -> Any:
    consent = f"Consent {limit.consent.reference}"
    if limit.is_in_words:
        return BooleanField(f"Kept to: {limit.quantity}", description=f"{consent} asks for it.")
    lowest, highest = PH_ENDS if is_ph(limit.quantity) else (-HIGHEST, HIGHEST)
    return FigureField(
        f"{_capital(limit.quantity)}, measured",
        [Optional()],
        scale=MILLI,
        lowest=lowest,
        highest=highest,
        unit=limit.unit or None,
        description=f"{consent}: {limit.allowed}. {_NOT_MEASURED}",
    )


def _capital(quantity: str) -> str:
    return quantity if quantity[1:2].isupper() else quantity[:1].upper() + quantity[1:]  # pH stays pH


def _reading(limit: SewerLimit, field: Any) -> Reading:
    if limit.is_in_words:
        return Reading(is_kept=True if field.data else None)
    return Reading(value_milli=field.amount)
