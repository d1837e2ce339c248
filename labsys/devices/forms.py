"""What a person may type about shared tablets, and at one."""

from wtforms import PasswordField, RadioField, StringField
from wtforms.validators import DataRequired, EqualTo, Length

from labsys.devices.models import EnrolledDevice
from labsys.devices.rules import LONGEST_PIN, SHORTEST_PIN
from labsys.forms import LabForm
from labsys.people.queries import NamedPerson


class EnrolForm(LabForm):
    name = StringField(
        "Name of this tablet",
        [DataRequired("Give the tablet a name."), Length(max=EnrolledDevice.NAME_LENGTH)],
        description="Where it lies, such as: dry side, by the door.",
    )


class PinForm(LabForm):
    """A new PIN, typed twice since it cannot be seen."""

    pin = PasswordField(
        "New PIN", [DataRequired("Choose a PIN.")], description=f"{SHORTEST_PIN} to {LONGEST_PIN} digits."
    )
    again = PasswordField(
        "The same once more",
        [DataRequired("Type the PIN once more."), EqualTo("pin", "The two are not the same. Type the PIN twice.")],
    )


class CardForm(LabForm):
    code = StringField(
        "Code of your card",
        [DataRequired("Scan your card, or type its code."), Length(max=40, message="That is too long for a code.")],
        description="Scan it, or type what stands under the square.",
    )


class NameAndPinForm(LabForm):
    person = RadioField("Who are you?", [DataRequired("Choose your name.")], coerce=int, validate_choice=False)
    pin = PasswordField(
        "Your PIN",
        [DataRequired("Type your PIN."), Length(max=LONGEST_PIN, message=f"A PIN has at most {LONGEST_PIN} digits.")],
    )

    def offer(self, people: list[NamedPerson]) -> None:
        """Offer these names; the service has the last word on who was chosen."""
        self.person.choices = list(people)
