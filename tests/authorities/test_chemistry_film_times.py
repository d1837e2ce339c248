"""The log-linear law against a chart printed in public law."""

import csv
from pathlib import Path

import pytest

from labsys.chemistry.development import TimeRule, develop_minutes


def chart():
    lines = (Path(__file__).parent / "north-dakota-film-times.csv").read_text(encoding="utf-8").splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    return [((float(row["fahrenheit"]) - 32) / 1.8, float(row["minutes"])) for row in rows]


@pytest.mark.parametrize(("celsius", "minutes"), chart())
def test_each_time_of_the_chart_is_met_to_a_rounding_step(celsius, minutes):
    """The chart is rounded to half minutes. Its coefficient and its time at 20 °C are two figures fitted to the 21 rows
    elsewhere, by least squares of ln t: that one straight line meets them all is the proof, not the two figures."""
    rule = TimeRule(minutes=5.03, q10=3.79, low_celsius=15, high_celsius=27, least_minutes=0)
    assert develop_minutes(rule=rule, celsius=celsius) == pytest.approx(minutes, abs=0.5)
