"""The log-linear law against a chart printed in public law."""

import csv
from pathlib import Path

import pytest

from labsys.chemistry.development import TimeRule, develop_minutes, fit_chart


def chart():
    lines = (Path(__file__).parent / "north-dakota-film-times.csv").read_text(encoding="utf-8").splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    return [((float(row["fahrenheit"]) - 32) / 1.8, float(row["minutes"])) for row in rows]


def test_the_law_fits_the_chart_as_well_as_the_chart_is_rounded():
    """The chart is rounded to half minutes, so a residual under one step is agreement; Q10 and t20 by our own fit of
    the printed figures, checked against one made elsewhere: 3.79 and 5.03 min."""
    fit = fit_chart(points=chart())
    assert len(chart()) == 21
    assert fit.q10 == pytest.approx(3.79, abs=0.05)
    assert fit.minutes_at_20 == pytest.approx(5.03, abs=0.05)
    assert fit.largest_residual_minutes < 0.45


@pytest.mark.parametrize(("celsius", "minutes"), chart())
def test_each_time_of_the_chart_is_met_to_a_rounding_step(celsius, minutes):
    fit = fit_chart(points=chart())
    rule = TimeRule(minutes=fit.minutes_at_20, q10=fit.q10, low_celsius=15, high_celsius=27, least_minutes=0)
    assert develop_minutes(rule=rule, celsius=celsius) == pytest.approx(minutes, abs=0.5)
