"""A short simulated term, unseen while the forecast was tuned: the lab is warned before every bath that fails in it."""

import pytest

from benchmarks import forecast
from labsys.drawing.svg import to_svg
from labsys.forecast.drawn import Marked
from labsys.forecast.models import Outcome


@pytest.mark.slow
def test_on_an_unseen_term_the_lab_is_warned_before_every_bath_that_fails_in_a_class(monkeypatch):
    monkeypatch.setattr(forecast, "WEEKS", 4)
    term = forecast.SimulatedLab(forecast.UNSEEN[0]).play()
    assert term.failures > 0
    assert term.day_before <= term.warned == term.failures
    assert term.short_warned == term.short
    assert term.quiet > term.needless  # it does not cry wolf at every class
    judged = sum(term.ranges[outcome] for outcome in (Outcome.HELD, Outcome.BEFORE, Outcome.AFTER))
    assert term.ranges[Outcome.HELD] >= 0.8 * judged > 0
    assert Marked.MISSED not in {mark.marked for mark in term.marks}
    drawing = to_svg(forecast.chart_of(term), name="term")
    assert f"It failed, and that was said before: {sum(m.marked is Marked.WARNED for m in term.marks)}" in drawing
