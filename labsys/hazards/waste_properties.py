"""The hazardous properties of a waste, HP 4 to HP 14, from what is in it.

Source: Regulation (EU) No 1357/2014, HP 14 by Regulation (EU) 2017/997; limits from memory. Cut-offs below which an
ingredient may be left out are used for HP 4, HP 8 and HP 14 alone; irritants of skin and eyes are added up together:
so a sum here is never the smaller one.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from .mixtures.model import Ingredient

TEXTS = {
    "HP 2": "oxidising",
    "HP 4": "irritant: skin and eyes",
    "HP 5": "harms single organs, or by getting into the lungs",
    "HP 6": "acutely toxic",
    "HP 7": "carcinogenic",
    "HP 8": "corrosive",
    "HP 10": "toxic for reproduction",
    "HP 11": "mutagenic",
    "HP 12": "releases a poisonous gas with water or an acid",
    "HP 13": "sensitising",
    "HP 14": "harms the environment",
}
_GAS_CODES = frozenset({"EUH029", "EUH031", "EUH032"})


@dataclass(frozen=True)
class _Limit:
    """What brings a property: ingredients with one of these statements, in % by weight from which it holds.

    Those below the cut-off are left out. `category` singles out one category of a class.
    """

    property: str
    statements: tuple[str, ...]
    percent: float
    category: str = ""
    cut_off: float = 0.0

    def counts(self, part: Ingredient) -> bool:
        return part.high_percent >= self.cut_off and any(
            hazard.code.startswith(self.statements) and self.category in ("", hazard.category)
            for hazard in part.classes
        )


_ONE_ALONE = (  # one ingredient reaches it by itself
    _Limit("HP 5", ("H370",), 1.0),
    _Limit("HP 5", ("H371",), 10.0),
    _Limit("HP 5", ("H335",), 20.0),
    _Limit("HP 5", ("H372",), 1.0),
    _Limit("HP 5", ("H373",), 10.0),
    _Limit("HP 7", ("H350",), 0.1),
    _Limit("HP 7", ("H351",), 1.0),
    _Limit("HP 10", ("H360",), 0.3),
    _Limit("HP 10", ("H361",), 3.0),
    _Limit("HP 11", ("H340",), 0.1),
    _Limit("HP 11", ("H341",), 1.0),
    _Limit("HP 13", ("H317",), 10.0),
    _Limit("HP 13", ("H334",), 10.0),
)
_ADDED_UP = (
    _Limit("HP 4", ("H314",), 1.0, category="1A", cut_off=1.0),
    _Limit("HP 4", ("H318",), 10.0, cut_off=1.0),
    _Limit("HP 4", ("H315", "H319"), 20.0, cut_off=1.0),
    _Limit("HP 5", ("H304",), 10.0),
    _Limit("HP 6", ("H300",), 0.1, category="1"),
    _Limit("HP 6", ("H300",), 0.25, category="2"),
    _Limit("HP 6", ("H301",), 5.0),
    _Limit("HP 6", ("H302",), 25.0),
    _Limit("HP 6", ("H310",), 0.25, category="1"),
    _Limit("HP 6", ("H310",), 2.5, category="2"),
    _Limit("HP 6", ("H311",), 15.0),
    _Limit("HP 6", ("H312",), 55.0),
    _Limit("HP 6", ("H330",), 0.1, category="1"),
    _Limit("HP 6", ("H330",), 0.5, category="2"),
    _Limit("HP 6", ("H331",), 3.5),
    _Limit("HP 6", ("H332",), 22.5),
    _Limit("HP 8", ("H314",), 5.0, cut_off=1.0),
    _Limit("HP 14", ("H420",), 0.1, cut_off=0.1),
    _Limit("HP 14", ("H400",), 25.0, cut_off=0.1),
)
_WEIGHTS_HP14 = (("H410", 100, 0.1), ("H411", 10, 1.0), ("H412", 1, 1.0), ("H413", 1, 1.0))  # with their cut-offs
_LIMIT_HP14 = 25.0


@dataclass(frozen=True)
class HazardousProperty:
    """One property, and what decided it."""

    code: str
    reason: str

    def __str__(self) -> str:
        return f"{self.code} {TEXTS[self.code]}"


def hazardous_properties(
    ingredients: Sequence[Ingredient],
    *,
    euh_codes: Iterable[str] = (),
    standing: Mapping[str, str] = MappingProxyType({}),
) -> tuple[HazardousProperty, ...]:
    """Return the hazardous properties that the content of a waste brings.

    Parameters:
        ingredients: What is in it, each at the upper end of its content, a sequence. [% w/w]
        euh_codes: Supplemental statements worked out for the whole. [-]
        standing: Properties that hold whatever the sums say, with the reason of each. [-]
    Returns:
        The properties reached, in order, each once with its first reason; an estimate. HP 1, 9 and 15 are left to a
        person, and HP 3 is told by `open_properties`. HP 2 is named where anything classified so is in it: only a test
        decides it. [-]
    """
    found = dict(standing)
    for code, reason in _reached(ingredients, euh_codes):
        found.setdefault(code, reason)
    return tuple(HazardousProperty(code, found[code]) for code in TEXTS if code in found)


def open_properties(ingredients: Iterable[Ingredient]) -> tuple[str, ...]:
    """Say which properties the contents do not decide: HP 3 stands open where anything flammable is in it."""
    flammable = [part.name for part in ingredients if any(hazard.name.startswith("Flam.") for hazard in part.classes)]
    return (f"HP 3 not known: the flash point decides ({', '.join(flammable)} in it)",) if flammable else ()


def _reached(ingredients: Sequence[Ingredient], euh_codes: Iterable[str]) -> Iterable[tuple[str, str]]:
    for part in ingredients:
        if any(hazard.name.startswith("Ox.") for hazard in part.classes):
            yield "HP 2", f"{part.name} is oxidising; a test decides"
    for limit in _ADDED_UP:
        total = _sum(ingredients, limit)
        if total >= limit.percent:
            yield limit.property, _in_words(" and ".join(limit.statements), total, limit.percent)
    for limit in _ONE_ALONE:
        worst = max((part.high_percent for part in ingredients if limit.counts(part)), default=0.0)
        if worst >= limit.percent:
            yield limit.property, _in_words(" ".join(limit.statements), worst, limit.percent)
    gases = sorted({*euh_codes, *(code for part in ingredients for code in part.euh)} & _GAS_CODES)
    if gases:
        yield "HP 12", f"{' '.join(gases)} holds for it"
    yield from (("HP 14", reason) for reason in _environment(ingredients))


def _environment(ingredients: Sequence[Ingredient]) -> Iterable[str]:
    contents = {code: _sum(ingredients, _Limit("HP 14", (code,), 0, cut_off=cut)) for code, _, cut in _WEIGHTS_HP14}
    weighed = sum(weight * contents[code] for code, weight, _ in _WEIGHTS_HP14 if code != "H413")
    for words, total in (("100 × H410 + 10 × H411 + H412", weighed), ("H410 to H413 together", sum(contents.values()))):
        if total >= _LIMIT_HP14:
            yield _in_words(words, total, _LIMIT_HP14)


def _sum(ingredients: Iterable[Ingredient], limit: _Limit) -> float:
    """The contents of those that count; rounded as decimal percentages are added. [% w/w]"""
    return round(sum(part.high_percent for part in ingredients if limit.counts(part)), 9)


def _in_words(what: str, percent: float, limit: float) -> str:
    return f"{what} comes to {percent:.3g} %, the limit is {limit:g} %"
