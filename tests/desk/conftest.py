"""The desk is looked at on the day of the small lab."""

from collections.abc import Callable, Iterator

import pytest
import time_machine
from flask.testing import FlaskClient

from tests.desk.the_day import assess_products
from tests.support.lab import SmallLab
from tests.support.pages import source

Look = Callable[[str], str]


@pytest.fixture(autouse=True)
def assessed(lab: SmallLab) -> None:
    """Somebody sees to the assessments of the small lab, so that the first page need not ask for them."""
    lab.begin(assess_products)


@pytest.fixture
def clock(lab: SmallLab) -> Iterator[time_machine.Traveller]:
    """A clock that stands at the lab's time until it is moved."""
    with time_machine.travel(lab.now, tick=False) as traveller:
        yield traveller


@pytest.fixture
def look(client_as: Callable[..., FlaskClient], lab: SmallLab, clock: time_machine.Traveller) -> Look:
    """The first page as the person of a role sees it, a minute after the last thing that happened."""

    def seen(role: str) -> str:
        clock.move_to(lab.tick(), tick=False)
        return source(client_as(role).get("/"))

    return seen


@pytest.fixture
def day(lab: SmallLab) -> SmallLab:
    """A lab with places and a film line, open from 10 to 22."""
    lab.add_places()
    lab.mix_film_line()
    lab.begin(SmallLab.fill_rota)
    return lab
