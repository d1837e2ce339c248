"""Time and temperature of a step in words: development, water tempered from the taps, and the wash."""

from dataclasses import dataclass, replace

from labsys.chemistry.development import (
    TimeRule,
    TooShort,
    develop_minutes,
    fix_and_wash_factor,
    least_minutes_for,
    minutes_in_used,
)
from labsys.chemistry.dilution import Parts
from labsys.chemistry.errors import OutOfRange
from labsys.chemistry.sizes import Material
from labsys.chemistry.temperature import NotReachable, WarmMix, mix_to_temperature, water_to_temperature
from labsys.planning.facts import ChosenFilm, Conditions, Developing, Step
from labsys.quantities import duration

# All common practice, no source.
HELD_AS_GOOD_CELSIUS = 0.5  # 20.5 °C is as good as 20 °C, if it is the same every time
WASHES_BADLY_BELOW_CELSIUS = 7.0
CLOSE_ENOUGH_CELSIUS = 1.0  # water this near to the step's temperature needs no tempering
USUAL_ROOM_CELSIUS = 20.0

_COUNTED_SECONDS = 5  # finer than this nobody pours


@dataclass(frozen=True, slots=True)
class Timed:
    """How long a step takes, None where that is not known, and what has to be said about it."""

    seconds: int | None
    remark: str = ""
    is_settled: bool = True


def _not_settled(remark: str, *, seconds: int | None = None) -> Timed:
    return Timed(seconds, remark, is_settled=False)


def developing_time(
    *,
    step: Step,
    material: Material,
    celsius: float | None,
    film: ChosenFilm | None = None,
    used_per_litre: float = 0.0,
) -> Timed:
    """Return the time of a developing step at the temperature it will have.

    A film's time comes from the lab's own table. That of the process stands in only where it says that it is the time
    of every film.

    Parameters:
        step: The step as the process is written. [s, °C]
        material: Film, RC or fibre. [-]
        celsius: Temperature of the developer today, or None where it will be that of the process. [°C]
        film: The film with its rows of the table, None where nobody said which. [-]
        used_per_litre: Rolls that went through a litre of the developer already. [1/L]
    Returns:
        The time, None where nothing can be said, and a remark. [s]
    Source:
        `labsys.chemistry.development`: by the developer's own data where they are entered, else for film from 18 to
        24 °C. Half a degree more or less, or what the step allows, held the same every time is left alone: common
        practice, no source.
    """
    if material is not Material.FILM:
        return _by_process(step, material, celsius)
    if film is not None and film.rows:
        return _by_row(step, film, celsius, used_per_litre)
    if not step.any_film:
        return _not_settled(_not_known(step, film))
    if used_per_litre:
        return _not_settled(f"{_used(used_per_litre)}; how much longer it needs then is not stated.")
    timed = _by_process(step, material, celsius)
    if film is None or timed.seconds is None:
        return timed
    return replace(timed, remark=f"No row for {film.words}: the time of every film. {timed.remark}".strip())


def _not_known(step: Step, film: ChosenFilm | None) -> str:
    if film is None:
        return "The time is the film's own: choose film, exposure index and agitation. None stands for all of them."
    solution = f"{step.solution.product} {step.solution.strength}" if step.solution else "this developer"
    return (
        f"Not known for this film: the lab's developing times have no row for {film.words} in {solution} in this "
        "format. Take it from the data sheet, and have it entered."
    )


def _used(used_per_litre: float) -> str:
    return f"{used_per_litre:.3g} rolls went through each litre of this developer"


def _by_row(step: Step, film: ChosenFilm, celsius: float | None, used_per_litre: float) -> Timed:
    """The time by the row nearest in temperature, made longer for a used developer as the row states."""
    wanted = step.celsius if celsius is None else celsius
    row = min(film.rows, key=lambda row: abs(row.celsius - (row.celsius if wanted is None else wanted)))
    said = f"{film.words}: {duration(row.seconds)} at {row.celsius:g} °C ({row.source})."
    seconds = row.seconds
    if used_per_litre and row.longer_share is None:
        return _not_settled(f"{said} {_used(used_per_litre)}; how much longer it needs then is not stated.")
    if used_per_litre and row.longer_share:
        minutes = minutes_in_used(
            minutes=row.seconds / 60,
            units_per_litre=used_per_litre,
            free_per_litre=row.free_per_litre,
            longer_share=row.longer_share,
        )
        seconds = _counted(60 * minutes)
        said = f"{said} {_used(used_per_litre)}: {duration(seconds)} by the same row."
    own = step.solution.developing if step.solution is not None else Developing()
    timed = _at_today(seconds, row.celsius, None, celsius=wanted, own=own, material=Material.FILM)
    return replace(timed, remark=f"{said} {timed.remark}".strip())


def _by_process(step: Step, material: Material, celsius: float | None) -> Timed:
    """The time the process gives, at today's temperature."""
    if step.solution is not None and step.solution.dilution != step.solution.usual_dilution:
        return _not_settled(f"No time is entered for {step.solution.strength}: take it from the product's data sheet.")
    if step.seconds is None or step.celsius is None:
        return Timed(step.seconds)
    own = step.solution.developing if step.solution is not None else Developing()
    return _at_today(step.seconds, step.celsius, step.celsius_off, celsius=celsius, own=own, material=material)


def _at_today(
    written_seconds: int,
    at_celsius: float,
    celsius_off: float | None,
    *,
    celsius: float | None,
    own: Developing,
    material: Material,
) -> Timed:
    """A time that is written for one temperature, at today's."""
    if celsius is None or celsius == at_celsius:
        return Timed(written_seconds)
    usual = at_temperature(at_celsius, celsius_off)
    if abs(celsius - at_celsius) <= (celsius_off or HELD_AS_GOOD_CELSIUS):
        return Timed(written_seconds, f"{celsius:g} °C held is as good as {usual}, if it is the same every time.")
    bring = f"Bring the developer {'up' if celsius < at_celsius else 'down'} to {usual}."
    rule = _rule(written_seconds, at_celsius, own=own, material=material)
    if rule is None and celsius_off is not None:
        return _not_settled(f"No time can be said for {celsius:g} °C: this step holds {usual}. {bring}")
    if rule is None:
        what = "paper" if material is not Material.FILM else f"a process at {usual}"
        remark = f"This time holds at {usual} only; for {what} no correction is stated. {bring}"
        return _not_settled(remark, seconds=written_seconds)
    try:
        seconds = 60 * develop_minutes(rule=rule, celsius=celsius)
    except OutOfRange:
        return _not_settled(
            f"No time can be said for {celsius:g} °C: the correction holds from {rule.low_celsius:g} to "
            f"{rule.high_celsius:g} °C{_said_by(own)}. {bring}"
        )
    except TooShort as short:
        return _not_settled(
            f"At {celsius:g} °C it would be {short.minutes:.1f} min; under {short.least_minutes:g} min development is "
            f"uneven{_said_by(own)}. {bring}"
        )
    corrected = f"Corrected from {duration(written_seconds)} at {usual}{_by_what(own)}"
    if not rule.least_minutes and seconds < written_seconds:
        corrected = f"{corrected.rstrip('.')}. The time written is short already, and this may come out uneven. {bring}"
    return Timed(_counted(seconds), corrected)


def _counted(seconds: float) -> int:
    return _COUNTED_SECONDS * round(seconds / _COUNTED_SECONDS)


def at_temperature(celsius: float, celsius_off: float | None) -> str:
    """Say a temperature, and how far off it may be.

    >>> at_temperature(38, 0.25), at_temperature(20, None)
    ('38 °C ± 0.25 °C', '20 °C')
    """
    return f"{celsius:g} °C" if celsius_off is None else f"{celsius:g} °C ± {celsius_off:g} °C"


def _by_what(own: Developing) -> str:
    if own.q10 is None:
        return ": an estimate; the maker's chart comes first."
    return f" by this developer's own factor of {own.q10:g} for 10 °C{_said_by(own)}: an estimate."


def _said_by(own: Developing) -> str:
    return f" ({own.source})" if own.source else ""


def _rule(seconds: int, celsius: float, *, own: Developing, material: Material) -> TimeRule | None:
    """The developer's own rule, filled up for film from the general one; None where the process lies outside it."""
    if own.q10 is None and material is not Material.FILM:
        return None
    told = {
        "q10": own.q10,
        "low_celsius": own.low_celsius,
        "high_celsius": own.high_celsius,
        "least_minutes": 0.0
        if own.least_minutes is None and material is not Material.FILM
        else least_minutes_for(minutes=seconds / 60, own=own.least_minutes),
    }
    try:
        return TimeRule(
            minutes=seconds / 60,
            at_celsius=celsius,
            **{name: value for name, value in told.items() if value is not None},
        )
    except OutOfRange:
        return None


def working_celsius(*, step: Step, developer: Step | None, conditions: Conditions) -> float | None:
    """Return the temperature of a step today: what the process runs at the developer's temperature follows it. [°C]"""
    if developer is None or conditions.developer_celsius is None or step.celsius != developer.celsius:
        return step.celsius
    return conditions.developer_celsius


@dataclass(frozen=True, slots=True)
class Tempered:
    """Hot and cold water for one filling, or why there are none; `sentence` says either. [mL, °C]"""

    sentence: str
    mix: WarmMix | None = None


def temper_mix(*, parts: Parts, celsius: float, conditions: Conditions) -> Tempered | None:
    """Return hot and cold water for a fresh mix, or None where a tap's temperature is not known.

    Raises OutOfRange where a temperature is, or the hot tap is not warmer than the cold.
    """
    cold, hot = conditions.cold_celsius, conditions.hot_celsius
    if cold is None or hot is None or not parts.water_ml:
        return None
    room = USUAL_ROOM_CELSIUS if conditions.room_celsius is None else conditions.room_celsius
    try:
        mix = mix_to_temperature(
            parts=parts, wanted_celsius=celsius, concentrate_celsius=room, cold_celsius=cold, hot_celsius=hot
        )
    except NotReachable as error:
        return Tempered(f"{error}.")
    return Tempered(f"Water at {mix.water_celsius:.1f} °C: {_taps(mix)}.", mix)


def temper_water(*, water_ml: float, celsius: float, conditions: Conditions) -> Tempered | None:
    """Return hot and cold water for a filling without concentrate, or None where no tempering is needed or known."""
    cold, hot = conditions.cold_celsius, conditions.hot_celsius
    if cold is None or hot is None or abs(cold - celsius) <= CLOSE_ENOUGH_CELSIUS:
        return None
    try:
        mix = water_to_temperature(water_ml=water_ml, wanted_celsius=celsius, cold_celsius=cold, hot_celsius=hot)
    except NotReachable as error:
        return Tempered(f"{error}.")
    return Tempered(f"Each filling: {_taps(mix)}.", mix)


def cold_water_warning(cold_celsius: float | None) -> str:
    """Say that mains water has to be tempered before it washes, or nothing.

    Source:
        Under about 7 °C water does not wash well; winter mains are at 3 to 4 °C: common practice, no source.

    >>> cold_water_warning(4)
    'Mains water at 4 °C does not wash well: under about 7 °C it needs tempering.'
    >>> cold_water_warning(12)
    ''
    """
    if cold_celsius is None or cold_celsius >= WASHES_BADLY_BELOW_CELSIUS:
        return ""
    return f"Mains water at {cold_celsius:g} °C does not wash well: under about 7 °C it needs tempering."


def slower_wash(*, celsius: float, conditions: Conditions) -> str:
    """Say how much longer cold water takes to wash where there is no hot to temper it with, or nothing."""
    cold = conditions.cold_celsius
    if cold is None or conditions.hot_celsius is not None or cold < WASHES_BADLY_BELOW_CELSIUS:
        return ""
    if not cold < celsius - CLOSE_ENOUGH_CELSIUS or celsius > 24:
        return ""
    factor = fix_and_wash_factor(celsius=cold) / fix_and_wash_factor(celsius=celsius)
    return f"Untempered, at {cold:g} °C, it takes {factor:.1f} times as long."


def changes_in_words(*, changes: int, seconds: int | None) -> str:
    """Say how often the water is changed.

    >>> changes_in_words(changes=8, seconds=480)
    '8 changes, one each minute'
    >>> changes_in_words(changes=1, seconds=60)
    '1 change'
    """
    counted = f"{changes} change" if changes == 1 else f"{changes} changes"
    if seconds is None or changes == 1:
        return counted
    each = duration(round(seconds / changes))
    return f"{counted}, one each {'minute' if each == '1 min' else each}"


def _taps(mix: WarmMix) -> str:
    return f"{mix.hot_ml:.0f} mL hot and {mix.cold_ml:.0f} mL cold"
