"""A composition in a small TOML file, read into what the pages calculate with. What is not in it is not stated."""

import math
import tomllib
from collections.abc import Callable, Mapping, Sequence
from decimal import Decimal
from pathlib import Path
from typing import Any, TypeVar

from labsys.hazards.concentrate import Concentrate
from labsys.hazards.concentration import PPM_PER_PERCENT, parse_concentration
from labsys.hazards.density import UNKNOWN_DENSITY, Density
from labsys.hazards.errors import HazardsError, UnknownSubstance
from labsys.hazards.nations import Nation, Rules, rules_of
from labsys.hazards.spans import Span, parse_span
from labsys.hazards.substances import substance
from labsys.products.hazards import as_ingredient
from labsys.products.rules import plain_classes, plain_limits
from labsys.products.sheet import ATE_COLUMNS, StatedIngredient
from labsys.quantities import MILLI
from labsys.records.errors import Refused

T = TypeVar("T")

_ATES = {kept.removesuffix("_milli"): kept for kept in ATE_COLUMNS}
OF_MIXTURE = (
    "name",
    "ph",
    "ph_used",
    "density",
    "nation",
    "flash_point",
    "viscosity",
    "unknown_toxicity",
    "ingredient",
)
OF_INGREDIENT = ("cas", "name", "percent", "classes", "limits", "m_acute", "m_chronic", *_ATES, "workplace_limit")
_MOST = 1_000_000
_MOST_BYTES = 1_000_000


class BadComposition(ValueError):
    """The file cannot be read as a composition; the message is one sentence that says what to put right."""


def read_composition(path: Path, *, water_parts_milli: int) -> Concentrate:
    """Read a composition from a file.

    Parameters:
        path: A TOML file in UTF-8. [-]
        water_parts_milli: The dilution that its `ph_used` is for, N of 1 + N in thousandths. [-]
    Returns:
        What `solution_hazards` takes. [-]
    Raises:
        BadComposition: The file, or anything in it, cannot be read.
    """
    told = _parsed(path)
    _check_keys(told, OF_MIXTURE, "the file")
    rules = _rules(told)
    rows = told.get("ingredient")
    if not isinstance(rows, list) or not rows or not all(isinstance(row, dict) for row in rows):
        raise BadComposition("Name at least one ingredient, each under a line of its own that reads [[ingredient]].")
    stated = [_ingredient(row, where=f"ingredient {number}", rules=rules) for number, row in enumerate(rows, start=1)]
    _check_together(stated)
    density = _span(told, "density", lowest=0.5, highest=5, may_be_open=False)
    as_supplied, as_used = (_span(told, key, lowest=0, highest=14) for key in ("ph", "ph_used"))
    ph = {0: as_supplied} | ({} if as_used is None else {water_parts_milli: as_used})
    if as_supplied and as_used and water_parts_milli == 0:  # two figures for one liquid make a range of it
        ph[0] = Span(min(as_supplied.low, as_used.low), max(as_supplied.high, as_used.high))
    return Concentrate(
        name=_text(told, "name", "the file") or "the mixture",
        h_codes=(),
        ingredients=tuple(as_ingredient(each, rules=rules) for each in stated),
        density=UNKNOWN_DENSITY if density is None else Density(density),
        ph=tuple((milli, span) for milli, span in ph.items() if span is not None),
        flash_point_celsius=_number(told, "flash_point", "the file", lowest=-100, highest=500),
        viscosity_mm2_s=_number(told, "viscosity", "the file", lowest=0, highest=_MOST),
        unknown_toxicity_percent=_number(told, "unknown_toxicity", "the file", lowest=0, highest=100) or 0.0,
        rules=rules,
    )


def _parsed(path: Path) -> dict[str, Any]:
    try:
        content = path.read_bytes()
    except OSError as error:
        raise BadComposition(f"{path} cannot be read: {(error.strerror or 'no such file').lower()}.") from error
    if len(content) > _MOST_BYTES:
        raise BadComposition(f"{path} is larger than any composition.")
    try:
        return tomllib.loads(content.decode("utf-8"))
    except UnicodeDecodeError as error:
        raise BadComposition(f"{path} is not text in UTF-8.") from error
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        raise BadComposition(f"{path} is not TOML: {' '.join(str(error).split()) or 'it goes too deep'}.") from error


def _ingredient(row: Mapping[str, Any], *, where: str, rules: Rules) -> StatedIngredient:
    _check_keys(row, OF_INGREDIENT, where)
    cas = _said(lambda: _required(row, "cas", where), where)
    content = _said(lambda: parse_concentration(_percent(row, where)), where)
    listed = _listed(cas, where, rules)
    classes = _joined(row, "classes", where) or ""
    limits = _joined(row, "limits", where) or ""
    return StatedIngredient(
        name=_text(row, "name", where) or (listed.name if listed else cas),
        cas=cas,
        low_ppm=content.low_ppm,
        high_ppm=content.high_ppm,
        classification=_said(lambda: plain_classes(classes), where),
        specific_limits=_said(lambda: plain_limits(limits), where),
        m_acute=_whole(row, "m_acute", where),
        m_chronic=_whole(row, "m_chronic", where),
        workplace_limit=_text(row, "workplace_limit", where),
        **{kept: _milli(row, name, where) for name, kept in _ATES.items()},
    )


def _listed(cas: str, where: str, rules: Rules) -> Any:
    try:
        return _said(lambda: substance(cas, rules=rules), where)
    except BadComposition as error:
        if isinstance(error.__cause__, UnknownSubstance):
            return None
        raise


def _check_together(stated: Sequence[StatedIngredient]) -> None:
    twice = sorted({each.cas for each in stated if [other.cas for other in stated].count(each.cas) > 1})
    if twice:
        raise BadComposition(f"CAS {twice[0]} stands in two ingredients: make one of them.")
    least = sum(each.low_ppm for each in stated)
    if least > 100 * PPM_PER_PERCENT:
        raise BadComposition(f"The ingredients come to {least / PPM_PER_PERCENT:g} % at the least: over 100 %.")


def _check_keys(told: Mapping[str, Any], known: Sequence[str], where: str) -> None:
    for key in told:
        if key not in known:
            raise BadComposition(f"“{key}” is no key of {where}: the keys are {', '.join(known)}.")


def _rules(told: Mapping[str, Any]) -> Rules:
    nation = _text(told, "nation", "the file")
    if nation in set(Rules):
        return Rules(nation)
    if nation and nation not in set(Nation):
        known = ", ".join([*Nation, *Rules])
        raise BadComposition(f"nation: “{nation}” is not known here; the nations are {known}.")
    return rules_of(nation)


def _span(told: Mapping[str, Any], key: str, *, lowest: float, highest: float, may_be_open: bool = True) -> Span | None:
    if key not in told:
        return None
    value = told[key]
    text = value if isinstance(value, str) else _plain(_figure(value, key, "the file"))
    low, high = _said(lambda: parse_span(text, lowest=lowest, highest=highest, may_be_open=may_be_open), key)
    return Span(low / MILLI, high / MILLI)


def _percent(row: Mapping[str, Any], where: str) -> str:
    value = row.get("percent")
    if isinstance(value, str):
        return value
    if value is None:
        raise BadComposition(f'{where}: say how much of it there is, such as percent = "5-10".')
    return _plain(_figure(value, "percent", where))


def _required(row: Mapping[str, Any], key: str, where: str) -> str:
    text = _text(row, key, where)
    if not text:
        raise BadComposition(f"{where}: {key} is missing.")
    return text


def _text(told: Mapping[str, Any], key: str, where: str) -> str:
    value = told.get(key, "")
    if not isinstance(value, str):
        raise BadComposition(f"{where}: {key} is a text, in quotation marks.")
    return value.strip()


def _joined(row: Mapping[str, Any], key: str, where: str) -> str | None:
    """A text, or a list of texts; None where it is not there."""
    value = row.get(key)
    if value is None or isinstance(value, str):
        return value
    if isinstance(value, list) and all(isinstance(item, str) for item in value):
        return "; ".join(value)
    raise BadComposition(f"{where}: {key} is a text or a list of texts.")


def _milli(row: Mapping[str, Any], key: str, where: str) -> int | None:
    value = _number(row, key, where, lowest=0, highest=_MOST)
    if value is None:
        return None
    milli = round(value * MILLI)
    if milli == 0 or not math.isclose(milli, value * MILLI):
        raise BadComposition(f"{where}: {key} is finer than a thousandth.")
    return milli


def _whole(row: Mapping[str, Any], key: str, where: str) -> int | None:
    value = _number(row, key, where, lowest=0, highest=_MOST)
    if value is not None and value != int(value):
        raise BadComposition(f"{where}: {key} is a whole number, such as 10.")
    return None if value is None else int(value)


def _number(told: Mapping[str, Any], key: str, where: str, *, lowest: float, highest: float) -> float | None:
    """A number above the lowest where that is zero, else from it on."""
    if key not in told:
        return None
    value = _figure(told[key], key, where)
    if not lowest <= value <= highest or (lowest == 0 and value == 0):
        least = "above zero" if lowest == 0 else f"at least {lowest:g}"
        raise BadComposition(f"{where}: {key} must be {least} and at most {highest:,.0f}.")
    return value


def _figure(value: Any, key: str, where: str) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise BadComposition(f"{where}: {key} is a number.")
    if not math.isfinite(value) or abs(value) > _MOST:
        raise BadComposition(f"{where}: {key} is no number that can be meant.")
    return float(value)


def _plain(value: float) -> str:
    return f"{Decimal(repr(value)).normalize():f}"


def _said(read: Callable[[], T], where: str) -> T:
    """Read by one of our own functions; its complaint becomes a sentence that says where."""
    try:
        return read()
    except (HazardsError, Refused) as error:
        raise BadComposition(f"{where}: {' '.join(str(error).split()).rstrip('.')}.") from error
