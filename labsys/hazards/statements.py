"""Hazard, supplemental and precautionary statements, and how their blanks are filled before printing.

Source: CLP Annexes III and IV in English after Regulation (EU) 2019/521, and the GB text where it is worded otherwise;
the table names for each row its edition, its date, and whether it was read or is remembered.
"""

import re
from dataclasses import dataclass
from functools import cache

from .errors import UnknownStatement, UnresolvedStatement
from .nations import Rules
from .tables import read_table

_NAMED_BLANK = re.compile(r"<name of [^>]*>")
_LAST_CHOICE = re.compile(r"/…\.?(?=$| [A-Z])")
_OPTIONAL_DETAIL = re.compile(r"\s*<(?:or )?state [^>]*>")


@dataclass(frozen=True)
class Statement:
    """One statement as the regulation words it, blanks included."""

    code: str
    text: str
    gb_text: str
    kind: str
    edition: str
    dated: str
    known: str
    source: str
    confidence: str

    def worded(self, rules: Rules) -> str:
        """The text under one set of rules; Great Britain prints a few of the EU's otherwise."""
        return self.gb_text if self.gb_text and rules is Rules.GB else self.text


@cache
def _statements() -> dict[str, Statement]:
    return {row["code"]: Statement(**row) for row in read_table("statements")}


@cache
def _fill_ins() -> dict[str, str]:
    return {row["code"]: row["text"] for row in read_table("fill_ins")}


def all_statements() -> tuple[Statement, ...]:
    """Return every statement on the list, in the order of the regulation.

    Returns:
        The statements: H, EUH, P. [-]
    """
    return tuple(_statements().values())


def statement(code: str) -> Statement:
    """Return a statement by its code.

    Parameters:
        code: Such as `"H317"`, `"EUH208"` or `"P305+P351+P338"`; blanks around the plus signs are ignored. [-]
    Returns:
        The statement as worded in the regulation. [-]
    Raises:
        UnknownStatement: The code is not on the list.
    """
    key = "+".join(part.strip() for part in code.split("+"))
    try:
        return _statements()[key]
    except KeyError:
        raise UnknownStatement(code) from None


def printed_text(code: str, *, fills: tuple[str, ...] = (), rules: Rules = Rules.GB) -> str:
    """Return a statement's text with every blank filled, ready for a label.

    The caller's fills come first, in the order of the blanks; then the lab's own fill-in table; then the choices the
    regulation leaves open ("/…", brackets, "state route of exposure") are closed in the shortest way.

    Parameters:
        code: The statement's code. [-]
        fills: Words for the blanks, one each, or none. [-]
        rules: Whose wording. [-]
    Returns:
        The sentence to print. [-]
    Raises:
        UnknownStatement: The code is not on the list.
        UnresolvedStatement: A blank remains that only the caller can fill, such as the name in EUH208.

    >>> printed_text("P264")
    'Wash hands thoroughly after handling.'
    >>> printed_text("EUH208", fills=("hydroquinone",))
    'Contains hydroquinone. May produce an allergic reaction.'
    """
    worded = statement(code)
    text = worded.worded(rules)
    text = text if fills else _fill_ins().get(worded.code, text)
    text = _OPTIONAL_DETAIL.sub("", _NAMED_BLANK.sub("…", text))
    if not fills:
        text = _LAST_CHOICE.sub(".", text).replace("/…", "")
    for words in fills:
        text = text.replace("…", words, 1)
    text = text.replace("[", "").replace("]", "")
    if "…" in text:
        raise UnresolvedStatement(worded.code, text)
    return text
