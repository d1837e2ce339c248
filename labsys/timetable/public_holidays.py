"""Public holidays of a country, or of a part of one, by day."""

from collections.abc import Mapping
from datetime import date
from functools import cache

import holidays
from holidays.registry import COUNTRIES


class NoSuchRegion(ValueError):
    """No holidays are known of this country, or of this part of it; the message says what is."""


@cache
def countries() -> Mapping[str, str]:
    """Return the countries whose holidays are known: their names by code of ISO 3166-1, in the order of the names.

    Returns:
        Names in English. [-]
    Source:
        The `holidays` library; its version is pinned in requirements.lock.
    """
    named = {codes[1]: module.replace("_", " ").title() for module, codes in COUNTRIES.items()}
    return {code: named[code] for code in sorted(named, key=lambda code: named[code]) if code in _parts()}


@cache
def _parts() -> Mapping[str, list[str]]:
    return holidays.list_supported_countries(include_aliases=False)


def check_region(country: str, part: str) -> None:
    """Raise NoSuchRegion unless the holidays of a country, or of this part of it, are known.

    Parameters:
        country: Code of ISO 3166-1. [-]
        part: Code of ISO 3166-2 without the country; empty for the whole country. [-]
    Raises:
        NoSuchRegion: They are not known.
    Source:
        The `holidays` library.
    """
    parts = _parts().get(country)
    if parts is None:
        raise NoSuchRegion("No holidays are known of that country. Choose one on the list, or none.")
    if part and part not in parts:
        known = f"Its parts are {', '.join(parts)}." if parts else "Leave it empty: it is known as a whole only."
        raise NoSuchRegion(f"“{part}” is no part of that country as it is known here. {known}")


def public_holidays(country: str, part: str, *, first: date, last: date) -> dict[date, str]:
    """Return the public holidays between two days, by day; a day given in their place is among them.

    Parameters:
        country: Code of ISO 3166-1. [-]
        part: Code of ISO 3166-2 without the country; empty for what all its parts share. [-]
        first: The first day. [-]
        last: The last day. [-]
    Returns:
        What each is called, in English where the library has it so. [-]
    Raises:
        NoSuchRegion: They are not known.
    Source:
        The `holidays` library, worked out from the law of each country; what is decreed late is not in it.
    """
    check_region(country, part)
    years = range(first.year, last.year + 1)
    known = holidays.country_holidays(country, subdiv=part or None, years=years, language="en_US")
    return {day: name for day, name in sorted(known.items()) if first <= day <= last}
