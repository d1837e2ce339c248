"""Developing time at the bench, by temperature."""

from collections.abc import Iterator, Sequence

from wtforms import Field

from labsys.bench.fields import CelsiusField, MinutesField, NumberField
from labsys.bench.forms import MINUTES_OF_A_DAY, Question
from labsys.bench.results import Answer, Figure, clock, number, percent, sentence, source_of
from labsys.bench.warmth import thermometer_field
from labsys.chemistry.development import (
    TimeRule,
    TooShort,
    develop_minutes,
    develop_minutes_between,
    develop_minutes_while_cooling,
    least_minutes_for,
    time_error_share,
)
from labsys.chemistry.errors import OutOfRange
from labsys.labware.models import OwnedCylinder

COUNTED_ON_CELSIUS = 0.25  # common practice, no source: what a film developer should be held to


class Develop(Question):
    """Developing time at today's temperature, and what the thermometer makes of it."""

    key = "develop"
    title = "Developing time at another temperature"
    minutes = MinutesField("Time on the data sheet", low=0, high=240, above_low=True)
    at = CelsiusField("At", low=10, high=40, default="20")
    now = CelsiusField("Developer today", low=10, high=40)
    q10 = NumberField(
        "Temperature coefficient",
        low=1,
        high=5,
        default="2.5",
        description="For 10 °C. From the data sheet; 2.5 is usual for PQ and MQ film developers.",
    )
    low = CelsiusField("Holds from", low=10, high=40, default="18")
    high = CelsiusField("Holds to", low=10, high=40, default="24")
    thermometer = thermometer_field()
    q10_error = NumberField("Coefficient good to ±", low=0, high=2, default="0.3")
    room = CelsiusField(
        "Room or water round the tank",
        low=0,
        high=45,
        optional=True,
        description="If the tank drifts towards it while it develops.",
    )
    tau = NumberField(
        "Time constant of the tank",
        low=0,
        high=MINUTES_OF_A_DAY,
        unit="min",
        above_low=True,
        default="60",
        description="By a reading: see “How far does it cool?”",
    )

    def conflicts(self) -> Iterator[tuple[Field, str]]:
        low, high = self.low.value, self.high.value
        if not low <= self.at.value <= high:
            yield self.at, "The temperature of the data sheet has to lie in the range for which this holds."
            return
        if not low <= self.now.value <= high:
            way = f"up to at least {low:g}" if self.now.value < low else f"down to at most {high:g}"
            yield (
                self.now,
                f"No time can be said for {self.now.value:g} °C: this holds from {low:g} to {high:g} °C. "
                f"Bring the developer {way} °C.",
            )

    def answer(self, owned: Sequence[OwnedCylinder]) -> Answer:
        minutes = self.minutes.value
        least = least_minutes_for(minutes=minutes)
        rule = TimeRule(minutes, self.at.value, self.q10.value, self.low.value, self.high.value, least)
        now, thermometer = number(self.now.value), self.thermometer.value
        warnings, remarks = [], []
        try:
            wanted = develop_minutes(rule=rule, celsius=self.now.value)
        except TooShort as short:
            wanted = short.minutes
            warnings.append(
                f"{clock(wanted)} is under {number(short.least_minutes)} min: development would be uneven. "
                "Bring the developer back down."
            )
        if not least and wanted < minutes and clock(wanted) != clock(minutes):
            warnings.append(
                f"{clock(minutes)} is short already, and {clock(wanted)} may come out uneven. Bring the developer back "
                f"{'down' if self.now.value > self.at.value else 'up'} to {number(self.at.value)} °C."
            )
        if thermometer > COUNTED_ON_CELSIUS:
            remarks.append("A film developer wants a thermometer good to ± 0.25 °C: common practice, no source.")
        share = time_error_share(q10=rule.q10, celsius_error=thermometer)
        figures = [Figure(clock(wanted), f"at {now} °C", f"{wanted:.2f} min")]
        if self.room.amount is not None:
            figures.append(self._drifting(rule, self.room.amount))
        low, high = develop_minutes_between(
            rule=rule, celsius=self.now.value, celsius_error=thermometer, q10_error=self.q10_error.value
        )
        return Answer(
            figures=tuple(figures),
            formula=(
                f"{number(rule.minutes)} min × {number(rule.q10)}^(({number(rule.at_celsius)} − {now}) ÷ 10) = "
                f"{wanted:.2f} min",
            ),
            source=(
                source_of(develop_minutes),
                *((source_of(develop_minutes_while_cooling),) if self.room.amount is not None else ()),
            ),
            margin=f"Development ± {percent(share)} for a thermometer good to ± {number(thermometer)} °C; with a "
            f"coefficient good to ± {number(self.q10_error.value)}, {clock(low)} to {clock(high)}.",
            warnings=tuple(warnings),
            remarks=(
                f"Holds from {number(rule.low_celsius)} to {number(rule.high_celsius)} °C for film. "
                "The maker's chart comes first.",
                *remarks,
            ),
        )

    def _drifting(self, rule: TimeRule, room_celsius: float) -> Figure:
        """The time in a tank that drifts, or why there is none."""
        towards = f"drifting towards {number(room_celsius)} °C"
        try:
            minutes = develop_minutes_while_cooling(
                rule=rule, start_celsius=self.now.value, room_celsius=room_celsius, tau_minutes=self.tau.value
            )
        except (OutOfRange, TooShort) as refusal:
            return Figure("not known", towards, sentence(refusal))
        return Figure(clock(minutes), towards, f"{minutes:.2f} min")
