"""What a touch says, and who came besides."""

from wtforms import HiddenField, SelectField, StringField
from wtforms.validators import InputRequired, Length

from labsys.forms import LabForm, given, options
from labsys.people.models import Person
from labsys.presence.service import Way


class TouchForm(LabForm):
    """One touch: whom it is about and which way they went."""

    who = HiddenField(validators=[InputRequired("Open this page again."), Length(max=40)])
    way = SelectField("Which way", choices=options({way.value: way.value for way in Way}))

    @property
    def went(self) -> Way:
        return Way(given(self.way.data))


class GuestForm(LabForm):
    name = StringField("Who came", [InputRequired("Write who came."), Length(max=Person.NAME_LENGTH)])
