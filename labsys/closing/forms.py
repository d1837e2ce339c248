"""What a person may type when closing something, and what they decide about each booking that is hit."""

from collections.abc import Iterable, Mapping, Sequence

from wtforms import RadioField, SelectField, StringField
from wtforms.fields.choices import SelectChoice  # type: ignore[attr-defined]  # newer than its stubs
from wtforms.validators import InputRequired, Length, ValidationError

from labsys.closing.moving import Hit
from labsys.closing.rules import Answer, Fate, Scope, read_answer
from labsys.forms import LabForm, given, options
from labsys.places.forms import WallClockField
from labsys.places.models import Closure
from labsys.timetable.spans import Span

EACH = "each"
FOR_ALL = {EACH: "as chosen beside each", Fate.CANCEL: "cancel them all", Fate.KEEP: "leave them all as they are"}


class DecidingForm(LabForm):
    """What becomes of the bookings that are hit: one word for all, or one for each, beside its row."""

    for_all = RadioField("What becomes of them", choices=options(FOR_ALL), default=EACH)

    def answers(self, hits: Iterable[Hit], *, sent: Mapping[str, str]) -> dict[int, Answer]:
        """What was decided, by booking; one of which nothing can be read is left out."""
        if self.for_all.data != EACH:
            fate = Fate(self.for_all.data)
            return {hit.booking.id: Answer(Fate.KEEP if hit.is_here else fate) for hit in hits}
        read = {
            hit.booking.id: read_answer(sent.get(f"answer-{hit.booking.id}", ""), length_of=hit.span) for hit in hits
        }
        return {booking_id: answer for booking_id, answer in read.items() if answer is not None}


class ClosureForm(DecidingForm):
    what = SelectField("What is closed", [InputRequired("Choose what is closed.")])
    starts = WallClockField("Closed from", [InputRequired("Enter when it closes.")])
    ends = WallClockField("Open again from", [InputRequired("Enter when it opens again.")])
    reason = StringField(
        "Why",
        [InputRequired("Say why: whoever wants to book then reads it."), Length(max=Closure.reason.type.length)],
        description="Shown to whoever wants to book then, such as: new lamp.",
    )

    def offer(self, scopes: Sequence[tuple[Scope, str]]) -> None:
        self._scopes = {scope.key: scope for scope, _ in scopes}
        self.what.choices = [SelectChoice(scope.key, name) for scope, name in scopes]

    def validate_ends(self, field: WallClockField) -> None:
        if self.starts.instant and field.instant and field.instant <= self.starts.instant:
            raise ValidationError("It opens again after it closes. Check both times.")

    @property
    def scope(self) -> Scope:
        """What is closed, once the form is valid."""
        return self._scopes[self.what.data]

    @property
    def span(self) -> Span:
        """The time closed, once the form is valid."""
        return Span(given(self.starts.instant), given(self.ends.instant))
