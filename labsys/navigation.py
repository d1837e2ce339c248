"""The rooms of the site along the top of each page, and which of them one is in."""

from typing import NamedTuple

from flask import current_app, request, url_for
from flask_login import current_user

from labsys.people.access import current_person
from labsys.people.permissions import Permission, may


class NavItem(NamedTuple):
    label: str
    href: str
    current: bool


_ROOMS = (
    ("Today", "desk.today", Permission.SEE_LAB),
    ("Bookings", "bookings.index", Permission.SEE_LAB),
    ("Courses", "courses.index", Permission.BOOK_FOR_OTHERS),
    ("Baths", "baths.index", Permission.SEE_LAB),
    ("Chemical store", "store.index", Permission.SEE_LAB),
    ("Processes", "processes.index", Permission.SEE_LAB),
    ("Bench", "bench.index", Permission.SEE_LAB),
    ("Inductions", "inductions.index", Permission.SEE_LAB),
    ("Register", "register.index", Permission.SEE_LAB),
    ("Waste", "waste.index", Permission.SEE_LAB),
    ("Places", "places.index", Permission.SEE_LAB),
    ("On duty", "duty.index", Permission.SEE_LAB),
    ("In the building", "presence.index", Permission.SEE_LAB),
    ("People", "people.index", Permission.KEEP_PEOPLE),
    ("Tablets", "devices.index", Permission.KEEP_DEVICES),
    ("Mail", "mail.index", Permission.SEE_MAIL),
    ("In confidence", "confidence.index", Permission.SEE_CONFIDENCES),
    ("Jobs", "jobs.index", Permission.SEE_JOBS),
    ("The lab", "lab.index", Permission.KEEP_LAB),
)


_REACHED_THROUGH = {
    "products": "store",
    "labware": "store",
    "equipment": "places",
    "handover": "desk",
    "competences": "inductions",
    "matrix": "inductions",
    "forecast": "baths",
}


def navigation() -> list[NavItem]:
    """The rooms that whoever is signed in may enter."""
    if not current_user.is_authenticated:
        return []
    person = current_person()
    here = (request.endpoint, _first_page(request.blueprint))
    return [
        NavItem(label, url_for(endpoint), endpoint in here) for label, endpoint, needed in _ROOMS if may(person, needed)
    ]


def address_of_room() -> str:
    """The page that the room of this request begins with, or Today."""
    room = _first_page(request.blueprint)
    return url_for(room if room in current_app.view_functions else "desk.today")


def _first_page(room: str | None) -> str:
    """What is kept of products and labware is reached through the chemical store, equipment through places,
    competences through inductions, the forecast through the baths.
    """
    return f"{_REACHED_THROUGH.get(room or '', room)}.index"
