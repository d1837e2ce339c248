"""Temperature at the bench: hot and cold water to a target, a solution that cools, development by temperature."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from labsys.bench.mixing import COMMON_CYLINDERS
from labsys.bench.results import SECONDS_COUNTED, Answer, Figure, ml, number, percent, source_of
from labsys.chemistry.celsius import check_celsius
from labsys.chemistry.development import TimeRule, TooShort, develop_minutes, time_error_share
from labsys.chemistry.dilution import Dilution, split
from labsys.chemistry.errors import check_above
from labsys.chemistry.measuring import CannotMeasure, Cylinder, choose_cylinder
from labsys.chemistry.temperature import (
    CelsiusError,
    Portion,
    WarmMix,
    cooled_celsius,
    mean_celsius,
    mix_to_temperature,
    mixed_celsius_error,
    water_to_temperature,
)
from labsys.planning.warmth import cold_water_warning
from labsys.quantities import duration

TARGET_CELSIUS = (5.0, 60.0)
TAP_CELSIUS = (0.0, 65.0)
ROOM_CELSIUS = (0.0, 45.0)
USUAL_ROOM_CELSIUS = 20.0
THERMOMETER_CELSIUS = 0.5  # common practice, no source: an ordinary darkroom thermometer
COUNTED_ON_CELSIUS = 0.25  # common practice, no source: what a film developer should be held to
WARMER_THAN_USUAL_CELSIUS = 45.0  # no bath of an ordinary process is warmer: common practice, no source
COLD_TAP_IS_WARM_CELSIUS = 30.0  # so is a cold tap


def _check(name: str, celsius: float, within: tuple[float, float]) -> None:
    check_celsius(name=name, value=celsius, low=within[0], high=within[1])


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """Water for a volume at a temperature, or working solution where there is a dilution. [mL, °C]

    Raises LooksLikeFahrenheit or OutOfRange for a temperature that cannot be meant.
    """

    working_ml: float
    target_celsius: float
    hot_celsius: float
    cold_celsius: float
    dilution: Dilution | None = None
    room_celsius: float = USUAL_ROOM_CELSIUS
    thermometer_celsius: float = THERMOMETER_CELSIUS

    def __post_init__(self) -> None:
        _check("target", self.target_celsius, TARGET_CELSIUS)
        _check("hot tap", self.hot_celsius, TAP_CELSIUS)
        _check("cold tap", self.cold_celsius, TAP_CELSIUS)
        check_above("hot tap", self.hot_celsius, self.cold_celsius, TAP_CELSIUS[1], "°C")
        _check("room", self.room_celsius, ROOM_CELSIUS)


@dataclass(frozen=True, slots=True)
class Tempering:
    """Hot and cold water, and how far off the temperature may come out. [mL, °C]"""

    mix: WarmMix
    error: CelsiusError
    warnings: tuple[str, ...]

    @property
    def water_ml(self) -> float:
        return self.mix.hot_ml + self.mix.cold_ml


def temper(*, asked: Asked, cylinders: Sequence[Cylinder] = COMMON_CYLINDERS) -> Tempering:
    """Work out hot and cold water, with a concentrate at room temperature where there is one.

    Raises OutOfRange for a volume, and NotReachable where the taps do not reach the target.
    """
    if asked.dilution is None:
        mix = water_to_temperature(
            water_ml=asked.working_ml,
            wanted_celsius=asked.target_celsius,
            cold_celsius=asked.cold_celsius,
            hot_celsius=asked.hot_celsius,
        )
    else:
        mix = mix_to_temperature(
            parts=split(dilution=asked.dilution, working_ml=asked.working_ml),
            wanted_celsius=asked.target_celsius,
            concentrate_celsius=asked.room_celsius,
            cold_celsius=asked.cold_celsius,
            hot_celsius=asked.hot_celsius,
        )
    poured = (
        (mix.concentrate_ml, asked.room_celsius),
        (mix.hot_ml, asked.hot_celsius),
        (mix.cold_ml, asked.cold_celsius),
    )
    portions = [
        Portion(volume, celsius, _volume_error(volume, cylinders), asked.thermometer_celsius)
        for volume, celsius in poured
        if volume > 0
    ]
    return Tempering(mix, mixed_celsius_error(portions=portions), tuple(_doubts(asked)))


def _volume_error(volume_ml: float, cylinders: Sequence[Cylinder]) -> float:
    """Limit of the measurement; what no cylinder can measure is left out altogether, and is that far off."""
    try:
        return choose_cylinder(volume_ml=volume_ml, owned=cylinders).worst_error_ml
    except CannotMeasure:
        return volume_ml


def _doubts(asked: Asked) -> Iterator[str]:
    """What is odd about the temperatures, though they can be worked with."""
    if asked.cold_celsius < asked.target_celsius and (cold := cold_water_warning(asked.cold_celsius)):
        yield cold
    if asked.target_celsius > WARMER_THAN_USUAL_CELSIUS:
        yield f"{number(asked.target_celsius)} °C is warmer than any usual bath. Is it really meant in °C?"
    if asked.cold_celsius > COLD_TAP_IS_WARM_CELSIUS:
        yield f"{number(asked.cold_celsius)} °C is warm for a cold tap. Is it really meant in °C?"


def temper_answer(*, asked: Asked, cylinders: Sequence[Cylinder]) -> Answer:
    """Hot and cold water in words, for the page."""
    tempering = temper(asked=asked, cylinders=cylinders or COMMON_CYLINDERS)
    mix = tempering.mix
    hot, cold, room = number(asked.hot_celsius), number(asked.cold_celsius), number(asked.room_celsius)
    figures = [Figure(ml(mix.hot_ml), f"hot, at {hot} °C"), Figure(ml(mix.cold_ml), f"cold, at {cold} °C")]
    formula = [
        f"Hot = {ml(tempering.water_ml)} × ({mix.water_celsius:.2f} − {cold}) ÷ ({hot} − {cold}) = {ml(mix.hot_ml)}"
    ]
    if mix.concentrate_ml:
        figures.append(Figure(ml(mix.concentrate_ml), f"concentrate, at {room} °C"))
        formula.insert(
            0,
            f"Water has to be at ({number(asked.working_ml)} × {number(asked.target_celsius)} − "
            f"{mix.concentrate_ml:.1f} × {room}) ÷ {tempering.water_ml:.1f} = {mix.water_celsius:.2f} °C",
        )
    return Answer(
        figures=tuple(figures),
        formula=tuple(formula),
        source=(source_of(mix_to_temperature), source_of(mixed_celsius_error)),
        margin=f"{number(asked.target_celsius)} °C ± {tempering.error.worst:.1f} °C at worst, "
        f"± {tempering.error.likely:.1f} °C likely, with a thermometer good to ± "
        f"{number(asked.thermometer_celsius)} °C.",
        warnings=tempering.warnings,
        remarks=("Read the thermometer before you use it: a cold tank takes some of the warmth.",),
    )


def cool(*, start_celsius: float, room_celsius: float, minutes: float, tau_minutes: float) -> Answer:
    """How far a standing solution drifts towards the room."""
    given = {
        "start_celsius": start_celsius,
        "room_celsius": room_celsius,
        "tau_minutes": tau_minutes,
        "minutes": minutes,
    }
    end, mean = cooled_celsius(**given), mean_celsius(**given)
    return Answer(
        figures=(
            Figure(f"{end:.1f} °C", f"after {number(minutes)} min"),
            Figure(f"{mean:.1f} °C", "on average"),
        ),
        formula=(
            f"{number(room_celsius)} + ({number(start_celsius)} − {number(room_celsius)}) × "
            f"exp(−{number(minutes)} ÷ {number(tau_minutes)}) = {end:.2f} °C",
        ),
        source=(source_of(cooled_celsius), source_of(mean_celsius)),
        remarks=("An estimate: the time constant is the tank's own. Measure it once with plain water.",),
    )


def develop(
    *,
    minutes: float,
    at_celsius: float,
    now_celsius: float,
    q10: float,
    low_celsius: float,
    high_celsius: float,
    thermometer_celsius: float,
) -> Answer:
    """Developing time at today's temperature, and what the thermometer makes of it.

    Raises OutOfRange outside the range for which the coefficient holds, and for a range that leaves out `at_celsius`.
    """
    rule = TimeRule(minutes, at_celsius, q10, low_celsius, high_celsius)
    try:
        wanted = develop_minutes(rule=rule, celsius=now_celsius)
    except TooShort as short:
        wanted = short.minutes
        warnings: tuple[str, ...] = (
            f"{_clock(wanted)} is under {number(short.least_minutes)} min: development would be "
            "uneven. Bring the developer back down.",
        )
    else:
        warnings = ()
    share = time_error_share(q10=q10, celsius_error=thermometer_celsius)
    if thermometer_celsius > COUNTED_ON_CELSIUS:
        remarks: tuple[str, ...] = (
            "A film developer wants a thermometer good to ± 0.25 °C: common practice, no source.",
        )
    else:
        remarks = ()
    return Answer(
        figures=(Figure(_clock(wanted), f"at {number(now_celsius)} °C", f"{wanted:.2f} min"),),
        formula=(
            f"{number(minutes)} min × {number(q10)}^(({number(at_celsius)} − {number(now_celsius)}) ÷ 10) = "
            f"{wanted:.2f} min",
        ),
        source=(source_of(develop_minutes),),
        margin=f"Development ± {percent(share)} for a thermometer good to ± {number(thermometer_celsius)} °C.",
        warnings=warnings,
        remarks=(
            f"Holds from {number(low_celsius)} to {number(high_celsius)} °C for film. The maker's chart comes first.",
            *remarks,
        ),
    )


def _clock(minutes: float) -> str:
    return duration(SECONDS_COUNTED * round(60 * minutes / SECONDS_COUNTED))
