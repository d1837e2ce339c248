"""Sums of the bench on the command line, from the same functions as its page.

They need no lab and no database; where there is one, they take its measuring cylinders, as the page does.
"""

import json
from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

import click

from labsys.bench.cylinders import NOT_LOOKED_UP, OWN_CYLINDERS, LabHere, lab_here, to_measure_with
from labsys.bench.fields import NotANumber, read_number
from labsys.bench.in_text import CannotBeWorkedOut, asked, fields_of, in_keys, in_text, typed
from labsys.bench.mixing import Dilute
from labsys.bench.questions import GROUPS
from labsys.bench.results import sentence
from labsys.bench.warmth import THERMOMETER_CELSIUS, Tempering, WaterWanted, temper, tempered
from labsys.chemistry.care import NEED_OF, SolutionKind, measure_mix
from labsys.chemistry.dilution import Dilution, parse_dilution, split
from labsys.chemistry.errors import CalculationError
from labsys.chemistry.measuring import CannotMeasure, Cylinder
from labsys.labware.queries import cylinders_for_water
from labsys.planning.warmth import USUAL_ROOM_CELSIUS
from labsys.quantities import UL_PER_ML, QuantityError, parse_volume, read_customary

_JSON_HELP = "Print one JSON object; its keys carry their units."


class Volume(NamedTuple):
    """A volume, and how it was typed. [mL]"""

    ml: float
    text: str


class _Written(click.ParamType[Any]):
    """A parameter that is read by one of our own functions."""

    def __init__(self, name: str, read: Callable[[str], Any]):
        self.name = name
        self.read = read

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        if not isinstance(value, str):  # a default
            return value
        try:
            return self.read(value)
        except (CalculationError, QuantityError) as error:
            raise CannotBeWorkedOut(sentence(error)) from error
        except NotANumber as error:
            named = f"{param.opts[0]}: " if param else ""
            raise CannotBeWorkedOut(f"{named}“{value}” is not a number of degrees Celsius.") from error


_DILUTION = _Written("dilution", parse_dilution)
_VOLUME = _Written("volume", lambda text: Volume(parse_volume(text) / UL_PER_ML, text))
_CELSIUS = _Written("celsius", read_number)


@click.command("bench")
@click.argument("question", required=False)
@click.argument("answers", nargs=-1, metavar="[FIELD=VALUE]...")
@click.option("--json", "as_json", is_flag=True, help=_JSON_HELP)
def bench(question: str | None, answers: tuple[str, ...], as_json: bool) -> None:
    """Answer any question of the bench page: labsys bench develop minutes=9:30 now=22

    Without a question, list them; with a question alone, list its fields. A field given twice is two lines. The answer
    is the page's own, with the measuring cylinders of the lab here; without a lab it takes common ones and says so.
    Exit 2 if it cannot be worked out.

    The keys of --json: figures, each with amount, what and how; margin, warnings, remarks, formula, source.
    """
    known = {kind.key: kind for _, kinds in GROUPS for kind in kinds}
    if question is None:
        click.echo("\n".join(f"{key}: {kind.title}" for key, kind in known.items()))
        return
    if question not in known:
        raise CannotBeWorkedOut(f"“{question}” is no question of the bench. Ask one of: {', '.join(known)}.")
    if not answers:
        click.echo("\n".join(fields_of(known[question])))
        return
    answer = asked(known[question], typed(answers))
    click.echo(json.dumps(in_keys(answer), ensure_ascii=False) if as_json else in_text(answer))


@click.command()
@click.argument("dilution", type=_DILUTION)
@click.argument("volume", type=_VOLUME)
@click.option(
    "--kind",
    type=click.Choice([str(kind) for kind in SolutionKind]),
    default=str(SolutionKind.DEVELOPER),
    show_default=True,
    help="Decides how exactly it has to be measured.",
)
@click.option("--json", "as_json", is_flag=True, help=_JSON_HELP)
def mix(dilution: Dilution, volume: Volume, kind: str, as_json: bool) -> None:
    """Work out what to measure out: labsys mix 1+6 2500ml

    DILUTION is 1+N, 1+1+N for two concentrates, "stock", millilitres per litre ("10 ml/L") or percent ("2 %"). VOLUME
    is what you need, with its unit. The cylinder is chosen from those of the lab here; without a lab from the common
    sizes, class B of ISO 4788. Exit 2 if something cannot be read.

    The keys of --json: concentrate_ml, of all concentrates together; concentrates_ml, a list of A and B, where there
    are two; water_ml, working_ml; cylinder, for the concentrate; relative_error, how far off the strength may be at
    worst, as a share; both null where no cylinder measures so little; cylinders, a sentence, where they are a lab's.
    """
    if not as_json:
        click.echo(in_text(asked(Dilute, {"dilution": str(dilution), "volume": volume.text, "kind": kind})))
        return
    try:
        parts = split(dilution=dilution, working_ml=volume.ml)
    except CalculationError as error:
        raise CannotBeWorkedOut(sentence(error)) from error
    here = lab_here()
    cylinders, whose = _to_measure_with(here, SolutionKind(kind))
    try:
        mixed = measure_mix(
            dilution=dilution,
            working_ml=volume.ml,
            owned=cylinders,
            need=NEED_OF[SolutionKind(kind)],
            for_water=cylinders_for_water(here.cylinders if here else [], SolutionKind(kind)),
        )
    except CannotMeasure:
        mixed = None
    each = [round(float(volume_ml), 3) for volume_ml in dilution.each(parts.concentrate_ml)]
    result = {
        "concentrate_ml": round(float(parts.concentrate_ml), 3),
        "water_ml": round(float(parts.water_ml), 3),
        "working_ml": round(float(parts.working_ml), 3),
        **({"concentrates_ml": each} if dilution.is_in_parts else {}),
        "cylinder": f"{mixed.concentrate.fills[0].cylinder.nominal_ml:g} mL" if mixed else None,
        "relative_error": round(mixed.error.worst, 4) if mixed else None,
        **_told_of(whose),
    }
    click.echo(json.dumps(result, ensure_ascii=False))


def _to_measure_with(here: LabHere | None, kind: SolutionKind) -> tuple[Sequence[Cylinder], str]:
    """The cylinders of the lab here, None where there is none, and a sentence that says whose they are."""
    cylinders, whose = to_measure_with(here.cylinders if here else [], kind)
    return cylinders, NOT_LOOKED_UP if here is None else whose


def _told_of(whose: str) -> dict[str, str]:
    """The key that says that a lab's own cylinders are taken; left out where they are common ones."""
    return {"cylinders": whose} if whose.startswith(OWN_CYLINDERS) else {}


@click.command("temper")
@click.option("--target", type=_CELSIUS, required=True, help="Temperature wanted, 5 to 60 °C.")
@click.option("--volume", type=_VOLUME, required=True, help="What you need, with its unit: 2500ml or 2.5L.")
@click.option("--hot", type=_CELSIUS, required=True, help="Hot tap, up to 65 °C.")
@click.option("--cold", type=_CELSIUS, required=True, help="Cold tap, from 0 °C.")
@click.option("--concentrate", type=_DILUTION, help="Dilution, such as 1+6, if a concentrate goes into it.")
@click.option(
    "--room",
    type=_CELSIUS,
    default=USUAL_ROOM_CELSIUS,
    show_default=True,
    help="Room, and the concentrate that stands in it, 0 to 45 °C.",
)
@click.option("--json", "as_json", is_flag=True, help=_JSON_HELP)
def temper_command(
    target: float, volume: Volume, hot: float, cold: float, concentrate: Dilution | None, room: float, as_json: bool
) -> None:
    """Work out hot and cold water: labsys temper --target 20 --volume 2500ml --hot 50 --cold 8

    Temperatures are in degrees Celsius. Exit 2 if one cannot be meant, or the taps do not reach the target.

    The keys of --json: hot_ml, cold_ml; concentrate_ml, 0 without a dilution; water_ml, hot and cold together;
    water_celsius, which that water has; target_celsius; error_celsius, how far off it may be at worst, with the
    lab's thermometers, else one good to half a degree; cylinders, a sentence, where they are a lab's; warnings, a list
    of sentences.
    """
    here = lab_here()
    cylinders, whose = _to_measure_with(here, SolutionKind.DEVELOPER)
    thermometer = here.instruments.thermometer if here else None
    try:
        wanted = WaterWanted(
            working_ml=volume.ml,
            target_celsius=target,
            hot_celsius=hot,
            cold_celsius=cold,
            dilution=concentrate,
            room_celsius=room,
            thermometer_celsius=thermometer.off if thermometer else THERMOMETER_CELSIUS,
        )
        tempering = temper(wanted=wanted, cylinders=cylinders)
    except CalculationError as error:
        raise CannotBeWorkedOut(sentence(error)) from error
    if as_json:
        click.echo(json.dumps({**_as_keys(tempering), **_told_of(whose)}, ensure_ascii=False))
    else:
        answer = tempered(wanted=wanted, tempering=tempering, whose=whose)
        customary = read_customary(volume.text)
        click.echo(in_text(answer.in_measures_of(customary.system) if customary else answer))


def _as_keys(tempering: Tempering) -> dict[str, Any]:
    return {
        "hot_ml": round(tempering.mix.hot_ml, 1),
        "cold_ml": round(tempering.mix.cold_ml, 1),
        "concentrate_ml": round(tempering.mix.concentrate_ml, 1),
        "water_ml": round(tempering.water_ml, 1),
        "water_celsius": round(tempering.mix.water_celsius, 2),
        "target_celsius": tempering.mix.working_celsius,
        "error_celsius": round(tempering.error.worst, 2),
        "warnings": list(tempering.warnings),
    }
