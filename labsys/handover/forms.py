"""What people may type to whoever comes next."""

from collections.abc import Sequence

from wtforms import SelectField, StringField, TextAreaField
from wtforms.validators import InputRequired, Length, Optional

from labsys.forms import LabForm, options
from labsys.handover.models import HandoverNote, LeftFilm
from labsys.people.queries import NamedPerson

_LINE = Length(max=LeftFilm.LINE_LENGTH)


class NoteForm(LabForm):
    text = TextAreaField(
        "To whoever comes next",
        [InputRequired("Write what the next one has to know."), Length(max=HandoverNote.TEXT_LENGTH)],
        description="What is begun, what is out of order, who comes, what was promised.",
    )


class FilmForm(LabForm):
    what = StringField(
        "What it is",
        [InputRequired("Say what it is."), _LINE],
        description="Such as: one 120 in a sleeve, contact sheet.",
    )
    whereabouts = StringField("Where it lies", [Optional(), _LINE])
    owner = SelectField("Whose it is")
    owner_words = StringField(
        "The name on it", [Optional(), _LINE], description="Where it is nobody on the list. Empty: none is on it."
    )

    def offer(self, people: Sequence[NamedPerson]) -> None:
        self.owner.choices = options({str(person.id): person.name for person in people}, first="nobody on the list")

    @property
    def owner_id(self) -> int | None:
        return int(self.owner.data) if self.owner.data else None


class GoneForm(LabForm):
    how = StringField("How it left", [InputRequired("Say how it left: collected, sent, or thrown away."), _LINE])
