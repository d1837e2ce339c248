"""Exact volumes in whole microlitres and masses in whole milligrams: reading what people type, showing it back."""

import re
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal, InvalidOperation
from enum import StrEnum
from fractions import Fraction

UL_PER_ML = 1_000
UL_PER_L = 1_000_000
MG_PER_G = 1_000
MG_PER_KG = 1_000_000
MILLI = 1_000

LARGEST_VOLUME_UL = 1_000 * UL_PER_L  # a cubic metre: no teaching darkroom moves more in one act
LARGEST_MASS_MG = 1_000 * MG_PER_KG

_VOLUME_UNITS = {"ul": 1, "µl": 1, "ml": UL_PER_ML, "cl": 10 * UL_PER_ML, "l": UL_PER_L}
_MASS_UNITS = {"mg": 1, "g": MG_PER_G, "kg": MG_PER_KG}
_USUAL = (("mL", "L"), ("g", "kg"))  # of volumes, of masses
_TYPED = re.compile(r"\s*([+-]?[0-9]+(?:[.,][0-9]+)?)\s*([a-zµμ][a-zµμ. ]*?)?\s*", re.IGNORECASE | re.ASCII)


class System(StrEnum):
    """Measures that share their names, and are not the same."""

    US = "US"
    IMPERIAL = "imperial"


# Exact: the US gallon is 231 cubic inches, the imperial one 4.54609 L (NIST Handbook 44, appendix C, from memory).
# A fluid ounce is the 128th part of the one and the 160th of the other.
GALLON_UL = {System.US: Fraction("3785411.784"), System.IMPERIAL: Fraction(4_546_090)}
OUNCES_TO_THE_GALLON = {System.US: 128, System.IMPERIAL: 160}
_TO_THE_GALLON = {
    **dict.fromkeys(("floz", "fluidounce", "fluidounces"), None),
    **dict.fromkeys(("pt", "pint", "pints"), 8),
    **dict.fromkeys(("qt", "quart", "quarts"), 4),
    **dict.fromkeys(("gal", "gallon", "gallons"), 1),
}
_SYSTEM_NAMES = {"us": System.US, "imperial": System.IMPERIAL, "imp": System.IMPERIAL, "uk": System.IMPERIAL}


class QuantityError(ValueError):
    """What was typed is not a quantity labsys can use; the message says why and how to write it."""


def parse_volume(text: str, *, unit: str | None = None) -> int:
    """Read a volume such as "2.5 L", "357ml" or "2,5 l" into whole microlitres.

    A bare number is refused unless `unit` says what it means, since 2500 of the wrong unit is a thousandfold error.

    Parameters:
        text: What was typed. [-]
        unit: The unit of a bare number, or None to refuse one. [-]
    Returns:
        Volume, a whole number above zero. [µL]
    Raises:
        QuantityError: Not a number, no unit, zero, negative, finer than a microlitre or above the largest volume.
    Source:
        SI prefixes; the limit is the project's own. Ounces, pints, quarts and gallons: NIST Handbook 44, from memory.

    >>> parse_volume("2.5 L"), parse_volume("357", unit="mL"), parse_volume("32 US fl oz")
    (2500000, 357000, 946353)
    """
    if customary := read_customary(text):
        return customary.ul
    return _parse(text, units=_VOLUME_UNITS, unit=unit, largest=LARGEST_VOLUME_UL, example="2.5 L or 350 mL")


@dataclass(frozen=True, slots=True)
class Customary:
    """A volume written in US or imperial measure. [µL]"""

    ul: int
    system: System


def read_customary(text: str) -> Customary | None:
    """Read a volume such as "32 US fl oz", "1 qt US" or "0.5 imp gal"; None for any other unit.

    Parameters:
        text: What was typed. [-]
    Returns:
        The volume to the nearest microlitre, and whose measure it is. [µL]
    Raises:
        QuantityError: An ounce, a quart or a gallon that does not say whose, nothing, or above the largest volume.
    Source:
        NIST Handbook 44, appendix C, from memory.

    >>> read_customary("1 US gal").ul, read_customary("1 imp. gallon").ul, read_customary("1 L")
    (3785412, 4546090, None)
    """
    match = _TYPED.fullmatch(text)
    words = (match[2] or "").lower().replace(".", " ").split() if match else []
    systems = {_SYSTEM_NAMES[word] for word in words if word in _SYSTEM_NAMES}
    unit = "".join(word for word in words if word not in _SYSTEM_NAMES)
    if match is None or unit not in _TO_THE_GALLON or len(systems) > 1:
        return None
    amount = Fraction(match[1].replace(",", "."))
    each = {system: _unit_ul(unit, system) for system in System}
    if not systems:
        own, other = (f"{float(amount * each[system] / UL_PER_ML):.4g} mL" for system in System)
        name = "fl oz" if unit.startswith("fl") else unit
        raise QuantityError(
            f"US or imperial? {match[1]} US {name} is {own}, {match[1]} imp {name} is {other}. Write the one meant."
        )
    system = systems.pop()
    return Customary(_checked(amount * each[system], LARGEST_VOLUME_UL, "1,000 L"), system)


def _unit_ul(unit: str, system: System) -> Fraction:
    return GALLON_UL[system] / (_TO_THE_GALLON[unit] or OUNCES_TO_THE_GALLON[system])


def show_customary(ml: float, system: System) -> str:
    """Show a volume in US or imperial measure: fluid ounces up to a gallon, gallons above.

    >>> show_customary(946.35, System.US), show_customary(4546.09, System.IMPERIAL)
    ('32 US fl oz', '1 imperial gal')
    """
    gallons = ml * UL_PER_ML / float(GALLON_UL[system])
    if gallons < 0.9999:
        return f"{gallons * OUNCES_TO_THE_GALLON[system]:.3g} {system} fl oz"
    return f"{gallons:.4g} {system} gal"


def _checked(amount: Fraction, largest: int, largest_named: str) -> int:
    if amount <= 0:
        raise QuantityError("Enter an amount above zero.")
    if amount > largest:
        raise QuantityError(f"That is more than {largest_named}.")
    return round(amount)


def parse_mass(text: str, *, unit: str | None = None) -> int:
    """Read a mass such as "2.4 kg" or "37.5 g" into whole milligrams.

    Parameters:
        text: What was typed. [-]
        unit: The unit of a bare number, or None to refuse one. [-]
    Returns:
        Mass, a whole number above zero. [mg]
    Raises:
        QuantityError: As for a volume.
    Source:
        SI prefixes; the limit is the project's own.

    >>> parse_mass("37.5 g")
    37500
    """
    return _parse(text, units=_MASS_UNITS, unit=unit, largest=LARGEST_MASS_MG, example="12.4 kg or 37.5 g")


def _parse(text: str, *, units: dict[str, int], unit: str | None, largest: int, example: str) -> int:
    match = _TYPED.fullmatch(text.replace("\u00a0", " ").replace("\u202f", " ").replace("μ", "µ"))
    if match is None:
        raise QuantityError(f"Write a number and its unit, such as {example}.")
    named = (match[2] or "").strip() or unit
    if named is None:
        choice = " or ".join(_USUAL[units is _MASS_UNITS])
        raise QuantityError(f"{match[1]} of what: {choice}? Write the unit too, such as {example}.")
    factor = units.get(named.lower())
    if factor is None:
        raise QuantityError(f"“{named}” is not a unit used here. Write it as {example}.")
    try:
        amount = Decimal(match[1].replace(",", ".")) * factor
    except InvalidOperation:
        raise QuantityError(f"Write a number and its unit, such as {example}.") from None
    if amount <= 0:
        raise QuantityError("Enter an amount above zero.")
    if amount > largest:
        raise QuantityError(
            f"That is more than {_plain(Decimal(largest) / max(units.values()))} {'L' if 'l' in units else 'kg'}."
        )
    if amount != amount.to_integral_value():
        raise QuantityError("That is finer than anyone can measure here. Use fewer decimals.")
    return int(amount)


def show_volume(ul: int) -> str:
    """Show a volume for reading: litres from one litre up, else millilitres; three or four figures.

    >>> show_volume(2_500_000), show_volume(357_143), show_volume(-18_200), show_volume(0)
    ('2.5 L', '357 mL', '−18.2 mL', '0 mL')
    """
    return _show(ul, ((UL_PER_L, "L"), (UL_PER_ML, "mL")))


def show_mass(mg: int) -> str:
    """Show a mass for reading: kilograms, grams or milligrams.

    >>> show_mass(12_400_000), show_mass(155), show_mass(3_100)
    ('12.4 kg', '155 mg', '3.1 g')
    """
    return _show(mg, ((MG_PER_KG, "kg"), (MG_PER_G, "g"), (1, "mg")))


def _show(amount: int, units: tuple[tuple[int, str], ...]) -> str:
    size = abs(amount)
    factor, name = next((unit for unit in units if size >= unit[0]), units[-1])
    value = Decimal(size) / factor
    places = 2 if value < 10 else 1 if value < 100 else 0
    rounded = value.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_EVEN)
    if rounded * factor >= 1_000 * factor and units.index((factor, name)) > 0:
        return _show((-1 if amount < 0 else 1) * int(rounded * factor), units)
    return f"{'−' if amount < 0 else ''}{_plain(rounded)} {name}"


def _plain(value: Decimal) -> str:
    text = f"{value:,f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def figure(amount: int | None, scale: int) -> str:
    """Return a whole number of parts as the plain decimal it stands for; nothing for None.

    >>> figure(1050, 1000), figure(97_500, 1000), figure(None, 1000)
    ('1.05', '97.5', '')
    """
    return "" if amount is None else f"{(Decimal(amount) / scale).normalize():f}"


def duration(seconds: int) -> str:
    """Show a time as the clock over the sink counts it, minutes and seconds.

    >>> duration(570), duration(60), duration(45)
    ('9:30 min', '1 min', '45 s')
    """
    minutes, rest = divmod(seconds, 60)
    if not minutes:
        return f"{rest} s"
    return f"{minutes}:{rest:02} min" if rest else f"{minutes} min"


def counted(count: int, noun: str) -> str:
    """
    >>> counted(1, "day"), counted(3, "day")
    ('1 day', '3 days')
    """
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def typed_volume(volume_ul: int) -> str:
    """Write a volume as a person would type it, without rounding anything off.

    >>> typed_volume(2_500_000), typed_volume(357_143), typed_volume(40_000)
    ('2.5 L', '357.143 mL', '40 mL')
    """
    litres = Decimal(volume_ul) / UL_PER_L
    if volume_ul >= UL_PER_L and litres == litres.quantize(Decimal("0.001")):
        return f"{litres.normalize():f} L"
    return f"{(Decimal(volume_ul) / UL_PER_ML).normalize():f} mL"
