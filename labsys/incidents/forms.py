"""What people may type about incidents."""

from collections.abc import Iterable

from wtforms import RadioField, SelectField, SelectMultipleField, StringField, TextAreaField
from wtforms.validators import DataRequired, InputRequired, Length, Optional

from labsys.forms import InstantField, LabForm, options
from labsys.incidents.models import Incident, IncidentKind
from labsys.incidents.service import IncidentReport
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
_TEXT = Length(max=Incident.TEXT_LENGTH)


class ReportForm(LabForm):
    kind = RadioField("What was it?", [InputRequired("Choose what it was.")], choices=options(KIND_NAMES))
    what = TextAreaField(
        "What happened",
        [DataRequired("Write what happened, in a sentence."), _TEXT],
        description="Everybody here can read this: leave names out.",
    )
    done = TextAreaField(
        "What was done about it",
        [Optional(), _TEXT],
        description="Such as: rinsed for 20 minutes, floor wiped. Leave names out here too.",
    )
    hurt = StringField(
        "Who was hurt",
        [Optional(), Length(max=Incident.HURT_LENGTH)],
        description="Only you and the safety adviser will see this. Nobody: leave it empty.",
    )
    happened_at = InstantField("When it happened", [Optional()], description="Leave it empty for just now.")
    station = SelectField("Where", coerce=int, default=_NOT_SAID)
    processes = SelectMultipleField("In which process", [Optional()], coerce=int)
    products = SelectMultipleField("With which product", [Optional()], coerce=int)

    def offer(self, *, stations: Iterable[Station], processes: Iterable[Process], products: Iterable[Product]) -> None:
        """Hand in what can be chosen."""
        places = {station.id: station.name for station in stations}
        self.station.choices = options({_NOT_SAID: "Not at one of the places", **places})
        self.processes.choices = options({process.id: process.name for process in processes})
        self.products.choices = options({product.id: f"{product.name}, {product.supplier}" for product in products})

    @property
    def told(self) -> IncidentReport:
        return IncidentReport(
            kind=IncidentKind(self.kind.data),
            **self.values_of("what", "done", "hurt"),
            station_id=self.station.data or None,
            process_ids=self.processes.data or (),
            product_ids=self.products.data or (),
        )


class CloseForm(LabForm):
    changed = TextAreaField(
        "What was changed",
        [DataRequired("Write what was changed, or why nothing needed to be."), _TEXT],
        description="Everybody here can read this: leave names out.",
    )
