"""Dilutions at the bench: forwards, backwards, in series, from one strength to another, and the least concentrate."""

from collections.abc import Sequence

from labsys.bench.results import (
    Answer,
    Figure,
    Meaning,
    WhichOne,
    fills_in_words,
    ml,
    number,
    percent,
    sentence,
    source_of,
)
from labsys.chemistry.care import (
    ALLOWED_SHARE,
    KIND_NAMES,
    NEED_OF,
    MeasuredMix,
    SolutionKind,
    least_batch_ml,
    measure_mix,
)
from labsys.chemistry.dilution import (
    AmbiguousDilution,
    Dilution,
    in_series,
    split,
    split_to_percent,
    working_from_concentrate,
)
from labsys.chemistry.least_concentrate import Forced, fill_for_films, weakest_dilution
from labsys.chemistry.measuring import LIMITS, CannotMeasure, Cylinder, CylinderClass, Standard, choose_cylinder

COMMON_CYLINDERS = tuple(
    Cylinder(size, row.divisions_ml[0], CylinderClass.B) for size, row in LIMITS[Standard.ISO_4788].items()
)
NO_CYLINDERS = "No measuring cylinders are entered in the chemical store: common sizes, class B of ISO 4788, are taken."


def dilute(*, dilution: Dilution, working_ml: float, kind: SolutionKind, cylinders: Sequence[Cylinder]) -> Answer:
    """Concentrate and water for a volume, which cylinders to use, and whether they are exact enough."""
    parts = split(dilution=dilution, working_ml=working_ml)
    concentrate, water = float(parts.concentrate_ml), float(parts.water_ml)
    owned = cylinders or COMMON_CYLINDERS
    try:
        mix = measure_mix(dilution=dilution, working_ml=working_ml, owned=owned, need=NEED_OF[kind])
    except CannotMeasure as refusal:
        how, margin = ("", ""), ""
        warnings: tuple[str, ...] = (f"{sentence(refusal)} {_larger(dilution, owned, kind)}",)
    else:
        how = (fills_in_words(mix.concentrate), fills_in_words(mix.water) if mix.water else "")
        margin, warnings = _judged(mix, dilution, owned, kind)
    what = "undiluted" if dilution.is_stock else "concentrate"
    figures = [Figure(ml(concentrate), what, how[0])]
    if water:
        figures.append(Figure(ml(water), "water", how[1]))
    return Answer(
        figures=tuple(figures),
        formula=(
            f"Concentrate = {number(working_ml)} mL ÷ ({number(float(dilution.water_parts))} + 1) = {ml(concentrate)}",
            f"Water = {number(working_ml)} mL − {ml(concentrate)} = {ml(water)}",
        ),
        source=(source_of(split), source_of(choose_cylinder)),
        margin=margin,
        warnings=warnings,
        remarks=((f"As {dilution}.",) + (() if cylinders else (NO_CYLINDERS,))),
    )


def _judged(
    mix: MeasuredMix, dilution: Dilution, owned: Sequence[Cylinder], kind: SolutionKind
) -> tuple[str, tuple[str, ...]]:
    """How far off the strength may be, and what to do where that is too far."""
    allowed = f"{KIND_NAMES[kind]} allows ± {100 * ALLOWED_SHARE[mix.need]:.0f} %"
    margin = f"Strength ± {percent(mix.error.worst)} at worst, ± {percent(mix.error.likely)} likely; {allowed}"
    if mix.is_good_enough:
        return f"{margin}: good enough.", ()
    return f"{margin}.", (f"Not exact enough for {KIND_NAMES[kind]}. {_larger(dilution, owned, kind)}",)


def _larger(dilution: Dilution, owned: Sequence[Cylinder], kind: SolutionKind) -> str:
    least = least_batch_ml(dilution=dilution, owned=owned, need=NEED_OF[kind])
    if least is None:
        return "None of these cylinders measures finely enough: use a finer one."
    return f"Use a finer cylinder, mix {ml(least)} or more at once, or dilute in two steps."


def which_reading(*, ambiguous: AmbiguousDilution, working_ml: float | None = None) -> WhichOne:
    """Ask which of two readings is meant, and show what each would give."""
    if working_ml is None:
        gives = tuple(f"{percent(float(one.strength))} concentrate" for one in (ambiguous.plus, ambiguous.made_up_to))
    else:
        gives = tuple(
            f"{ml(float(one.concentrate_ml))} concentrate and {ml(float(one.water_ml))} water"
            for one in ambiguous.at(working_ml=working_ml)
        )
    words = (f"parts of water added: {ambiguous.plus}", f"parts in all: {ambiguous.made_up_to}")
    return WhichOne(
        asks=f"“{ambiguous.text}” has two meanings, and the second is {number(float(ambiguous.strength_ratio))} times "
        "as strong. Look at the bottle or the data sheet: which is meant?",
        meanings=tuple(
            Meaning(str(one), f"{said}, {given}")
            for one, said, given in zip((ambiguous.plus, ambiguous.made_up_to), words, gives, strict=True)
        ),
    )


def make_from(*, dilution: Dilution, concentrate_ml: float) -> Answer:
    """How much working solution what is left in the bottle makes."""
    parts = working_from_concentrate(dilution=dilution, concentrate_ml=concentrate_ml)
    working = float(parts.working_ml)
    return Answer(
        figures=(
            Figure(ml(working), "working solution"),
            Figure(ml(float(parts.water_ml)), "water to add"),
        ),
        formula=(f"{number(concentrate_ml)} mL × ({number(float(dilution.water_parts))} + 1) = {ml(working)}",),
        source=(source_of(split),),
        remarks=(f"As {dilution}.",),
    )


def series(*, first: Dilution, second: Dilution, working_ml: float) -> Answer:
    """One dilution after another: what it comes to, and what to take of the first solution."""
    whole = in_series(steps=(first, second))
    then = split(dilution=second, working_ml=working_ml)
    take, water = float(then.concentrate_ml), float(then.water_ml)
    before = split(dilution=first, working_ml=then.concentrate_ml)
    return Answer(
        figures=(
            Figure(str(whole), "from concentrate to working solution"),
            Figure(ml(take), f"of the {first} solution", f"With {ml(water)} water."),
        ),
        formula=(
            f"({number(float(first.water_parts))} + 1) × ({number(float(second.water_parts))} + 1) − 1 = "
            f"{number(float(whole.water_parts))} parts of water",
            f"In {number(working_ml)} mL there are {ml(float(before.concentrate_ml))} of the concentrate",
        ),
        source=(source_of(in_series), source_of(split)),
        remarks=(
            f"Make at least {ml(take)} of the {first} solution; keep none of it longer than its data sheet says.",
        ),
    )


def weaken(*, from_percent: float, to_percent: float, working_ml: float) -> Answer:
    """From one percent strength to a weaker one."""
    parts = split_to_percent(from_percent=from_percent, to_percent=to_percent, working_ml=working_ml)
    strong = float(parts.concentrate_ml)
    return Answer(
        figures=(
            Figure(ml(strong), f"of the {number(from_percent)} % solution"),
            Figure(ml(float(parts.water_ml)), "water"),
        ),
        formula=(f"{number(working_ml)} mL × {number(to_percent)} ÷ {number(from_percent)} = {ml(strong)}",),
        source=(source_of(split_to_percent),),
        warnings=("Acid into water, never water into acid.",),
        remarks=("Holds where both strengths are by volume; the bottle and its SDS come first.",),
    )


def least_concentrate(*, dilution: Dilution, films: int, least_ml: float, fill_ml: float, largest_ml: float) -> Answer:
    """Whether a very dilute developer holds enough concentrate for the film, and what to do if not."""
    fill = fill_for_films(
        dilution=dilution, films=films, least_concentrate_ml=least_ml, fill_ml=fill_ml, largest_ml=largest_ml
    )
    needed = films * least_ml * float(dilution.total_parts)
    weakest = weakest_dilution(films=films, least_concentrate_ml=least_ml, working_ml=fill_ml)
    water_parts = int(weakest.water_parts)  # rounded down: never weaker than the film needs
    told = f"In {ml(fill_ml)}, 1+{water_parts} is the weakest that still feeds {films}."
    return Answer(
        figures=(
            Figure(
                ml(float(fill.parts.working_ml)), f"for {fill.films} of {films}" if fill.films < films else "to mix"
            ),
            Figure(ml(float(fill.parts.concentrate_ml)), "concentrate"),
            Figure(ml(float(fill.parts.water_ml)), "water"),
        ),
        formula=(
            f"{films} × {number(least_ml)} mL × ({number(float(dilution.water_parts))} + 1) = {ml(needed)}, "
            f"against a fill of {ml(fill_ml)}",
        ),
        source=(source_of(fill_for_films),),
        warnings=() if fill.forced is Forced.NOTHING else (fill.reason,),
        remarks=((fill.reason,) if fill.forced is Forced.NOTHING else ())
        + (told, "The maker's sheet gives the least."),
    )
