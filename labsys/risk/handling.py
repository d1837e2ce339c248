"""From a product's entries to what banding asks of it: codes as handled, sensitisers, and how it gets into the air."""

from dataclasses import dataclass

from labsys.hazards.banding import Spread, volatility_from_pressure
from labsys.hazards.classes import Family
from labsys.hazards.errors import HazardsError, UnknownSubstance
from labsys.hazards.solution import SolutionHazards
from labsys.hazards.substances import Substance, substance
from labsys.ledger.models import Unit
from labsys.products.hazards import hazards_of
from labsys.products.models import Product, ProductIngredient
from labsys.products.rules import show_dilution
from labsys.quantities import counted
from labsys.timetable.local_time import day_words

ROOM_CELSIUS = 20.0
_SHEET_ON_REQUEST = "EUH210"  # a word to the buyer, no hazard
_DOUBLES_EVERY_C = 10.0  # vapour pressure with temperature: common practice, no source; on the high side
_GIVES_OFF = {  # solutions of a gas: what comes off them; chemistry, from memory
    "1336-21-6": "ammonia",
    "50-00-0": "formaldehyde",
    "7647-01-0": "hydrogen chloride",
    "7681-52-9": "chlorine compounds",
}
_VAPOURS = (Spread.LOW_VAPOUR, Spread.MEDIUM_VAPOUR, Spread.HIGH_VAPOUR)
DUSTS = (Spread.LOW_DUST, Spread.MEDIUM_DUST, Spread.HIGH_DUST)


@dataclass(frozen=True)
class Handling:
    """What a product's entries say of it as it is handled, each with how it was found."""

    unit: Unit
    codes: tuple[str, ...]
    codes_from: str
    sensitisers: tuple[str, ...]
    spread: Spread
    spread_from: str


def handling(product: Product, *, water_parts_milli: int | None, celsius: float = ROOM_CELSIUS) -> Handling:
    """Return how a product is to be assessed at a dilution, or as supplied where that is None. The SDS wins.

    Where nothing can be calculated for a dilution, the codes of the product as supplied stand for it.
    """
    hazards = hazards_of(product, water_parts_milli=water_parts_milli)
    codes, codes_from = _codes(product, hazards, water_parts_milli)
    unit = product.unit if water_parts_milli is None else Unit.UL
    spread, spread_from = powder_spread() if unit is Unit.MG else liquid_spread(product, celsius=celsius)
    return Handling(
        unit=unit,
        codes=codes,
        codes_from=codes_from,
        sensitisers=hazards.sensitisers,
        spread=spread,
        spread_from=spread_from,
    )


def spreads_of(unit: Unit) -> tuple[Spread, ...]:
    """The degrees of dustiness of a solid, or of volatility of a liquid."""
    return _VAPOURS if unit is Unit.UL else DUSTS


def powder_spread() -> tuple[Spread, str]:
    """Dustiness of a powder before anybody has looked at it."""
    return Spread.HIGH_DUST, "Taken as a fine powder until somebody sees that it is granular (common practice)."


def liquid_spread(product: Product, *, celsius: float) -> tuple[Spread, str]:
    """Return the volatility of a product or a solution of it, from its most volatile ingredient taken as pure.

    Water itself does not count. On the high side for a solution: the pressure over it is lower.
    """
    spreads = [_spread_of(row, celsius=celsius) for row in product.ingredients]
    families = {family for row in product.ingredients if (known := _known(row)) for family in known.families}
    if Family.ACID in families and families & {Family.SULFITE, Family.THIOSULFATE}:
        spreads.append((Spread.MEDIUM_VAPOUR, "Sulfur dioxide comes off sulfite in an acid solution."))
    if not spreads:
        return Spread.LOW_VAPOUR, "No ingredients are entered; water does not count. Check section 9 of its SDS."
    return max(spreads, key=lambda spread: _VAPOURS.index(spread[0]))


def _spread_of(row: ProductIngredient, *, celsius: float) -> tuple[Spread, str]:
    if row.cas in _GIVES_OFF:
        return Spread.MEDIUM_VAPOUR, f"{_GIVES_OFF[row.cas].capitalize()} comes off it (chemistry, from memory)."
    known = _known(row)
    if known is None:
        why = f"Nothing is on file for {row.name}: taken as medium until section 9 of its SDS is read."
        return Spread.MEDIUM_VAPOUR, why
    if known.vapour_pressure_pa_20c is None:
        return Spread.LOW_VAPOUR, "Nothing in it is known to evaporate; water does not count. See section 9 of its SDS."
    warm = max(celsius, ROOM_CELSIUS)
    pressure = known.vapour_pressure_pa_20c * 2 ** ((warm - ROOM_CELSIUS) / _DOUBLES_EVERY_C)
    figure = f"{pressure:,.0f}" if pressure >= 1 else f"{pressure:.2g}"
    return (
        volatility_from_pressure(vapour_pressure_pa=pressure),
        f"By {row.name}, taken as pure: about {figure} Pa at {warm:g} °C, a reference value.",
    )


def _known(row: ProductIngredient) -> Substance | None:
    try:
        return substance(row.cas)
    except (UnknownSubstance, HazardsError):
        return None


def _codes(product: Product, hazards: SolutionHazards, water_parts_milli: int | None) -> tuple[tuple[str, ...], str]:
    sheet = f"the SDS of {day_words(product.sds_date)}" if product.sds_date else "an SDS without a date"
    codes = tuple(dict.fromkeys(code for code in (*hazards.h_codes, *hazards.euh_codes) if code != _SHEET_ON_REQUEST))
    if water_parts_milli is None:
        return codes, f"Codes by {sheet}."
    if hazards.classification is None:
        why = hazards.why_as_supplied
        return codes, f"{why[:1].upper()}{why[1:]}, so the codes of the product as supplied are used, by {sheet}."
    left = f" {counted(len(hazards.not_known), 'thing')} not known or assumed." if hazards.not_known else ""
    return codes, f"Codes calculated for {show_dilution(water_parts_milli)} from {sheet}: an estimate.{left}"
