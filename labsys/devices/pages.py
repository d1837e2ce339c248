"""What pages about tablets and cards say."""

from dataclasses import dataclass
from datetime import datetime

from labsys.devices.models import Card
from labsys.people.queries import NamedPerson

NAMES_AT_ONCE = 24
_SHORTEST_SEARCH = 2


@dataclass(frozen=True)
class CardLine:
    """A card and whether it lets its person in."""

    card: Card
    state: str
    is_valid: bool


def card_line(card: Card, *, now: datetime) -> CardLine:
    """Say whether a card holds good."""
    if card.revoked_at is not None:
        return CardLine(card, "revoked", is_valid=False)
    if card.valid_until is None:
        return CardLine(card, "in use", is_valid=True)
    if card.valid_until > now:
        return CardLine(card, "tonight's code", is_valid=True)
    return CardLine(card, "over", is_valid=False)


@dataclass(frozen=True)
class NamesOffered:
    """The names a page offers; none while there are too many and nothing was typed to look for."""

    offered: list[NamedPerson]
    must_search: bool
    nothing_found: bool


def names_to_choose(people: list[NamedPerson], *, typed: str) -> NamesOffered:
    """Offer everybody where they are few, else those in whose name a word begins with what was typed.

    >>> everybody = [NamedPerson(number, f"Łukasz {number}") for number in range(30)]
    >>> names_to_choose(everybody, typed="").must_search
    True
    >>> [person.name for person in names_to_choose(everybody, typed="łukasz 7").offered]
    ['Łukasz 7']
    """
    wanted = typed.casefold().strip()
    if len(people) <= NAMES_AT_ONCE and not wanted:
        return NamesOffered(people, must_search=False, nothing_found=False)
    if len(wanted) < _SHORTEST_SEARCH:
        return NamesOffered([], must_search=True, nothing_found=False)
    matching = [person for person in people if f" {wanted}" in f" {person.name.casefold()}"]
    return NamesOffered(matching[:NAMES_AT_ONCE], must_search=len(people) > NAMES_AT_ONCE, nothing_found=not matching)
