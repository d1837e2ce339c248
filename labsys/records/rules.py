"""Codes to scan: how they are written, and what is wrong with one that was mistyped."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from stdnum.iso7064 import mod_37_36

from labsys.records.models import CodeKind

PREFIX_PATTERN = re.compile(r"[A-Z]{2,4}")
_CODE = re.compile(r"([A-Z]{2,4})([A-Z])([0-9]{4,9})([0-9A-Z])")


class CodeRefused(ValueError):
    """What was typed or scanned is not a code of this lab; the message says why."""


class NotACode(CodeRefused):
    """What was typed does not look like a code at all."""


@dataclass(frozen=True)
class ReadCode:
    code: str
    kind: CodeKind


def what_changed(before: Mapping[str, Any], after: Mapping[str, Any]) -> dict[str, dict[str, Any]]:
    """What differs, as it was and as it is, for the record; nothing where nothing does.

    >>> what_changed({"lot": "7", "by": None}, {"lot": "8", "by": None})
    {'before': {'lot': '7'}, 'after': {'lot': '8'}}
    """
    changed = [name for name in before if before[name] != after[name]]
    return {"before": {n: before[n] for n in changed}, "after": {n: after[n] for n in changed}} if changed else {}


def write_code(*, prefix: str, kind: CodeKind, number: int) -> str:
    """Write a code: lab prefix, letter of the kind, number, check character.

    Parameters:
        prefix: The lab's two to four capital letters. [-]
        kind: What the code stands on. [-]
        number: Running number of this kind, from 1. [-]
    Returns:
        The code with hyphens, as it is printed. [-]
    Raises:
        ValueError: The prefix is not two to four capital letters, or the number is below 1.
    Source:
        Check character: ISO/IEC 7064, system MOD 37,36, through python-stdnum.

    >>> write_code(prefix="KD", kind=CodeKind.BATH, number=41)
    'KD-T0041-X'
    """
    if not PREFIX_PATTERN.fullmatch(prefix):
        raise ValueError("a prefix is two to four capital letters")
    if number < 1:
        raise ValueError("codes are numbered from 1")
    body = f"{kind}{number:04d}"
    return f"{prefix}-{body}-{mod_37_36.calc_check_digit(prefix + body)}"


def read_code(text: str, *, prefix: str) -> ReadCode:
    """Read a code as typed or scanned, in either case, with or without hyphens and spaces.

    Parameters:
        text: What was typed. [-]
        prefix: This lab's prefix. [-]
    Returns:
        The code as it is printed, and its kind. [-]
    Raises:
        NotACode: It does not look like one.
        CodeRefused: Of another lab, of an unknown kind, or the check character is wrong.
    Source:
        ISO/IEC 7064, system MOD 37,36.

    >>> read_code("kd t0041 x", prefix="KD").code
    'KD-T0041-X'
    """
    plain = _plain(text)
    match = _CODE.fullmatch(plain)
    if match is None:
        example = write_code(prefix=prefix, kind=CodeKind.BATH, number=41)
        raise NotACode(f"A code here looks like {example}. Read it again from the label.")
    if not mod_37_36.is_valid(plain):
        raise CodeRefused("One of the characters is wrong: the check character does not fit. Read it again.")
    if match[1] != prefix:
        raise CodeRefused(f"This code belongs to another lab ({match[1]}). Codes of this lab begin with {prefix}.")
    if match[2] not in set(CodeKind):
        raise CodeRefused("This lab has no such kind of code.")
    return ReadCode(f"{match[1]}-{match[2]}{match[3]}-{match[4]}", CodeKind(match[2]))


def whole_codes(part: str, *, prefix: str) -> tuple[str, ...]:
    """Return the codes that a number may stand for, with or without its letter and the lab's prefix before it.

    Parameters:
        part: What was typed; anything else than such a number stands for nothing. [-]
        prefix: This lab's prefix. [-]
    Returns:
        Whole codes, one for each kind that the letter leaves open. [-]

    >>> whole_codes("t41", prefix="KD"), len(whole_codes("0041", prefix="KD")), whole_codes("Joss", prefix="KD")
    (('KD-T0041-X',), 11, ())
    """
    match = re.fullmatch(rf"(?:{prefix})?([A-Z]?)([0-9]{{1,9}})", _plain(part))
    if match is None or not int(match[2]):
        return ()
    kinds = [kind for kind in CodeKind if match[1] in ("", kind)]
    return tuple(write_code(prefix=prefix, kind=kind, number=int(match[2])) for kind in kinds)


def _plain(text: str) -> str:
    return re.sub(r"[\s\-‐‑–]", "", text).upper()
