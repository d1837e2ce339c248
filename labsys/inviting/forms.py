"""What a person may type to invite others."""

from collections.abc import Iterable

from wtforms import SelectMultipleField, TextAreaField
from wtforms.fields.choices import SelectChoice  # type: ignore[attr-defined]  # newer than its stubs
from wtforms.validators import InputRequired, Length, Optional

from labsys.database import LARGEST_ROW
from labsys.forms import LabForm
from labsys.inviting.queries import Waiting
from labsys.people.forms import AddressForm, NameForm, RolesForm, RosterForm

CARDS_AT_ONCE = 80  # eight sheets


class InviteForm(RolesForm, NameForm, AddressForm):
    pass


class InviteManyForm(RosterForm, RolesForm):
    """Names and addresses, typed or in a file, and the roles that all of them get."""

    roster = TextAreaField(
        "Whom to invite",
        [Optional()],
        description="A name and an e-mail address a line, divided by a comma; or copied out of a spreadsheet. "
        "Further columns are passed over, also one for a role.",
        render_kw={"rows": 8},
    )


class CardsForm(LabForm):
    """Whom to print cards for. Whoever has come meanwhile is passed over, so the list is not checked again."""

    people = SelectMultipleField(
        "Cards for",
        [
            InputRequired("Choose at least one person."),
            Length(max=CARDS_AT_ONCE, message=f"Choose at most {CARDS_AT_ONCE}."),
        ],
        coerce=int,
        validate_choice=False,
    )

    def offer(self, people: Iterable[Waiting]) -> None:
        """Hand in who has not come yet; who has no link that works is ticked to begin with."""
        people = list(people)
        self.people.choices = [SelectChoice(person.id, person.name) for person in people]
        if not self.is_submitted():
            self.people.data = [person.id for person in people if person.until is None]

    @property
    def person_ids(self) -> list[int]:
        return [person_id for person_id in self.people.data or () if 0 < person_id <= LARGEST_ROW]
