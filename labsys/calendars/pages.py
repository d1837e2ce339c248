"""What the page of calendars shows: each calendar there is, with the address somebody has of it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from labsys.calendars.models import CalendarAddress
from labsys.calendars.rules import Calendar, calendar_of
from labsys.courses.models import Course
from labsys.places.models import Room


@dataclass(frozen=True)
class Line:
    """One calendar, what it shows, and the address somebody has of it."""

    name: str
    shows: str
    calendar: Calendar
    address: CalendarAddress | None


def lines(*, rooms: Sequence[Room], courses: Iterable[Course], addresses: Iterable[CalendarAddress]) -> list[Line]:
    """One's own calendar first, then courses, then rooms."""
    had = {calendar_of(address): address for address in addresses}
    known = [
        ("Your bookings", "Your time, and the meetings of your courses", Calendar()),
        *((f"{course.name}, {course.term}", "Its meetings", Calendar(course_id=course.id)) for course in courses),
        *((room.name, "What is taken, without names", Calendar(room_id=room.id)) for room in rooms),
    ]
    return [Line(name, shows, calendar, had.get(calendar)) for name, shows, calendar in known]


def name_of(address: CalendarAddress) -> str:
    """What an address is of, within a sentence."""
    if address.room is not None:
        return address.room.name
    if address.course is not None:
        return f"{address.course.name}, {address.course.term}"
    return f"the bookings of {address.person.name}"
