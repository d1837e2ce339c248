"""Decisions about membership, on plain values."""

from datetime import date
from enum import StrEnum

from labsys.records.errors import Refused
from labsys.records.models import Admits


class MembershipRefused(Refused):
    """It cannot be kept so; the message says why and what to do."""


class Age(StrEnum):
    """What is known of somebody's age on a day."""

    ADULT = "18 or over"
    UNDER_18 = "under 18"
    NOT_STATED = "not stated"


def counts_as_under_18(age: Age, *, admits: Admits) -> bool:
    """Whether somebody is treated as under 18: what was not stated is never the mild side once the lab asks.

    >>> counts_as_under_18(Age.NOT_STATED, admits=Admits.YES), counts_as_under_18(Age.NOT_STATED, admits=Admits.NO)
    (True, True)
    >>> counts_as_under_18(Age.UNDER_18, admits=Admits.NOT_STATED), counts_as_under_18(Age.ADULT, admits=Admits.YES)
    (True, False)
    """
    return age is Age.UNDER_18 or (age is Age.NOT_STATED and admits is not Admits.NOT_STATED)


def check_age(until: date | None, school_until: date | None, *, today: date) -> None:
    """Raise MembershipRefused for days that cannot be; `until` is none of who is 18 or over."""
    if until is None:
        if school_until is not None:
            raise MembershipRefused("Say until when they are under 18 as well, or leave this empty.", field="until")
        return
    if until <= today:
        raise MembershipRefused("That day is not to come. Choose “18 or over”, or check the day.", field="until")
    if until > _years_after(today, 18):
        raise MembershipRefused("Nobody is under 18 for so long. Check the year.", field="until")
    if school_until is not None and school_until > until:
        raise MembershipRefused("School age ends before the 18th birthday. Check the two days.", field="school_until")


def check_own_age(stated: date | None, *, today: date) -> None:
    """Raise MembershipRefused where somebody stated to be under 18 would change that themselves."""
    if stated is not None and today < stated:
        raise MembershipRefused("Whoever keeps the memberships puts that right: speak to them.", field="until")


def check_permission(given_on: date, ends_on: date, *, today: date) -> None:
    """Raise MembershipRefused for days of a guardian's permission that cannot be."""
    if given_on > today:
        raise MembershipRefused("That day is still to come. Enter the day it was signed.", field="given_on")
    if ends_on < given_on:
        raise MembershipRefused("It ends before it was given. Check the two days.", field="ends_on")
    if ends_on > _years_after(today, 18):
        raise MembershipRefused("Nobody is under 18 for so long. Check the year.", field="ends_on")


def age_in_words(until: date | None, *, age: Age) -> str:
    """What is known of somebody's age, as the pages say it."""
    return f"under 18 until {until:%-d %b %Y}" if age is Age.UNDER_18 and until else age.value


def _years_after(day: date, years: int) -> date:
    """The same day some years later; 29 February is 1 March in a year without one."""
    try:
        return day.replace(year=day.year + years)
    except ValueError:
        return date(day.year + years, 3, 1)
