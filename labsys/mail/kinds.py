"""Every kind of mail: what it tells, who gets it and why. A new kind is one line here and a place in `ALL`."""

from dataclasses import dataclass
from typing import NamedTuple


@dataclass(frozen=True)
class MailKind:
    """One kind of mail.

    `name` is kept with each message and with what people chose: it stays as it is. What is for safety, or keeps an
    account safe, is always written; of the rest each person says what they want.
    """

    name: str
    what: str
    who: str
    why: str
    is_always_written: bool = False


class Message(NamedTuple):
    """A mail and the cause that sends it once; `path` is the page of this lab that it leads to, after signing in."""

    kind: MailKind
    reason_key: str
    subject: str
    body: str
    path: str


OVERDUE = MailKind(
    "overdue",
    "Somebody has not left when they should have.",
    "Who is named to look after them, then the next, until somebody answers.",
    "They may need help.",
    is_always_written=True,
)
ALONE = MailKind(
    "alone",
    "You are alone in the building or will be, or somebody is.",
    "Who is or will be alone; who holds the keys, or is on call.",
    "Some work nobody does alone, and whoever is alone is asked whether they are all right.",
    is_always_written=True,
)
INCIDENT = MailKind(
    "incident",
    "Something happened, or nearly did.",
    "Who closes incidents.",
    "Somebody has to see to it.",
    is_always_written=True,
)
QUARANTINE = MailKind(
    "quarantine",
    "A waste container is in quarantine.",
    "Who may release it.",
    "It stays shut until one of them decides.",
    is_always_written=True,
)
RECALL = MailKind(
    "recall",
    "Something was wrong with a bath that your work went through.",
    "Whose work it was, as logged.",
    "Some of it can be mended, if it is done soon.",
    is_always_written=True,
)
ADDRESS = MailKind(
    "address",
    "Your e-mail address here was changed.",
    "You, at the old address and at the new one.",
    "Nobody can take over an account unseen.",
    is_always_written=True,
)
ENTRY = MailKind(
    "entry link",
    "You are invited, or there is a new link for you to choose a password with.",
    "Whose account it is.",
    "Without the link you cannot get in.",
    is_always_written=True,
)
CLOSURE = MailKind(
    "closure",
    "Something is closed when you are booked there.",
    "Whose booking it is.",
    "The booking was moved or cancelled for it, or still stands and cannot be used.",
)
CLASS_MOVED = MailKind(
    "class moved",
    "A meeting of your course is at another time, or is called off.",
    "Who teaches it, and everybody on its roster who has an account.",
    "Nobody shall come for nothing.",
)
OFFER = MailKind(
    "offer",
    "A place that you wait for is free.",
    "Who waits for it, the first in the line.",
    "The offer lapses, and then goes to the next.",
)
BOOKING = MailKind(
    "booking",
    "Somebody books for you, changes or cancels your booking, or its place is given free since nobody came.",
    "Whose booking it is.",
    "You did not do it yourself.",
)
LAPSE = MailKind(
    "induction lapses",
    "An induction of yours lapses within two weeks.",
    "Who holds it.",
    "Without it you are not cleared for what needs it.",
)
MEMBERSHIP = MailKind(
    "membership ends",
    "Your membership ends within two weeks.",
    "Whose membership it is.",
    "After its last day you book and begin nothing.",
)
SIGN_OFF = MailKind(
    "sign-off", "You were signed off for an induction.", "Who was taught it.", "It counts once you confirm it."
)
COMPETENCE = MailKind(
    "competence",
    "You are named as having seen what a competence is granted for, or one of yours is revoked.",
    "Who saw it; whose it was.",
    "It counts once the witness says that they saw it; what is revoked counts no more.",
)
TEACHING = MailKind(
    "teaching", "You are named as who teaches a course.", "Who teaches it.", "Its meetings are booked in your name."
)
DECLARATION = MailKind(
    "declaration",
    "A chemical that you declared was decided about.",
    "Who declared it.",
    "Only then do you know whether you may bring it, and on what conditions.",
)

# In the order in which they are shown: what is always written first.
ALL = (
    *(OVERDUE, ALONE, INCIDENT, QUARANTINE, RECALL, ADDRESS, ENTRY),
    *(CLOSURE, CLASS_MOVED, OFFER, BOOKING, LAPSE, MEMBERSHIP, SIGN_OFF, COMPETENCE, TEACHING, DECLARATION),
)
OF_NAME = {kind.name: kind for kind in ALL}
