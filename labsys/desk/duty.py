"""A duty: something that needs doing, by whom, how soon, and the act that does it."""

from dataclasses import dataclass
from enum import IntEnum

from labsys.people.permissions import Permission


class Urgency(IntEnum):
    """What comes first. What keeps the reader from their own work comes before everything."""

    YOURS = 0
    NOW = 1
    SOON = 2
    LATER = 3


@dataclass(frozen=True)
class OfferedAct:
    """Something a person can go and do; one that `posts` is done at a touch.

    `alone` is how it is called where nothing beside it says what it is about.
    """

    words: str
    href: str
    alone: str = ""
    posts: bool = False

    @property
    def button(self) -> str:
        return self.alone or self.words


@dataclass(frozen=True)
class Duty:
    """Something that needs doing: what it is about and its page, why, the act, and the permission that the act needs.

    `also` names who else ought to see it: those for whom the work stands still until it is done. Without a permission
    it was chosen for its reader already.
    """

    urgency: Urgency
    what: str
    href: str
    why: str
    act: OfferedAct | None
    code: str = ""
    needed: Permission | None = None
    also: Permission | None = None

    @property
    def is_now(self) -> bool:
        return self.urgency is Urgency.NOW
