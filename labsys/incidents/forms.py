"""What people may type about incidents."""

from collections.abc import Iterable

from wtforms import RadioField, SelectField, SelectMultipleField, StringField, TextAreaField
from wtforms.fields.choices import SelectChoice  # type: ignore[attr-defined]  # newer than its stubs
from wtforms.validators import DataRequired, InputRequired, Length, Optional

from labsys.forms import InstantField, LabForm
from labsys.incidents.models import Incident, IncidentKind
from labsys.incidents.service import Told
from labsys.places.models import Station
from labsys.processes.models import Process
from labsys.products.models import Product

KIND_NAMES = {
    IncidentKind.SPILL: "Spill",
    IncidentKind.SPLASH: "Splash on skin or in the eyes",
    IncidentKind.INHALATION: "Something breathed in",
    IncidentKind.CUT: "Cut",
    IncidentKind.NEAR_MISS: "Near miss: nothing happened, but it could have",
    IncidentKind.OTHER: "Something else",
}
_NOT_SAID = 0
_TOO_LONG = "Use at most %(max)d characters."


class ReportForm(LabForm):
    kind = RadioField(
        "What was it?",
        [InputRequired("Choose what it was.")],
        choices=[SelectChoice(kind, words) for kind, words in KIND_NAMES.items()],
    )
    what = TextAreaField(
        "What happened",
        [DataRequired("Write what happened, in a sentence."), Length(max=Incident.TEXT_LENGTH, message=_TOO_LONG)],
        description="Everybody here can read this: leave names out.",
    )
    done = TextAreaField(
        "What was done about it",
        [Optional(), Length(max=Incident.TEXT_LENGTH, message=_TOO_LONG)],
        description="Such as: rinsed for 20 minutes, floor wiped. Leave names out here too.",
    )
    hurt = StringField(
        "Who was hurt",
        [Optional(), Length(max=Incident.HURT_LENGTH, message=_TOO_LONG)],
        description="Only you and the safety adviser will see this. Nobody: leave it empty.",
    )
    happened_at = InstantField("When it happened", [Optional()], description="Leave it empty for just now.")
    station = SelectField("Where", coerce=int, default=_NOT_SAID)
    processes = SelectMultipleField("In which process", [Optional()], coerce=int)
    products = SelectMultipleField("With which product", [Optional()], coerce=int)

    def offer(self, *, stations: Iterable[Station], processes: Iterable[Process], products: Iterable[Product]) -> None:
        """Hand in what can be chosen."""
        self.station.choices = [
            SelectChoice(_NOT_SAID, "Not at one of the places"),
            *(SelectChoice(one.id, one.name) for one in stations),
        ]
        self.processes.choices = [SelectChoice(one.id, one.name) for one in processes]
        self.products.choices = [SelectChoice(one.id, f"{one.name}, {one.supplier}") for one in products]

    @property
    def told(self) -> Told:
        return Told(
            kind=IncidentKind(self.kind.data),
            what=self.what.data or "",
            done=self.done.data or "",
            hurt=self.hurt.data or "",
            station_id=self.station.data or None,
            process_ids=self.processes.data or (),
            product_ids=self.products.data or (),
        )


class CloseForm(LabForm):
    changed = TextAreaField(
        "What was changed",
        [
            DataRequired("Write what was changed, or why nothing needed to be."),
            Length(max=Incident.TEXT_LENGTH, message=_TOO_LONG),
        ],
        description="Everybody here can read this: leave names out.",
    )
