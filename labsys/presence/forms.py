"""What a touch says, and who came besides."""

from datetime import datetime, timedelta

from wtforms import HiddenField, IntegerField, SelectField, StringField
from wtforms.validators import InputRequired, Length, NumberRange, Optional

from labsys.forms import LabForm, given, options
from labsys.people.models import Person
from labsys.presence.service import Way

_LONGEST_MS = 7 * 24 * 3_600 * 1_000


class _TouchedForm(LabForm):
    elapsed_ms = IntegerField("How long ago", [Optional(), NumberRange(0, _LONGEST_MS)])

    def at(self, now: datetime) -> datetime:
        """When it was touched: so long ago by the phone's own clock, which may stand wrong, before now by ours."""
        return now - timedelta(milliseconds=self.elapsed_ms.data or 0)


class TouchForm(_TouchedForm):
    """One touch: whom it is about and which way they went."""

    who = HiddenField(validators=[InputRequired("Open this page again."), Length(max=40)])
    way = SelectField("Which way", choices=options({way.value: way.value for way in Way}))

    @property
    def went(self) -> Way:
        return Way(given(self.way.data))


class GuestForm(_TouchedForm):
    name = StringField("Who came", [InputRequired("Write who came."), Length(max=Person.NAME_LENGTH)])
