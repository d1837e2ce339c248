"""The hazards of a composition on the command line, from the same function as the pages. It needs no lab."""

import json
from pathlib import Path
from typing import Any

import click

from labsys.bench.composition import BadComposition, read_composition
from labsys.bench.in_text import CannotBeWorkedOut
from labsys.bench.results import sentence
from labsys.chemistry.errors import CalculationError
from labsys.hazards.solution import SolutionHazards, solution_hazards
from labsys.products.rules import read_dilution, show_dilution
from labsys.records.errors import Refused

ESTIMATE = "Estimate, calculated from the ingredients. The supplier's SDS comes first."


@click.command("hazards")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--dilution", default="1+0", help="1+N parts of water, such as 1+4; as it is unless told otherwise.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def hazards(file: Path, dilution: str, as_json: bool) -> None:
    """Work out what a composition can do to a person: labsys hazards developer.toml --dilution 1+4

    FILE is TOML. Of the mixture, where stated: name, ph, ph_used (at the dilution asked), density (g/mL), nation (or
    GB, EU), flash_point, viscosity, unknown_toxicity (a share in %). Then an [[ingredient]] each: cas and percent, such
    as "5-10"; where its sheet states them classes, limits, m_acute, m_chronic, ate_oral, ate_dermal, ate_gas,
    ate_vapour, ate_dust_mist, workplace_limit, name. pH and density may be a range in quotation marks: both ends are
    worked. Without classes those of the reference list count; without a nation the EU's rules do; what else is not
    stated is told as an open point. Exit 2 on bad input.

    The keys of --json: classes, h_codes, euh_codes, pictograms, signal_word, open_points (assumptions among them),
    reasons.
    """
    try:
        milli = read_dilution(dilution)
        found = solution_hazards(read_composition(file, water_parts_milli=milli), water_parts_milli=milli)
    except BadComposition as error:
        raise CannotBeWorkedOut(str(error)) from error
    except (CalculationError, Refused) as error:
        raise CannotBeWorkedOut(sentence(error)) from error
    if found.why_as_supplied:
        raise CannotBeWorkedOut(f"It cannot be worked out: {found.why_as_supplied}.")
    told = _in_keys(found)
    click.echo(json.dumps(told, ensure_ascii=False) if as_json else _in_text(found, show_dilution(milli)))


def _in_keys(found: SolutionHazards) -> dict[str, Any]:
    classification = found.classification
    return {
        "classes": [str(hazard) for hazard in classification.classes] if classification else [],
        "h_codes": list(found.h_codes),
        "euh_codes": list(found.euh_codes),
        "pictograms": list(found.label.pictograms),
        "signal_word": found.label.signal_word,
        "open_points": list(found.declared_unknown),
        "reasons": [f"{reason.topic}: {reason.text}" for reason in classification.reasons] if classification else [],
    }


def _in_text(found: SolutionHazards, dilution: str) -> str:
    told = _in_keys(found)
    statements = [f"{code} {text}" for code, text in found.statements]
    parts = (
        ("Statements", [*statements, *found.label.supplemental]),
        ("Not known, or assumed", told["open_points"]),
        ("The working", told["reasons"]),
        ("Wear and use", [f"{each.words}: {each.reason}." for each in found.working.protection]),
    )
    head = f"{dilution}: {found.label.signal_word or 'no signal word'}. {ESTIMATE}"
    return "\n".join([head, *(line for title, lines in parts if lines for line in (f"{title}:", *_set_in(lines)))])


def _set_in(lines: list[str]) -> list[str]:
    return [f"  {line}" for line in lines]
