"""CAS registry numbers: two to seven digits, two digits, one check digit."""

import re

from .errors import BadCas

_SHAPE = re.compile(r"([0-9]{2,7})-([0-9]{2})-([0-9])")


def cas_check_digit(body: str) -> int:
    """Return the check digit that completes a CAS number.

    Counted from the right, each digit is multiplied by its place; the sum modulo ten is the check digit.

    Parameters:
        body: The digits before the check digit; hyphens are ignored. [-]
    Returns:
        The check digit, 0 to 9. [-]
    Raises:
        BadCas: The body is not four to nine digits.
    Source:
        CAS, "Check Digit Verification of CAS Registry Numbers" (from memory); numbers in `data/substances.csv` agree.

    >>> cas_check_digit("64-19")
    7
    """
    digits = body.replace("-", "")
    if not (4 <= len(digits) <= 9 and digits.isascii() and digits.isdigit()):
        raise BadCas(body, "the part before the check digit has four to nine digits")
    return sum(place * int(digit) for place, digit in enumerate(reversed(digits), start=1)) % 10


def check_cas(text: str) -> str:
    """Return a CAS number without surrounding blanks, once its shape and check digit have been proved.

    Parameters:
        text: A number as typed, such as `" 64-19-7"`. [-]
    Returns:
        The number as it is printed. [-]
    Raises:
        BadCas: Wrong shape or wrong check digit.

    >>> check_cas(" 64-19-7")
    '64-19-7'
    """
    stripped = text.strip()
    match = _SHAPE.fullmatch(stripped)
    if match is None:
        raise BadCas(text, "write it as digits, two digits and a check digit, with hyphens")
    expected = cas_check_digit(match[1] + match[2])
    if int(match[3]) != expected:
        raise BadCas(text, "its last digit does not fit the others")
    return stripped


def is_cas(text: str) -> bool:
    """Say whether a text is a CAS number with the right check digit.

    Parameters:
        text: A number as typed. [-]
    Returns:
        True when `check_cas` accepts it. [-]
    """
    try:
        check_cas(text)
    except BadCas:
        return False
    return True
