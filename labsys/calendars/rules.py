"""Decisions about calendars: whose they are, who may have one, and how long an address works."""

from dataclasses import dataclass
from datetime import timedelta

from labsys.calendars.models import CalendarAddress
from labsys.people.models import Person
from labsys.people.permissions import Permission, may

BACK = timedelta(days=60)  # what was before is left out
MOST_EVENTS = 1_000


@dataclass(frozen=True)
class Calendar:
    """Which calendar: of a room, of a course, or of one's own bookings where it is neither."""

    room_id: int | None = None
    course_id: int | None = None

    @property
    def needed(self) -> Permission:
        """What its maker has to be permitted, when it is made and each time it is read."""
        return Permission.SEE_LAB if self.course_id is None else Permission.BOOK_FOR_OTHERS


def calendar_of(address: CalendarAddress) -> Calendar:
    return Calendar(address.room_id, address.course_id)


def works(address: CalendarAddress, *, maker: Person) -> bool:
    """Whether an address still works.

    It ends when it is ended or a new one made, and for good when its maker leaves or chooses a new password, which ends
    their sessions too. It shows nothing its maker may no longer see.
    """
    stands = address.ended_at is None and address.session_version == maker.session_version
    return stands and may(maker, calendar_of(address).needed)
