"""What a question at the bench is answered with: the figure, its formula with the numbers in it, and its source."""

import inspect
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from labsys.chemistry.dilution import AmbiguousDilution
from labsys.quantities import System, duration, show_customary

SECONDS_COUNTED = 5  # finer than this nobody pours


@dataclass(frozen=True, slots=True)
class Figure:
    """One figure of an answer, shown large; `how` says what to do to get it."""

    amount: str
    what: str
    how: str = ""
    volume_ml: float | None = None

    @classmethod
    def of_ml(cls, volume_ml: float, what: str, how: str = "") -> "Figure":
        """A volume, which is shown in the measures of the question too."""
        return cls(ml(volume_ml), what, how, volume_ml)

    def in_measures_of(self, system: System) -> "Figure":
        """The figure with the volume in ounces or gallons beside it."""
        if self.volume_ml is None:
            return self
        return replace(self, how=f"{show_customary(self.volume_ml, system)}. {self.how}".rstrip())


@dataclass(frozen=True, slots=True)
class Rows:
    """A small table: its first column names the row."""

    caption: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Answer:
    """An answer. `margin` is how far off the figure may be, `warnings` must not be overlooked."""

    figures: tuple[Figure, ...]
    formula: tuple[str, ...]
    source: tuple[str, ...]
    margin: str = ""
    warnings: tuple[str, ...] = ()
    remarks: tuple[str, ...] = ()
    tables: tuple[Rows, ...] = ()

    def in_measures_of(self, system: System) -> "Answer":
        """The answer for somebody who measures in ounces and gallons."""
        told = f"In {system} measure; the figures in mL are exact, those in ounces rounded."
        return replace(
            self, figures=tuple(figure.in_measures_of(system) for figure in self.figures), remarks=(*self.remarks, told)
        )

    @property
    def sources(self) -> str:
        """Where the figures are from, each as a sentence, none twice."""
        return " ".join(f"{told.rstrip('.')}." for told in dict.fromkeys(self.source))


@dataclass(frozen=True, slots=True)
class Meaning:
    """One way to read an ambiguous notation: how to write it, and what it would give."""

    dilution: str
    gives: str


@dataclass(frozen=True, slots=True)
class WhichOne:
    """No answer yet: what was typed has two meanings, and the person has to say which."""

    asks: str
    meanings: tuple[Meaning, ...]


def source_of(calculation: Callable[..., Any]) -> str:
    """The source that a calculation names in its docstring, on one line."""
    _, _, rest = (inspect.getdoc(calculation) or "").partition("\nSource:\n")
    return " ".join(rest.split("\n\n")[0].split()).replace("`", "")


def ml(volume: float) -> str:
    """Show a volume as finely as a hand measures it: millilitres up to ten litres.

    >>> ml(357.143), ml(2.5), ml(25.04), ml(20_000)
    ('357 mL', '2.5 mL', '25 mL', '20 L')
    """
    if volume >= 10_000:
        return f"{volume / 1000:.5g} L"
    places = 2 if volume < 10 else 1 if volume < 100 else 0
    return f"{_plain(volume, places)} mL"


def grams(mass: float) -> str:
    """
    >>> grams(12.5), grams(0.4), grams(1250)
    ('12.5 g', '0.4 g', '1250 g')
    """
    return f"{_plain(mass, 3 if mass < 1 else 2 if mass < 100 else 1)} g"


def clock(minutes: float) -> str:
    """Show a time as finely as anybody pours.

    >>> clock(6.93)
    '6:55 min'
    """
    return duration(SECONDS_COUNTED * round(60 * minutes / SECONDS_COUNTED))


def number(value: float) -> str:
    """Show a number with four figures, without an exponent or trailing noughts.

    >>> number(2500.0), number(0.0140), number(3.14159)
    ('2500', '0.014', '3.142')
    """
    return f"{value:.4g}" if abs(value) < 10_000 else f"{value:.0f}"


def trace(value: float) -> str:
    """Show a residue, without pretending to know it beyond the third place.

    >>> trace(0.0421), trace(0.0000004)
    ('0.042', 'under 0.001')
    """
    return f"{value:.2g}" if value >= 0.001 else "under 0.001"


def rough(value: float) -> str:
    """Show an estimate with two figures.

    >>> rough(295.3), rough(0.8201)
    ('300', '0.82')
    """
    return number(float(f"{value:.2g}"))


def percent(share: float) -> str:
    """
    >>> percent(0.0341)
    '3.4 %'
    """
    return f"{100 * share:.1f} %"


def _plain(value: float, places: int) -> str:
    text = f"{value:.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def sentence(error: Exception) -> str:
    """The message of an error as a sentence."""
    words = str(error)
    return f"{words[:1].upper()}{words[1:].rstrip('.')}."


def which_reading(*, ambiguous: AmbiguousDilution, working_ml: float | None = None) -> WhichOne:
    """Ask which of two readings is meant, and show what each would give."""
    if working_ml is None:
        gives = tuple(
            f"{percent(float(dilution.strength))} concentrate" for dilution in (ambiguous.plus, ambiguous.made_up_to)
        )
    else:
        gives = tuple(
            f"{ml(float(parts.concentrate_ml))} concentrate and {ml(float(parts.water_ml))} water"
            for parts in ambiguous.at(working_ml=working_ml)
        )
    words = (f"parts of water added: {ambiguous.plus}", f"parts in all: {ambiguous.made_up_to}")
    return WhichOne(
        asks=f"“{ambiguous.text}” has two meanings, and the second is {number(float(ambiguous.strength_ratio))} times "
        "as strong. Look at the bottle or the data sheet: which is meant?",
        meanings=tuple(
            Meaning(str(dilution), f"{said}, {given}")
            for dilution, said, given in zip((ambiguous.plus, ambiguous.made_up_to), words, gives, strict=True)
        ),
    )
