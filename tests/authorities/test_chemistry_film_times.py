"""The log-linear law against a chart printed in public law: its two ends make the rule, the rows between are met."""

import csv
from pathlib import Path

import pytest

from labsys.chemistry.development import TimeRule, develop_minutes

CODE = "North Dakota Administrative Code, chapter 33.1-10-06, Appendix D"


def chart():
    lines = (Path(__file__).parent / "north-dakota-film-times.csv").read_text(encoding="utf-8").splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    return [((float(row["fahrenheit"]) - 32) / 1.8, float(row["minutes"])) for row in rows]


COLDEST, *BETWEEN, WARMEST = chart()


@pytest.mark.parametrize(("celsius", "minutes", "source"), [(*row, CODE) for row in BETWEEN])
def test_each_time_between_the_ends_of_the_chart_is_met_to_a_rounding_step(celsius, minutes, source):
    """The chart is rounded to half minutes, its ends as well; no row between them has a part in the rule."""
    degrees = WARMEST[0] - COLDEST[0]
    q10 = (COLDEST[1] / WARMEST[1]) ** (10 / degrees)
    at_20 = COLDEST[1] * q10 ** ((COLDEST[0] - 20) / 10)
    rule = TimeRule(minutes=at_20, q10=q10, low_celsius=15, high_celsius=27, least_minutes=0)
    assert develop_minutes(rule=rule, celsius=celsius) == pytest.approx(minutes, abs=0.55), source


def test_a_middling_coefficient_would_not_meet_them():
    """So the rows do tell something: by the 2.5 of pictorial developers the warm end is more than half a minute off."""
    rule = TimeRule(minutes=5, q10=2.5, low_celsius=15, high_celsius=27, least_minutes=0)
    assert develop_minutes(rule=rule, celsius=WARMEST[0]) > WARMEST[1] + 0.55
