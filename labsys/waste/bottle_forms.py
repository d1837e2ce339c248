"""What is typed when a bottle is thrown away."""

from wtforms import RadioField, SubmitField, TextAreaField
from wtforms.validators import InputRequired, Length, Optional

from labsys.forms import InstantField
from labsys.ledger.models import Unit
from labsys.store.amounts import AmountField
from labsys.store.models import Bottle, BottleLeft, WayOut
from labsys.waste.destinations import Destinations
from labsys.waste.measured import LimitedForm

_OTHER_WAYS = (WayOut.CARRIER, WayOut.SUPPLIER, WayOut.GIVEN, WayOut.SPILLED)


class ThrowAwayForm(LimitedForm):
    """Where what was in a bottle went; `offer` hands in the containers and what the book says is in it."""

    way = RadioField("Where it went", [InputRequired("Choose where it went.")])
    amount = AmountField(
        "What was in it",
        [InputRequired("Enter what was in it.")],
        description="Filled in with what the book says. Change it to what you saw.",
    )
    note = TextAreaField(
        "To whom, or what happened",
        [Optional(), Length(max=BottleLeft.NOTE_LENGTH)],
        description="Needed unless it was poured away: the carrier and the note's code, who took it, what was done.",
    )
    left_at = InstantField("When", [Optional()], description="Left empty, it means just now.")
    record_done = SubmitField("It was poured there already: record it")

    def offer(self, into: Destinations, *, bottle: Bottle) -> None:
        is_liquid = bottle.vessel.unit is Unit.UL
        poured = [(str(destination.value), destination.words) for destination in into.all] if is_liquid else []
        self.way.choices = [*poured, *((way.value, str(way).capitalize()) for way in _OTHER_WAYS)]
        self.amount.count_in(bottle.vessel.unit)
        if self.amount.raw_data is None or not self.is_submitted():
            self.amount.data = self.amount.typed(bottle.vessel.level)

    @property
    def others(self) -> tuple[WayOut, ...]:
        """How it may leave other than by being poured away."""
        return _OTHER_WAYS

    @property
    def chosen(self) -> tuple[WayOut, int | None]:
        """How it left, and into which container; only of a valid form."""
        if not self.way.data.isdecimal():
            return WayOut(self.way.data), None
        container_id = int(self.way.data)
        return (WayOut.CONTAINER, container_id) if container_id else (WayOut.SEWER, None)
