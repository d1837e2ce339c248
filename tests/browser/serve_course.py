"""Serves the demonstration lab with eighteen who come to a course, three of whom may not start, and a broken enlarger.

python -m tests.browser.serve_course FOLDER
"""

import sys
from datetime import datetime, timedelta
from pathlib import Path

from sqlalchemy import select

from labsys.bookings import service as bookings
from labsys.bookings.rules import Plan
from labsys.database import db
from labsys.demo import show
from labsys.inductions import queries as inductions
from labsys.inductions import quizzes, signing
from labsys.inductions.contents import questions_of
from labsys.inductions.models import SignOff
from labsys.people import service as people
from labsys.people.acts import Act
from labsys.people.models import Person, Role
from labsys.places import service as places
from labsys.places.models import Station
from labsys.places.rules import RoomFacts
from labsys.timetable.spans import Span
from labsys.web import create_app
from tests.browser.serve_demo import TODAY, serve
from tests.conftest import settings
from tests.support.lab import CHEAP

EIGHTEEN = tuple((f"Student {number:02}", f"s{number:02}@kelderwick.example") for number in range(1, 19))
CLEARED = 15
DAYS = (1, 1, 2, 2, 3)  # from today, on which somebody is booked at the first enlarger


def main(folder: Path) -> None:
    app = create_app(settings(folder, f"sqlite:///{folder / 'labsys.sqlite3'}"))
    with app.app_context():
        show.make(app, now=TODAY, fresh=False)
        _people()
        _bookings()
    serve(app)


def _act(email: str) -> Act:
    person = db.session.execute(select(Person).where(Person.email == f"{email}@kelderwick.example")).scalar_one()
    return Act(db.session, by=person, now=TODAY)


def _people() -> None:
    """Eighteen accounts, fifteen of them with every induction; one has chosen a password, and the room takes them."""
    invited = [
        people.invite_person(_act("rosalind"), name=name, email=email, roles={Role.MEMBER}) for name, email in EIGHTEEN
    ]
    person_ids = [invitation.person.id for invitation in invited[:CLEARED]]
    for invitation in invited[:2]:
        people.choose_password(
            Act(db.session, by=None, now=TODAY), token=invitation.token, password=show.PASSWORD, cost=CHEAP
        )
    induction_ids = [induction.id for induction in inductions.inductions(db.session)]
    teachers = inductions.teachers(db.session, induction_ids=induction_ids, at=TODAY)
    for induction_id in induction_ids:
        by = Act(db.session, by=teachers[induction_id][0], now=TODAY)
        signing.sign_off_many(
            by, person_ids=person_ids, induction_ids=[induction_id], taught_at=TODAY, saw_practice=True
        )
    imre = _act("imre").actor.id
    for induction_id in induction_ids:  # what he holds lapses within the term
        by = next(teacher for teacher in teachers[induction_id] if teacher.id != imre)
        again = Act(db.session, by=by, now=TODAY)
        signing.sign_off_many(
            again, person_ids=[imre], induction_ids=[induction_id], taught_at=TODAY, saw_practice=True
        )
    known = [*person_ids, imre]
    _pass_the_quizzes(known)
    waiting = select(SignOff.id).where(SignOff.confirmed_at.is_(None), SignOff.person_id.in_(known))
    signing.confirm_by_sheet(
        _act("imre"), sign_off_ids=list(db.session.execute(waiting).scalars()), sheet="the green folder"
    )
    room = _station("Enlargers").room
    facts = RoomFacts(kind=room.kind, most_people=24, most_taught=18, step_free=room.step_free, helps=room.helps)
    places.change_room(_act("joss"), room_id=room.id, name=room.name, facts=facts)


def _pass_the_quizzes(person_ids: list[int]) -> None:
    for induction in inductions.inductions(db.session):
        newest = induction.versions[-1]
        for person_id in person_ids if newest.quiz else ():
            quizzes.take_quiz(
                Act(db.session, by=db.session.get_one(Person, person_id), now=TODAY),
                induction_id=induction.id,
                version=newest.number,
                answers=[question.right for question in questions_of(newest.quiz)],
            )


def _bookings() -> None:
    """Five bookings of the first enlarger within three days."""
    for number, days in enumerate(DAYS):
        start = datetime(TODAY.year, TODAY.month, TODAY.day, 11 + 2 * (number % 2), tzinfo=TODAY.tzinfo)
        span = Span(start + timedelta(days=days), start + timedelta(days=days, hours=1))
        who = db.session.execute(select(Person).where(Person.email == EIGHTEEN[number][1])).scalar_one()
        bookings.book(
            _act("joss"), person_id=who.id, station_id=_station("Enlargers").id, span=span, plan=Plan(), number=1
        )


def _station(name: str) -> Station:
    return db.session.execute(select(Station).where(Station.name == name)).scalar_one()


if __name__ == "__main__":
    main(Path(sys.argv[1]))
