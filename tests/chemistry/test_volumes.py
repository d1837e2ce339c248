from types import SimpleNamespace as Row

import pytest
from hypothesis import given
from hypothesis import strategies as st

from labsys.chemistry.errors import OutOfRange
from labsys.chemistry.sizes import size_of
from labsys.chemistry.volumes import USUAL_TRAYS, NotOnAReel, coating_ml, reels_ml, tray_litres

REELS = [
    Row(key="120", reels=5, low=2250, typical=2500, high=2500, source="common practice, no source: 500 mL a roll"),
    Row(key="135-36", reels=1, low=240, typical=270, high=300, source="common practice, no source"),
    Row(key="135-36", reels=2, low=480, typical=540, high=600, source="common practice, no source: 500 to 600 mL"),
    Row(key="220", reels=1, low=450, typical=500, high=500, source="common practice, no source"),
]


@pytest.mark.parametrize("row", REELS, ids=lambda row: f"{row.reels} of {row.key}")
def test_a_tank_needs_so_much_for_its_reels(row):
    volume = reels_ml(size_key=row.key, reels=row.reels)
    assert (volume.low, volume.typical, volume.high) == (row.low, row.typical, row.high)


def test_a_sheet_is_not_wound_on_a_reel():
    with pytest.raises(NotOnAReel, match="4x5 in is not wound on a reel"):
        reels_ml(size_key="4x5 in", reels=1)


@pytest.mark.parametrize("reels", [0, 21])
def test_a_number_of_reels_that_cannot_be_is_refused(reels):
    with pytest.raises(OutOfRange):
        reels_ml(size_key="120", reels=reels)


HALF_INCH = "calculated from nominal sizes; depth 1/2 in from US Army SS0509 (1988)"
NOMINAL = "calculated from nominal sizes"
TRAYS = [
    Row(key="8x10 in", depth=12.7, litres=0.66, source=HALF_INCH),
    Row(key="10x12 in", depth=12.7, litres=0.98, source=HALF_INCH),
    Row(key="11x14 in", depth=12.7, litres=1.26, source=HALF_INCH),
    Row(key="12x16 in", depth=12.7, litres=1.57, source=HALF_INCH),
    Row(key="16x20 in", depth=12.7, litres=2.62, source=HALF_INCH),
    Row(key="20x24 in", depth=12.7, litres=3.93, source=HALF_INCH),
    Row(key="8x10 in", depth=15, litres=0.77, source=NOMINAL),
    Row(key="11x14 in", depth=15, litres=1.49, source=NOMINAL),
    Row(key="16x20 in", depth=15, litres=3.10, source=NOMINAL),
    Row(key="8x10 in", depth=20, litres=1.03, source=NOMINAL),
    Row(key="12x16 in", depth=20, litres=2.48, source=NOMINAL),
    Row(key="20x24 in", depth=20, litres=6.19, source=NOMINAL),
]
BY_KEY = {tray.key: tray for tray in USUAL_TRAYS}


@pytest.mark.parametrize("row", TRAYS, ids=lambda row: f"{row.key} {row.depth}")
def test_a_tray_holds_its_area_times_its_depth(row):
    tray = BY_KEY[row.key]
    litres = tray_litres(length_mm=tray.length_mm, width_mm=tray.width_mm, depth_mm=row.depth)
    assert litres == pytest.approx(row.litres, abs=0.006)


@pytest.mark.parametrize("tray", USUAL_TRAYS, ids=lambda tray: tray.key)
def test_the_usual_fill_covers_a_sheet(tray):
    least = tray_litres(length_mm=tray.length_mm, width_mm=tray.width_mm)
    low, high = tray.usual_litres
    assert least <= low <= high <= 2 * least


@pytest.mark.parametrize(("length", "width", "depth"), [(0, 200, 15), (250, 200, 12), (250, 3000, 15)])
def test_a_tray_that_cannot_be_is_refused(length, width, depth):
    with pytest.raises(OutOfRange):
        tray_litres(length_mm=length, width_mm=width, depth_mm=depth)


@given(st.sampled_from(["120", "135-36"]), st.integers(1, 19))
def test_another_reel_never_needs_less(key, reels):
    assert reels_ml(size_key=key, reels=reels).low < reels_ml(size_key=key, reels=reels + 1).low


def test_four_millilitres_coat_an_8x10_sheet():
    """Common practice, no source."""
    assert coating_ml(area_mm2=size_of(key="8x10 in").surface_mm2) == pytest.approx(4, abs=0.05)
    assert coating_ml(area_mm2=0) == 0
    with pytest.raises(OutOfRange):
        coating_ml(area_mm2=-1)
