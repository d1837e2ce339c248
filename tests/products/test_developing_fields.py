"""What a developer's data sheet says of time, temperature and film, on the form of its product."""

import pytest

from labsys.products.models import Product
from tests.support.lab import SmallLab
from tests.support.pages import send, source
from tests.support.store import product_fields

ADD = "/store/products/add"
OF_A_DEVELOPER = {
    "kind": "developer",
    "waste_code": "09 01 01*",
    "ph_limit": "",
    "q10": "2,2",
    "low_celsius": "16",
    "high_celsius": "26",
    "least_minutes": "4.5",
    "least_concentrate": "6 mL",
    "developing_source": "data sheet, page 3",
}


def test_the_figures_are_kept_shown_and_come_back_to_be_changed(lab: SmallLab, client_as):
    technician = client_as("technician")
    answer = send(technician, ADD, product_fields(**OF_A_DEVELOPER))
    assert answer.status_code == 303
    product = lab.session.query(Product).filter_by(name="Citric stop concentrate").one()
    assert (product.q10_milli, product.low_milli_c, product.high_milli_c) == (2_200, 16_000, 26_000)
    assert (product.least_seconds, product.least_concentrate_ul) == (270, 6_000)
    page = source(technician.get(answer.location))
    assert "Works 2.2 times as fast 10 °C warmer. Its times hold from 16 to 26 °C." in page
    assert "Under 4:30 min it develops unevenly. A roll of film needs at least 6 mL of it undiluted." in page
    assert "data sheet, page 3" in page
    form = source(technician.get(f"/store/products/{product.id}/change"))
    for value in (
        'value="2.2"',
        'value="16"',
        'value="26"',
        'value="4.5"',
        'name="least_concentrate" type="text" value="6"',
    ):
        assert value in form, value


@pytest.mark.sqlite_only
@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"q10": "0.9"}, "at least 1, since nothing works slower when it is warmer"),
        ({"q10": "7"}, "at most 5"),
        ({"low_celsius": ""}, "Enter how cold it may be too."),
        ({"high_celsius": ""}, "Enter how warm it may be too."),
        ({"low_celsius": "26"}, "The warmest has to be above the coldest."),
        ({"low_celsius": "5"}, "Nothing is reckoned below 10 °C."),
        ({"least_concentrate": "6 g"}, "“g” is not a unit used here"),
        ({"developing_source": ""}, "Say where these are given"),
        ({"kind": "stop"}, "These are figures of a developer."),
    ],
)
def test_figures_that_cannot_be_are_refused(lab: SmallLab, client_as, changes, message):
    answer = send(client_as("technician"), ADD, product_fields(**{**OF_A_DEVELOPER, **changes}))
    assert answer.status_code == 422
    assert message in source(answer)
    assert lab.session.query(Product).filter_by(name="Citric stop concentrate").one_or_none() is None
