"""Temperature at the bench: hot and cold water to a target, a solution that cools."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from wtforms import Field

from labsys.bench.cylinders import to_measure_with
from labsys.bench.fields import CelsiusField, DilutionField, GramsField, MinutesField, NumberField
from labsys.bench.forms import MINUTES_OF_A_DAY, Question, choice_field, volume_field
from labsys.bench.mixing import concentrate_names
from labsys.bench.results import Answer, Figure, ml, number, source_of
from labsys.chemistry.care import SolutionKind
from labsys.chemistry.celsius import check_celsius
from labsys.chemistry.dilution import Dilution, split
from labsys.chemistry.errors import check_above
from labsys.chemistry.measuring import CannotMeasure, Cylinder, choose_cylinder
from labsys.chemistry.spread import spread
from labsys.chemistry.temperature import (
    CelsiusError,
    Portion,
    WarmMix,
    cooled_celsius,
    mean_celsius,
    mix_to_temperature,
    mixed_celsius_error,
    mixed_celsius_exact,
    time_constant_minutes,
    water_to_temperature,
)
from labsys.chemistry.water import water_equivalent_ml
from labsys.equipment.rules import Counted
from labsys.forms import given
from labsys.labware.models import OwnedCylinder
from labsys.planning.warmth import USUAL_ROOM_CELSIUS, cold_water_warning

TARGET_CELSIUS = (5.0, 60.0)
TAP_CELSIUS = (0.0, 65.0)
ROOM_CELSIUS = (0.0, 45.0)
THERMOMETER_CELSIUS = 0.5  # common practice, no source: an ordinary darkroom thermometer
WARMER_THAN_USUAL_CELSIUS = 45.0  # no bath of an ordinary process is warmer: common practice, no source
HEAT_OF = {"plastic": 1.7, "steel": 0.5, "glass": 0.84}  # [J/(g K)], from memory
COLD_TAP_IS_WARM_CELSIUS = 30.0  # so is a cold tap


def thermometer_field() -> NumberField:
    return NumberField("Thermometer good to ±", low=0, high=5, unit="°C", default="0.5")


def _check(name: str, celsius: float, within: tuple[float, float]) -> None:
    check_celsius(name=name, value=celsius, low=within[0], high=within[1])


@dataclass(frozen=True, slots=True, kw_only=True)
class WaterWanted:
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
    vessel: Portion | None = None

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
    exact_celsius: float
    warnings: tuple[str, ...]

    @property
    def water_ml(self) -> float:
        return self.mix.hot_ml + self.mix.cold_ml


def temper(*, wanted: WaterWanted, cylinders: Sequence[Cylinder]) -> Tempering:
    """Work out hot and cold water, with a concentrate at room temperature where there is one.

    Raises OutOfRange for a volume, and NotReachable where the taps do not reach the target.
    """
    if wanted.dilution is None:
        mix = water_to_temperature(
            water_ml=wanted.working_ml,
            wanted_celsius=wanted.target_celsius,
            cold_celsius=wanted.cold_celsius,
            hot_celsius=wanted.hot_celsius,
            vessel=wanted.vessel,
        )
    else:
        mix = mix_to_temperature(
            parts=split(dilution=wanted.dilution, working_ml=wanted.working_ml),
            wanted_celsius=wanted.target_celsius,
            concentrate_celsius=wanted.room_celsius,
            cold_celsius=wanted.cold_celsius,
            hot_celsius=wanted.hot_celsius,
            vessel=wanted.vessel,
        )
    poured = (
        (mix.concentrate_ml, wanted.room_celsius),
        (mix.hot_ml, wanted.hot_celsius),
        (mix.cold_ml, wanted.cold_celsius),
    )
    portions = [
        Portion(volume, celsius, _volume_error(volume, cylinders), wanted.thermometer_celsius)
        for volume, celsius in poured
        if volume > 0
    ]
    exact = mixed_celsius_exact(portions=[*portions, *((wanted.vessel,) if wanted.vessel else ())])
    return Tempering(mix, mixed_celsius_error(portions=portions), exact, tuple(_doubts(wanted)))


def _volume_error(volume_ml: float, cylinders: Sequence[Cylinder]) -> float:
    """Limit of the measurement; what no cylinder can measure is left out altogether, and is that far off."""
    try:
        return choose_cylinder(volume_ml=volume_ml, owned=cylinders).worst_error_ml
    except CannotMeasure:
        return volume_ml


def _doubts(wanted: WaterWanted) -> Iterator[str]:
    """What is odd about the temperatures, though they can be worked with."""
    if wanted.cold_celsius < wanted.target_celsius and (cold := cold_water_warning(wanted.cold_celsius)):
        yield cold
    if wanted.target_celsius > WARMER_THAN_USUAL_CELSIUS:
        yield f"{number(wanted.target_celsius)} °C is warmer than any usual bath. Is it really meant in °C?"
    if wanted.cold_celsius > COLD_TAP_IS_WARM_CELSIUS:
        yield f"{number(wanted.cold_celsius)} °C is warm for a cold tap. Is it really meant in °C?"


def tempered(*, wanted: WaterWanted, tempering: Tempering, whose: str) -> Answer:
    """Say what to pour together; `whose` says whose cylinders it is measured with."""
    mix, target = tempering.mix, number(wanted.target_celsius)
    hot, cold, room = number(wanted.hot_celsius), number(wanted.cold_celsius), number(wanted.room_celsius)
    figures = [Figure.of_ml(mix.hot_ml, f"hot, at {hot} °C"), Figure.of_ml(mix.cold_ml, f"cold, at {cold} °C")]
    taken_up = f" + {ml(wanted.vessel.volume_ml)} × ({target} − {room})" if wanted.vessel else ""
    formula = [
        f"Hot = {ml(tempering.water_ml)} × ({mix.water_celsius:.2f} − {cold}) ÷ ({hot} − {cold}) = {ml(mix.hot_ml)}"
    ]
    if mix.concentrate_ml:
        dilution = given(wanted.dilution)
        figures += [
            Figure.of_ml(float(volume_ml), f"{'concentrate' if dilution.is_stock else name}, at {room} °C")
            for name, volume_ml in zip(
                concentrate_names(dilution), dilution.each(Fraction(mix.concentrate_ml)), strict=True
            )
        ]
        formula.insert(
            0,
            f"Water at ({number(wanted.working_ml)} × {target} − {mix.concentrate_ml:.1f} × {room}{taken_up}) "
            f"÷ {tempering.water_ml:.1f} = {mix.water_celsius:.2f} °C",
        )
    return Answer(
        figures=tuple(figures),
        formula=tuple(formula),
        source=(
            source_of(mix_to_temperature),
            source_of(mixed_celsius_error),
            source_of(mixed_celsius_exact),
            *(("Heat capacities of vessels: from memory",) if wanted.vessel else ()),
        ),
        margin=f"{target} °C ± {tempering.error.worst:.1f} °C at worst, ± {tempering.error.likely:.1f} °C likely, "
        f"with a thermometer good to ± {number(wanted.thermometer_celsius)} °C.",
        warnings=tempering.warnings,
        remarks=(
            f"By mass and enthalpy it comes out at {tempering.exact_celsius:.2f} °C: hot water is lighter.",
            f"The vessel counts as {ml(wanted.vessel.volume_ml)} of water at {room} °C."
            if wanted.vessel
            else "Read the thermometer before you use it: a cold tank takes some of the warmth.",
            whose,
        ),
    )


class Temper(Question):
    """Hot and cold water to a temperature, with a concentrate where there is one."""

    key = "temper"
    title = "Hot and cold water to a temperature"
    volume = volume_field("Volume wanted")
    target = CelsiusField("Temperature wanted", low=5, high=60, default="20")
    hot = CelsiusField("Hot tap", low=1, high=65)
    cold = CelsiusField("Cold tap", low=0, high=45)
    dilution = DilutionField(
        "Dilution", optional=True, description="Only if a concentrate goes into it; it stands at room temperature."
    )
    room = CelsiusField("Room", low=0, high=45, default="20")
    thermometer = thermometer_field()
    vessel = choice_field("Poured into", [("", "not counted"), *((key, key) for key in HEAT_OF)])
    weight = GramsField(
        "It weighs", low=0, high=100_000, above_low=True, optional=True, description="Empty, at room warmth."
    )

    def conflicts(self) -> Iterator[tuple[Field, str]]:
        if bool(self.vessel.data) != (self.weight.amount is not None):
            yield self.weight, "To count the vessel, say what it is of and what it weighs; else neither."
        if self.hot.value <= self.cold.value:
            yield self.hot, "The hot tap has to be warmer than the cold one."

    @property
    def _vessel(self) -> Portion | None:
        """The vessel as the water that takes up as much heat, at the temperature of the room. [mL, °C]"""
        if self.weight.amount is None:
            return None
        equivalent = water_equivalent_ml(
            grams=self.weight.amount, joules_per_gram_kelvin=HEAT_OF[self.vessel.data], celsius=self.room.value
        )
        return Portion(equivalent, self.room.value)

    def answer(self, owned: Sequence[OwnedCylinder]) -> Answer:
        wanted = WaterWanted(
            working_ml=self.volume.ml,
            target_celsius=self.target.value,
            hot_celsius=self.hot.value,
            cold_celsius=self.cold.value,
            dilution=self.dilution.dilution,
            room_celsius=self.room.value,
            thermometer_celsius=self.thermometer.value,
            vessel=self._vessel,
        )
        cylinders, whose = to_measure_with(owned, SolutionKind.DEVELOPER)
        return tempered(wanted=wanted, tempering=temper(wanted=wanted, cylinders=cylinders), whose=whose)


class Cool(Question):
    """How far a standing solution drifts towards the room."""

    key = "cool"
    title = "How far does it cool?"
    start = CelsiusField("At the start", low=0, high=65)
    room = CelsiusField("Room or water around it", low=0, high=45, default="20")
    minutes = MinutesField("It stands for", low=0, high=MINUTES_OF_A_DAY, above_low=True)
    tau = NumberField(
        "Time constant",
        low=0,
        high=MINUTES_OF_A_DAY,
        unit="min",
        above_low=True,
        default="60",
        description="A 500 mL tank: plastic in still air 45 to 90, steel 25 to 45, in a stirred jacket 5 to 15.",
    )
    read_at = MinutesField(
        "Or read again after",
        low=0,
        high=MINUTES_OF_A_DAY,
        above_low=True,
        optional=True,
        description="With plain water in it: its own time constant comes from that reading.",
    )
    read = CelsiusField("And then it was", low=0, high=65, optional=True)

    def conflicts(self) -> Iterator[tuple[Field, str]]:
        if (self.read_at.amount is None) != (self.read.amount is None):
            yield self.read, "For a time constant give both: when it was read again, and what it was then."
        elif self.read.amount is not None:
            low, high = sorted((self.start.value, self.room.value))
            if not low < self.read.amount < high:
                yield self.read, f"It drifts towards the room: the reading lies between {low:g} and {high:g} °C."

    @property
    def _tau(self) -> float:
        """The time constant: from the reading where there is one. [min]"""
        if self.read.amount is None:
            return self.tau.value
        return time_constant_minutes(
            start_celsius=self.start.value,
            end_celsius=self.read.amount,
            room_celsius=self.room.value,
            minutes=self.read_at.value,
        )

    def answer(self, owned: Sequence[OwnedCylinder]) -> Answer:
        start, room, minutes, tau = self.start.value, self.room.value, self.minutes.value, self._tau
        drift = {"start_celsius": start, "room_celsius": room, "tau_minutes": tau, "minutes": minutes}
        end = cooled_celsius(**drift)
        return Answer(
            figures=(
                Figure(f"{end:.1f} °C", f"after {number(minutes)} min"),
                Figure(f"{mean_celsius(**drift):.1f} °C", "on average"),
                *((Figure(f"{tau:.1f} min", "time constant", "By your reading."),) if self.read.amount else ()),
            ),
            formula=(
                f"{number(room)} + ({number(start)} − {number(room)}) × exp(−{number(minutes)} ÷ {number(tau)}) = "
                f"{end:.2f} °C",
            ),
            source=(source_of(cooled_celsius), source_of(mean_celsius)),
            margin=_drift_margin(drift, self.instruments.thermometer),
            remarks=("An estimate: the time constant is the tank's own. Measure it once with plain water.",),
        )


def _drift_margin(drift: Mapping[str, float], thermometer: Counted | None) -> str:
    """How far the end may be off for the lab's thermometers, else an ordinary one, and a time constant good to a
    quarter."""
    off = thermometer.off if thermometer else THERMOMETER_CELSIUS
    low, high = spread(
        cooled_celsius, values=drift, errors={"start_celsius": off, "tau_minutes": drift["tau_minutes"] / 4}
    )
    return (
        f"{low:.1f} to {high:.1f} °C in the end, for a thermometer good to ± {number(off)} °C and a time "
        "constant good to a quarter."
    )
