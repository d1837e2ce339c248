"""Control strips, and how a pH reading moves with its temperature."""

import pytest

from labsys.chemistry.acidity import ph_moves_by
from labsys.chemistry.control_strips import USUAL_LIMITS, NotAStrip, Readings, points_of, steps_to_read
from labsys.chemistry.errors import OutOfRange

# NAVEDTRA 14209, fig. 10-28 prints four points: base and fog 0.12, step 4 0.23, step 6 0.60, step 17 1.20. What lies
# between is filled in evenly, made up for the tests.
PRINTED = [120, 150, 190, 230, 400, 600, *range(650, 1_150, 50), 1_200, 1_260, 1_330]
AIM = Readings(fog=120, speed=230, middle=1_200)


def test_the_steps_to_read_are_those_of_the_printed_chart():
    """NAVEDTRA 14209, fig. 10-28: the speed point is step 4, 0.11 over base and fog; step 17 has 1.20."""
    assert steps_to_read(PRINTED) == (4, 17)
    assert PRINTED[4 - 1] - PRINTED[0] == 110
    assert PRINTED[17 - 1] == 1_200


@pytest.mark.parametrize(
    ("densities", "refusal"),
    [
        ([], NotAStrip),
        ([120, 1_300], NotAStrip),
        ([120, 230, 900], NotAStrip),
        ([1_300, 600, 120], NotAStrip),
        ([120, 1_250, 1_300], NotAStrip),  # no step between base and the middle
        ([120, 230, 12_000], OutOfRange),
    ],
)
def test_what_is_no_strip_is_refused(densities, refusal):
    with pytest.raises(refusal):
        steps_to_read(densities)


@pytest.mark.parametrize(
    ("read", "outside", "source"),
    [
        (AIM, [], "by definition"),
        (Readings(150, 230, 1_350), [], "from memory: 21 CFR 900.12(e)(1), +0.03 and 0.15 are still within"),
        (Readings(151, 230, 1_200), ["base and fog"], "from memory: 21 CFR 900.12(e)(1), fog at most 0.03 over"),
        (Readings(60, 230, 1_200), [], "from memory: 21 CFR 900.12(e)(1) limits fog upwards only"),
        (Readings(120, 381, 1_351), ["middle step"], "from memory: 21 CFR 900.12(e)(1), middle within 0.15"),
        (Readings(120, 79, 1_200), ["contrast"], "from memory: 21 CFR 900.12(e)(1), difference within 0.15"),
        (Readings(120, 230, 1_049), ["middle step", "contrast"], "from memory: 21 CFR 900.12(e)(1), both ways"),
    ],
)
def test_points_outside_their_limits_are_named(read, outside, source):
    points = points_of(read=read, aim=AIM, limits=USUAL_LIMITS)
    assert [point.name for point in points if point.is_outside] == outside


@pytest.mark.parametrize(
    ("ph", "fahrenheit", "moved", "source"),
    [
        (10.5, 10, 0.10, "NAVEDTRA 14208: 0.10 for 10 °F at pH 10.5"),
        (13, 10, 0.20, "NAVEDTRA 14208: 0.20 for 10 °F at pH 13"),
        (5, 10, None, "NAVEDTRA 14208 gives no figure below pH 10.5"),
    ],
)
def test_a_ph_reading_moves_with_its_temperature(ph, fahrenheit, moved, source):
    assert ph_moves_by(ph=ph, celsius_apart=fahrenheit / 1.8) == (moved and pytest.approx(moved))
