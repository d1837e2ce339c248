"""An account that is closed: what was booked is released, said beforehand and afterwards, and classes are told."""

from collections.abc import Callable
from datetime import UTC, datetime

from flask.testing import FlaskClient
from sqlalchemy import select

from labsys.bookings.models import Booking
from labsys.courses import service as courses
from labsys.mail.models import OutgoingMail
from labsys.people import service as people
from labsys.timetable.spans import Span
from tests.courses.test_register import ROWS
from tests.courses.test_setting_up import entry, furnished, weekly
from tests.support.lab import SmallLab
from tests.support.pages import press, text

__all__ = ["furnished"]
ClientAs = Callable[..., FlaskClient]


def hours(start: int, end: int) -> Span:
    return Span(datetime(2026, 3, 3, start, tzinfo=UTC), datetime(2026, 3, 3, end, tzinfo=UTC))


def test_what_is_booked_is_released_and_said_before_and_after(furnished: SmallLab, client_as: ClientAs) -> None:
    furnished.book("Film sink", hours(12, 14))
    past = furnished.book("Enlarger", hours(10, 11))
    past.arrived_at = past.starts_at
    furnished.session.commit()
    manager, page = client_as("manager"), f"/people/{furnished.ids['member']}"
    assert "1 booking to come is released." in text(manager.get(page))
    closed = press(manager, f"{page}/close", at=page)
    assert "1 booking to come is released." in text(manager.get(closed.location))
    furnished.session.expire_all()
    stand = {row.station.name: row.cancelled_at for row in furnished.session.execute(select(Booking)).scalars()}
    assert stand["Film sink"] is not None
    assert stand["Enlarger"] is None  # work that has begun is a fact


def test_the_students_of_a_class_are_told(furnished: SmallLab, client_as: ClientAs) -> None:
    courses.set_up(furnished.act("instructor"), entry=entry(furnished), dates=weekly(2), rows=ROWS)
    manager, page = client_as("manager"), f"/people/{furnished.ids['instructor']}"
    before = text(manager.get(page))
    assert "2 bookings to come are released, classes among them: " in before
    assert "The students of 1 course are told: " in before
    press(manager, f"{page}/close", at=page)
    furnished.session.expire_all()
    letters = furnished.session.execute(
        select(OutgoingMail.subject).where(OutgoingMail.person_id == furnished.ids["member"])
    ).scalars()
    assert sum(subject.startswith("Called off: ") for subject in letters) == 2
    assert all(row.cancelled_at for row in furnished.session.execute(select(Booking)).scalars())


def test_who_has_booked_nothing_releases_nothing(furnished: SmallLab, client_as: ClientAs) -> None:
    page = f"/people/{furnished.ids['member']}"
    assert "No booking of theirs is to come." in text(client_as("manager").get(page))
    people.close_account(furnished.act("manager"), person_id=furnished.ids["member"])
    assert "released" not in text(client_as("manager").get(page))
