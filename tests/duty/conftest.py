"""What the tests of duty and presence share: a lab with places and its clock, and processes with dangers in them."""

from collections.abc import Callable

import pytest
from flask import Flask

from labsys.bookings.rules import Plan
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.sizes import Material
from labsys.jobs.kinds import Task
from labsys.mail.models import OutgoingMail
from labsys.presence.looking_after import look_after_people
from labsys.processes import service as processes
from labsys.products import service as products
from labsys.products.sheet import StatedIngredient
from tests.support.lab import SmallLab, product_entry

DICHROMATE = StatedIngredient("potassium dichromate", "7778-50-9", 10_000, 20_000, "Carc. 1B H350; Skin Sens. 1 H317")
FORMALDEHYDE = StatedIngredient("formaldehyde", "50-00-0", 1_000, 5_000, "Carc. 1B H350; Skin Sens. 1A H317")
SULFIDE = StatedIngredient("sodium sulfide", "1313-82-2", 5_000, 9_000, "Skin Corr. 1B H314; Aquatic Acute 1 H400")

KEPT_BECAUSE = "For one way of printing, in a closed tank."


@pytest.fixture
def furnished(lab: SmallLab) -> SmallLab:
    lab.add_places()
    return lab


@pytest.fixture
def stopped_clock(furnished: SmallLab, monkeypatch: pytest.MonkeyPatch) -> SmallLab:
    """Pages see the time of the small lab."""
    monkeypatch.setattr("labsys.clock.now", lambda: furnished.now)
    return furnished


@pytest.fixture
def new_task(stopped_clock: SmallLab, app: Flask) -> Callable[..., Task]:
    """A task as the runner hands it to a job, at the time of the small lab."""

    def made(**parameters: object) -> Task:
        lab = stopped_clock
        lab.session.rollback()
        return Task(lab.session, app.config["LABSYS"], parameters, lambda: lab.now, lambda **_: None, lambda: False)

    return made


@pytest.fixture
def each_minute(new_task: Callable[..., Task]) -> Callable[[], None]:
    """Do what the lab does each minute by itself."""
    return lambda: (look_after_people(new_task()), None)[1]


def process_with(
    lab: SmallLab, called: str, *, milli: int | None = 4_000, confirmed: bool = True, **entered: object
) -> int:
    """A process of one step in a product of which this is entered; what is restricted is kept with a reason."""
    sheet = product_entry(SolutionKind.FIXER, **{"name": f"{called} product", **entered})
    product = products.add_product(lab.act("safety adviser"), sheet=sheet, restricted_reason=KEPT_BECAUSE)
    if confirmed:
        products.confirm_product(lab.act("safety adviser"), product_id=product.id)
    step = processes.StepEntry(name="Step", product_id=product.id, water_parts_milli=4_000)
    return processes.add_process(lab.act("technician"), name=called, material=Material.FILM, note="", steps=[step]).id


def safe_process(lab: SmallLab) -> int:
    """The same process each time, with nothing dangerous in it."""
    if "safe" not in lab.ids:
        lab.ids["safe"] = lab.add_process().id
    return lab.ids["safe"]


def safe_plan(lab: SmallLab) -> Plan:
    return Plan(process_id=safe_process(lab))


def mails(lab: SmallLab) -> list[tuple[str, str]]:
    """Who is written to about what, in order."""
    lab.session.expire_all()
    return [(mail.person.name, mail.subject) for mail in lab.session.query(OutgoingMail).order_by(OutgoingMail.id)]
