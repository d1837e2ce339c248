import pytest
import time_machine
from flask import g

from labsys.places.models import Room, RoomKind, Station, StationUnit


@pytest.fixture
def add_station(lab):
    """Add a station of one unit."""

    def add(name):
        room = lab.session.query(Room).first() or Room(name="Wet room", kind=RoomKind.SAFELIGHT)
        position = lab.session.query(Station).count()
        station = Station(room=room, name=name, position=position, units=[StationUnit(number=1)])
        lab.session.add(station)
        lab.session.commit()
        return station

    return add


@pytest.fixture
def as_role(app, lab, client_as):
    """A client of a role, a minute after the last thing that happened; each request knows only its own cookies."""

    def forget():
        for name in tuple(g):
            g.pop(name)

    app.before_request_funcs[None].insert(0, forget)
    with time_machine.travel(lab.now, tick=False) as clock:

        def signed_in(role):
            clock.move_to(lab.tick(), tick=False)
            return client_as(role)

        yield signed_in
