"""What a person may ask of the matrix; the same by the page, the spreadsheet and the document."""

from collections.abc import Mapping, Sequence

from flask import g
from werkzeug.datastructures import MultiDict
from wtforms import RadioField, SelectField, StringField
from wtforms.fields.choices import SelectChoice  # type: ignore[attr-defined]  # newer than its stubs
from wtforms.validators import InputRequired, Length, Optional

from labsys import clock
from labsys.forms import LabForm, PlannedDayField, check_year, given
from labsys.matrix.rules import EVERYBODY, EVERYBODY_HERE, IN_WORDS, Asked, By
from labsys.people.models import Person
from labsys.timetable.local_time import to_local


class MatrixForm(LabForm):
    """As of which day, by which question, about whom."""

    day = PlannedDayField("As of", [InputRequired("Choose a day."), check_year])
    by = RadioField("By", coerce=By, choices=[SelectChoice(by.value, words) for by, words in IN_WORDS.items()])
    who = SelectField("Who")
    find = StringField("Part of a name", [Optional(), Length(max=Person.NAME_LENGTH)])

    def offer(self, courses: Sequence[tuple[int, str]]) -> None:
        self.who.choices = [
            SelectChoice(EVERYBODY_HERE, "Everybody here then"),
            SelectChoice(EVERYBODY, "Everybody, and who had left"),
            *(SelectChoice(str(key), name) for key, name in courses),
        ]

    def asked(self) -> Asked:
        """What is asked; only of a valid form."""
        return Asked(given(self.day.data), By(self.by.data), self.who.data, self.find.data or "")


def matrix_form(address: Mapping[str, str]) -> MatrixForm:
    """The form as an address fills it in; where that is silent, everybody here as of today."""
    today = to_local(clock.now(), zone=g.zone).date()
    everything = {**Asked(today).written}
    told = {name: address[name] for name in everything if name in address}
    return MatrixForm(formdata=MultiDict({**everything, **told}), meta={"csrf": False})
