"""The mail that brings somebody the link that lets them in."""

from labsys.mail import service as mail
from labsys.mail.kinds import ENTRY, Message
from labsys.people.acts import Act
from labsys.people.models import Person
from labsys.people.rules import LINK_LIFE
from labsys.people.service import Invitation
from labsys.records import queries as records


def write_link(act: Act, invitation: Invitation) -> None:
    """Step: write to somebody that there is a link for them, as every kind of mail is written."""
    lab_name = records.the_lab(act.session).name
    mail.queue(act.session, _message(invitation, lab_name), to=invitation.person, by=None, now=act.now)


def write_links(act: Act, invitations: list[Invitation]) -> None:
    """Step: write to many at once."""
    lab_name = records.the_lab(act.session).name
    letters = [mail.Letter(_message(invitation, lab_name), invitation.person) for invitation in invitations]
    mail.queue_all(act.session, letters, by=None, now=act.now)


def _message(invitation: Invitation, lab_name: str) -> Message:
    """The page it leads to is known only when it leaves: until then nobody has the token."""
    person = invitation.person
    subject = f"A new link for {lab_name}" if person.password_hash else f"You are invited to {lab_name}"
    body = (
        f"Here is a link for {person.name} to choose a password with.\n"
        f"It works once, within {_life(person)}. Keep it to yourself: whoever has it can get in as you.\n"
    )
    return Message(ENTRY, mail.reason_of_link(invitation.link_id), subject, body, "")


def _life(person: Person) -> str:
    life = LINK_LIFE["reset" if person.password_hash else "invitation"]
    return f"{life.days} days" if life.days > 1 else "24 hours"
