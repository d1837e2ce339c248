"""Measuring cylinders: adding one, and what cannot be one."""

from collections.abc import Callable

import pytest

from labsys.chemistry.care import SolutionKind
from labsys.chemistry.measuring import CylinderClass
from labsys.database import db
from labsys.labware.models import OwnedCylinder
from tests.support.lab import SmallLab
from tests.support.pages import send, source


def test_a_cylinder_is_added_and_kept_for_a_kind(lab: SmallLab, client_as: Callable):
    client = client_as("technician")
    fields = {"nominal_ml": "100", "division": "1", "accuracy_class": "a", "kept_for": "developer"}
    assert send(client, "/store/cylinders", fields).status_code == 303
    cylinder = db.session.query(OwnedCylinder).filter_by(nominal_ml=100).one()
    assert (cylinder.division_ul, cylinder.accuracy_class) == (1_000, CylinderClass.A)
    assert cylinder.kept_for is SolutionKind.DEVELOPER
    assert cylinder.least_ul is None
    assert "class A" in source(client.get("/store/cylinders"))


def test_the_lowest_mark_of_a_cylinder_is_kept_and_decides_where_it_is_used(lab: SmallLab, client_as: Callable):
    client = client_as("technician")
    fields = {"nominal_ml": "100", "division": "1", "accuracy_class": "a", "kept_for": "fixer", "least": "12.5"}
    assert send(client, "/store/cylinders", fields).status_code == 303
    cylinder = db.session.query(OwnedCylinder).filter_by(nominal_ml=100).one()
    assert cylinder.least_ul == 12_500
    check = f"/equipment/{cylinder.equipment_id}/check/check-of-its-reading"
    assert send(client, check, outcome="passed", error="0.4", doubt="0.1").status_code == 303
    assert "12.5 mL" in source(client.get("/store/cylinders"))
    asked = {"ask": "dilute", "dilution": "1+9", "kind": "fixer"}
    enough, too_little = (
        source(client.get("/bench", query_string={**asked, "volume": volume})) for volume in ("125 mL", "124 mL")
    )
    assert "Fill the 100 mL cylinder to 13 mL." in enough or "Fill the 100 mL cylinder to 12" in enough
    assert "Fill the 50 mL cylinder to 12 mL." in too_little  # kept for any solution, from 5 mL upwards


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"nominal_ml": "300"}, "No standard cylinder holds 300 mL."),  # ISO 4788 sizes, from memory
        ({"nominal_ml": "-100"}, "It holds: write a number above zero"),
        ({"division": "200"}, "One division cannot be more than the cylinder holds."),
        ({"division": "0"}, "must be above zero"),
        ({"least": "101"}, "Its lowest mark cannot be more than the cylinder holds."),
        ({"least": "0"}, "must be above zero"),
        ({"accuracy_class": ""}, "Choose the class."),
    ],
)
def test_a_cylinder_that_cannot_be_is_refused(lab: SmallLab, client_as, changes, message):
    before = db.session.query(OwnedCylinder).count()
    fields = {"nominal_ml": "100", "division": "1", "accuracy_class": "b", "kept_for": ""} | changes
    answer = send(client_as("technician"), "/store/cylinders", fields)
    assert answer.status_code == 422
    assert message in source(answer)
    assert db.session.query(OwnedCylinder).count() == before
