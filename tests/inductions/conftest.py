import pytest
import time_machine

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
def as_role(lab, client_as):
    """A client of a role, a minute after the last thing that happened."""
    with time_machine.travel(lab.now, tick=False) as clock:

        def signed_in(role):
            clock.move_to(lab.tick(), tick=False)
            return client_as(role)

        yield signed_in
