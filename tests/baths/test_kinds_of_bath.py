"""Baths of the kinds that colour film and toning bring: where they stand, what they hold, what is never a bath."""

from datetime import date

import pytest

from labsys.baths import rules
from labsys.baths.due import kinds_of_check
from labsys.baths.models import Place
from labsys.baths.rules import PLACE_OF, WORKING_ORDER
from labsys.chemistry.care import SolutionKind
from labsys.people.acts import Act
from labsys.products import service as products
from labsys.products.models import Product
from labsys.products.sheet import ProductSheet, StatedDilution, StatedIngredient
from tests.support.lab import SmallLab

BLEACH_FIX = {
    "name": "Bleach-fix concentrate",
    "waste_code": "09 01 05*",
    "h_codes": "EUH031",
    "density_mg_per_ml": 1_220,
    "ingredients": [StatedIngredient("sodium sulfite", "7757-83-7", 30_000, 50_000, "EUH031")],
    "dilutions": [StatedDilution(4_000, "colour film")],
}


@pytest.fixture
def bleach_fix(lab: SmallLab) -> Product:
    """A confirmed bleach-fix."""
    entry = ProductSheet(
        supplier="Made-up Supplies", kind=SolutionKind.BLEACH_FIX, sds_date=date(2025, 10, 1), **BLEACH_FIX
    )
    product = products.add_product(lab.act("technician"), sheet=entry)
    products.confirm_product(Act(lab.session, by=lab.person("safety adviser"), now=lab.tick()), product_id=product.id)
    lab.ids[f"product {SolutionKind.BLEACH_FIX}"] = product.id
    return product


def test_every_kind_but_a_coating_has_a_place_in_working_order():
    """Common practice, no source: bleach and bleach-fix after the stop, stabiliser last but for the rinse."""
    assert set(SolutionKind) - set(PLACE_OF) == {SolutionKind.COATING}
    order = [Place.DEVELOPER, Place.STOP, Place.BLEACH, Place.BLEACH_FIX, Place.FIXER, Place.STABILISER, Place.RINSE]
    assert sorted(order, key=WORKING_ORDER.__getitem__) == order


def test_a_bleach_fix_is_mixed_used_and_holds_silver(lab: SmallLab, bleach_fix):
    bath = lab.mix(SolutionKind.BLEACH_FIX, water_parts=4, working_ml=1_000)
    assert bath.place is Place.BLEACH_FIX
    lab.log(4)
    low, high = rules.silver_mg(bath=bath)
    assert 0 < low < high
    assert kinds_of_check(bath) == ["pH"]
    assert bath.product.waste_code == "09 01 05*"


def test_a_coating_is_never_mixed_as_a_bath():
    with pytest.raises(rules.BathRefused, match="brushed on: it has no bath"):
        rules.check_is_a_bath(SolutionKind.COATING)
