"""Telephone numbers in what a lab says of itself, so that a touch rings them."""

import re
from collections.abc import Iterator
from typing import NamedTuple

from labsys.hazards.nations import EUROPE, UNITED_KINGDOM

# Groups of digits with one space, hyphen or dot between them; a time such as 18:00 is none of it.
_NUMBER = re.compile(r"(?<![\w:+.])\+?(?:\(\d+\)|\d+)(?:[ .\-\u00a0]?(?:\(\d+\)|\d+))*(?![\w:])")
_SHORT = (UNITED_KINGDOM, EUROPE, "911")
_LEAST_DIGITS, _MOST_DIGITS = 6, 15  # 15: ITU-T E.164, from memory
_TRUNK = "(0)"  # left out after a country's code


class Piece(NamedTuple):
    """A part of a text; `href` rings it, empty where it is no number."""

    text: str
    href: str = ""


def pieces_of(text: str) -> tuple[Piece, ...]:
    """Cut a text at its telephone numbers.

    >>> pieces_of("Front desk 01632 960147, until 18:00")[1]
    Piece(text='01632 960147', href='tel:01632960147')
    >>> [piece.href for piece in pieces_of("+44 (0)1632 960147") if piece.href]
    ['tel:+441632960147']
    """
    return tuple(_pieces(text))


def _pieces(text: str) -> Iterator[Piece]:
    done = 0
    for match in _NUMBER.finditer(text):
        dialled = re.sub(r"[^\d+]", "", match[0].replace(_TRUNK, "") if match[0].startswith("+") else match[0])
        if dialled in _SHORT or _LEAST_DIGITS <= len(dialled.lstrip("+")) <= _MOST_DIGITS:
            if before := text[done : match.start()]:
                yield Piece(before)
            yield Piece(match[0], f"tel:{dialled}")
            done = match.end()
    if rest := text[done:]:
        yield Piece(rest)
