"""What people may type about competences."""

from wtforms import BooleanField, DateField, RadioField, StringField, TextAreaField
from wtforms.validators import InputRequired, Length, Optional

from labsys.competences.models import Competence, CompetenceGrant
from labsys.forms import LabForm, check_year
from labsys.people.models import Person

_REASON = CompetenceGrant.REASON_LENGTH


class GrantForm(LabForm):
    """A grant; `offer` says what whoever is signed in can grant."""

    competence = RadioField("What they can do", [InputRequired("Choose what they showed.")])
    happened_on = DateField("When they showed it", [InputRequired("Give the day on which they showed it."), check_year])
    until = DateField(
        "Last day it holds",
        [InputRequired("Give the last day it holds."), check_year],
        description="A year is usual here. After that day it has to be shown again.",
    )
    may_grant = BooleanField(
        "They may grant it to others", description="Only who holds it with this tick can grant it to the next person."
    )
    witness = StringField(
        "Who else saw it",
        [Optional(), Length(max=Person.EMAIL_LENGTH)],
        description="Name or e-mail address of a third person here. It counts once they say that they saw it.",
    )
    because = StringField(
        "If nobody else saw it, why",
        [Optional(), Length(max=_REASON)],
        description="For the first who holds it here, or where nobody else is in the lab. It is shown with the grant.",
    )

    def offer(self, competences: list[Competence]) -> None:
        self.competence.choices = [(each.value, each.value.capitalize()) for each in competences]


class RevokeForm(LabForm):
    because = TextAreaField(
        "Why it no longer counts",
        [InputRequired("Say why it no longer counts."), Length(max=_REASON)],
        description="Write what happened, nothing about anybody's health. Whoever sees the grant reads it.",
    )
