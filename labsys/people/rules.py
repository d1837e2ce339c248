"""Decisions about accounts: passwords, links and how often somebody may try to sign in."""

import hashlib
import re
import unicodedata
from datetime import datetime, timedelta

from labsys.people.models import Person
from labsys.records.errors import Refused

_EMAIL = re.compile(r"[^@\s<>\"]+@[^@\s<>\"]+")
LINK_LIFE = {"invitation": timedelta(days=14), "reset": timedelta(hours=24)}
SHORTEST_PASSWORD = 10
LONGEST_PASSWORD = 200
ATTEMPTS_COUNT_FOR = timedelta(minutes=15)
FAILURES_PER_EMAIL = 5
FAILURES_PER_ADDRESS = 50  # a whole class may sit behind one address


class PersonRefused(Refused):
    """An account cannot be made or changed so; the message says why and what to do."""


class LinkRefused(Exception):
    """The link was used, has expired, or never was one; the message says what to do."""


class LinkUnknown(LinkRefused):
    """No link of this lab has this token."""


class SignInRefused(Exception):
    """Wrong e-mail or password; which of the two is not said."""


class TooManyAttempts(Exception):
    """Too many failed attempts; nothing is checked until the wait is over."""

    def __init__(self, *, until: datetime):
        super().__init__(f"until {until.isoformat()}")
        self.until = until


def plain_email(typed: str) -> str:
    """Return the one form an address is kept and looked up in."""
    return unicodedata.normalize("NFKC", typed).strip().casefold()


def check_name(typed: str) -> str:
    """Return a name as it is kept. Raises PersonRefused where there is none, or no room for it."""
    name = " ".join(typed.split())
    if not name:
        raise PersonRefused("Enter the person's name.", field="name")
    if len(name) > Person.NAME_LENGTH:
        raise PersonRefused(f"Use at most {Person.NAME_LENGTH} characters.", field="name")
    return name


def check_email(typed: str) -> str:
    """Return an e-mail address as it is kept. Raises PersonRefused for what no mail could reach."""
    email = plain_email(typed)
    if len(email) > Person.EMAIL_LENGTH or not _EMAIL.fullmatch(email):
        raise PersonRefused(f"{typed!r} is not an e-mail address. Example: sol@example.org", field="email")
    return email


def check_password(password: str, *, person_words: tuple[str, ...]) -> None:
    """Raise PersonRefused unless the password is long enough and not simply the person's own name or address.

    Length before tricks: NIST Special Publication 800-63B (2017), section 5.1.1.2 (from memory).
    """
    if len(password) < SHORTEST_PASSWORD:
        raise PersonRefused(
            f"Use at least {SHORTEST_PASSWORD} characters. Several plain words together are good.", field="password"
        )
    if len(password) > LONGEST_PASSWORD:
        raise PersonRefused(f"Use at most {LONGEST_PASSWORD} characters.", field="password")
    if password.casefold() in {word.casefold() for word in person_words} or len(set(password)) < 4:
        raise PersonRefused("That is too easy to guess. Several plain words together are good.", field="password")


def token_digest(token: str) -> str:
    return hashlib.sha256(token.encode("utf-8")).hexdigest()


def check_link(*, expires_at: datetime, used_at: datetime | None, left_at: datetime | None, now: datetime) -> None:
    """Raise LinkRefused unless the link still works."""
    if left_at is not None:
        raise LinkRefused("This account is closed. Ask the lab's manager.")
    if used_at is not None:
        raise LinkRefused("This link was used already. Sign in, or ask the lab's manager for a new one.")
    if now >= expires_at:
        raise LinkRefused("This link has expired. Ask the lab's manager for a new one.")


def check_attempts(*counted: tuple[list[datetime], int], now: datetime) -> None:
    """Raise TooManyAttempts when what went wrong in the last quarter of an hour reaches a limit.

    Each is a list of instants, newest first, and its limit.
    """
    for instants, limit in counted:
        recent = [at for at in instants if now - at < ATTEMPTS_COUNT_FOR]
        if len(recent) >= limit:
            raise TooManyAttempts(until=recent[limit - 1] + ATTEMPTS_COUNT_FOR)
