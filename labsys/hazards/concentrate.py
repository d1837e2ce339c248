"""A product as its SDS describes it: what every answer about its solutions is worked out from."""

from collections.abc import Iterable
from dataclasses import dataclass

from .density import UNKNOWN_DENSITY, Density
from .mixtures import Choice, Ingredient
from .mixtures.health import sensitises_airways, sensitises_skin
from .nations import Rules
from .spans import Span

# Statements that tell of a sensitiser by themselves, EUH208 for one below its own limit: CLP Annexes II and III.
SKIN_SENSITISER_CODES = frozenset({"H317", "EUH203", "EUH205", "EUH208"})
RESPIRATORY_SENSITISER_CODES = frozenset({"H334", "EUH204"})
SENSITISER_CODES = SKIN_SENSITISER_CODES | RESPIRATORY_SENSITISER_CODES

_ORGANIC_ACIDS = ("64-19-7", "64-18-6")  # acetic and formic acid
_STRONG_ACID_PERCENT = 25  # from where acetic acid burns skin: its specific limit in CLP Annex VI, from memory


@dataclass(frozen=True)
class Concentrate:
    """A product as its SDS describes it; what is not stated is None. The high end of each ingredient's range counts.

    `h_codes` are empty where the SDS says "not classified", and where nobody has said (`is_declared`).
    `ph` is by dilution, N of 1 + N in thousandths, 0 for the undiluted product. Flash point [°C] and viscosity [mm²/s]
    are the lowest stated. `choices` are the readings people chose where two careful people may differ, by dilution.
    `unreadable` says which ingredient's class or limit cannot be calculated with, `assumed` what else was taken.
    """

    name: str
    h_codes: tuple[str, ...]
    ingredients: tuple[Ingredient, ...]
    density: Density = UNKNOWN_DENSITY
    powder_g_per_l: float | None = None
    ph: tuple[tuple[int, Span], ...] = ()
    flash_point_celsius: float | None = None
    viscosity_mm2_s: float | None = None
    unknown_toxicity_percent: float = 0.0
    is_declared: bool = True
    choices: tuple[tuple[int, tuple[str, str], Choice], ...] = ()
    unreadable: str = ""
    rules: Rules = Rules.GB

    @property
    def is_powder(self) -> bool:
        """Whether it is weighed out rather than poured."""
        return self.powder_g_per_l is not None

    @property
    def is_stated(self) -> bool:
        """Whether anything is entered of what it does."""
        return bool(self.is_declared or self.ingredients) and not self.unreadable

    @property
    def burns_through_nitrile(self) -> bool:
        """Whether it is strong organic acid, or burns and nobody stated what is in it."""
        burns = "H314" in single_codes(self.h_codes)
        return is_strong_organic_acid(self.ingredients) or (burns and not self.ingredients)

    @property
    def skin_sensitisers(self) -> tuple[str, ...]:
        """What in it can make skin allergic, at whatever content; the product itself where only its codes say so."""
        return self._sensitisers(
            SKIN_SENSITISER_CODES, (part.name for part in self.ingredients if sensitises_skin(part))
        )

    @property
    def respiratory_sensitisers(self) -> tuple[str, ...]:
        """What in it can make airways allergic, at whatever content; the product itself where only its codes say so."""
        named = (part.name for part in self.ingredients if sensitises_airways(part))
        return self._sensitisers(RESPIRATORY_SENSITISER_CODES, named)

    @property
    def sensitisers(self) -> tuple[str, ...]:
        """Both kinds."""
        return tuple(dict.fromkeys((*self.skin_sensitisers, *self.respiratory_sensitisers)))

    def _sensitisers(self, codes: frozenset[str], named: Iterable[str]) -> tuple[str, ...]:
        return tuple(dict.fromkeys(named)) or ((self.name,) if codes & set(single_codes(self.h_codes)) else ())


def single_codes(codes: Iterable[str]) -> Iterable[str]:
    return (code for joined in codes for code in joined.split("+"))


def is_strong_organic_acid(ingredients: Iterable[Ingredient]) -> bool:
    """Whether it goes through thin gloves: acetic or formic acid as strong as burns skin."""
    return any(part.cas in _ORGANIC_ACIDS and part.high_percent >= _STRONG_ACID_PERCENT for part in ingredients)
