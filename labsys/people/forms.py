"""What a person may type about accounts."""

from collections.abc import Sequence

from wtforms import EmailField, FileField, PasswordField, SelectField, SelectMultipleField, StringField, TextAreaField
from wtforms.fields.choices import SelectChoice  # type: ignore[attr-defined]  # newer than its stubs
from wtforms.validators import DataRequired, Email, EqualTo, Length, Optional

from labsys.forms import LabForm, complain, options
from labsys.people.models import Person, Role
from labsys.people.roster import ENCODINGS, NotText, Row, decode, read_roster, usable
from labsys.people.rules import LONGEST_PASSWORD, SHORTEST_PASSWORD

_EMAIL_LENGTH = Length(max=Person.EMAIL_LENGTH, message="That is too long for an e-mail address.")
_NEW_PASSWORD_HINT = f"At least {SHORTEST_PASSWORD} characters. Several plain words together are good."


class SignInForm(LabForm):
    email = EmailField("E-mail address", [DataRequired("Enter your e-mail address."), _EMAIL_LENGTH])
    password = PasswordField("Password", [DataRequired("Enter your password."), Length(max=LONGEST_PASSWORD)])


class NewPasswordForm(LabForm):
    """A new password, typed twice since it cannot be seen."""

    password = PasswordField("New password", [DataRequired("Choose a password.")], description=_NEW_PASSWORD_HINT)
    again = PasswordField(
        "The same once more",
        [
            DataRequired("Type the new password once more."),
            EqualTo("password", "The two are not the same. Type the new password twice."),
        ],
    )


class ProvedForm(LabForm):
    """A form that asks for the password one signs in with."""

    current = PasswordField(
        "Password now", [DataRequired("Enter the password you sign in with now."), Length(max=LONGEST_PASSWORD)]
    )


class ChangePasswordForm(NewPasswordForm, ProvedForm):
    pass


class RolesForm(LabForm):
    roles = SelectMultipleField(
        "Roles",
        [DataRequired("Choose at least one role.")],
        coerce=Role,
        choices=[SelectChoice(role.value, role.value.capitalize()) for role in Role],
        description="A person may hold several.",
    )


class NameForm(LabForm):
    name = StringField(
        "Name",
        [DataRequired("Enter the person's name."), Length(max=Person.NAME_LENGTH)],
        description="As it is to be read here. It stands on labels and in the record.",
    )


class AddressForm(LabForm):
    email = EmailField(
        "E-mail address",
        [
            DataRequired("Enter the person's e-mail address."),
            _EMAIL_LENGTH,
            Email("That is not an e-mail address. Example: sol@example.org"),
        ],
        description="For mail, and to sign in with.",
    )


class OwnAddressForm(AddressForm, ProvedForm):
    pass


class RosterForm(LabForm):
    """Names and addresses, typed or in a file, which is shown as if it had been typed."""

    roster = TextAreaField(
        "Who comes",
        [Optional()],
        description="A name and an e-mail address a line, divided by a comma; or copied out of a spreadsheet.",
        render_kw={"rows": 8},
    )
    file = FileField("Or a file", description="CSV, with a column for the name and one for the e-mail address.")
    encoding = SelectField("How the file is written", choices=options(ENCODINGS), default="")
    remark = ""
    rows: Sequence[Row] = ()

    def read_rows(self) -> bool:
        """Read who comes; what cannot be read at all is complained of, and says False."""
        try:
            sent = self.file.data.read() if getattr(self.file.data, "filename", "") else b""
            if sent:
                decoded = decode(sent, encoding=self.encoding.data or "")
                self.roster.data, self.remark = decoded.text, decoded.remark
            self.rows = read_roster(self.roster.data or "")
        except NotText as refusal:
            complain(self.file if self.file.data else self.roster, str(refusal))
            return False
        return True

    @property
    def usable(self) -> list[Row]:
        return usable(self.rows)

    @property
    def problems(self) -> list[Row]:
        return [row for row in self.rows if row.problem]
