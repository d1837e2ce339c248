"""Decisions about membership, on plain values."""

from collections.abc import Collection, Sequence
from datetime import date, timedelta
from enum import StrEnum

from labsys.records.errors import Refused
from labsys.records.models import Admits
from labsys.timetable.local_time import day_words

REMIND_BEFORE = timedelta(days=14)
RENEW = "Ask whoever keeps the memberships to renew it."
NO_CONTACT = "Say first whom to call in an emergency: under Your account, Membership."

Term = tuple[date, date | None]  # the first day and the last; without a last day it is open


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


def check_term(starts_on: date, ends_on: date | None, *, today: date) -> None:
    """Raise MembershipRefused for days of a membership that cannot be."""
    if ends_on is not None and ends_on < starts_on:
        raise MembershipRefused("It ends before it begins. Check the two days.", field="ends_on")
    if max(starts_on, ends_on or starts_on) > _years_after(today, 20):
        raise MembershipRefused("That is too far away. Check the year.", field="ends_on" if ends_on else "starts_on")


def ends_on(terms: Collection[Term], *, on: date) -> date | None:
    """The last day of the membership that holds on a day, with those that follow without a gap; None where it is open.

    >>> ends_on([(date(2026, 1, 1), date(2026, 6, 30)), (date(2026, 7, 1), date(2026, 12, 31))], on=date(2026, 6, 1))
    datetime.date(2026, 12, 31)
    """
    last = on - timedelta(days=1)
    for starts, ends in sorted(terms, key=lambda term: term[0]):
        if starts <= last + timedelta(days=1) and (ends is None or ends > last):
            if ends is None:
                return None
            last = ends
    return last


def why_no_member(terms: Sequence[Term], *, on: date) -> str:
    """Why these memberships do not hold on a day, in words; empty where one does. Without any, nothing is assumed."""
    if any(starts <= on and (ends is None or on <= ends) for starts, ends in terms):
        return ""
    past = [ends for starts, ends in terms if ends is not None and ends < on]
    coming = [starts for starts, _ in terms if starts > on]
    if coming:
        return f"Your membership begins on {day_words(min(coming))}: nothing is booked or begun before."
    return f"Your membership ends on {day_words(max(past))}. {RENEW}" if past else f"No membership is entered. {RENEW}"


def why_unsigned(signed: Collection[int], *, needed: int) -> str:
    """Why the versions that somebody signed are not enough, in words; empty where they are."""
    if any(number >= needed for number in signed):
        return ""
    where = "Read and sign it under Your account, Membership, or on paper."
    if signed:
        return f"The lab's agreement has a new version, {needed}, that everybody signs. {where}"
    return f"The lab's agreement is not signed. {where}"


def check_contact(name: str, telephone: str, *, own_name: str) -> None:
    """Raise MembershipRefused for a contact that could not be called."""
    if not name.strip():
        raise MembershipRefused("Write whom to call.", field="name")
    if name.strip().casefold() == own_name.casefold():
        raise MembershipRefused("That is their own name. Write somebody else who can be called.", field="name")
    if sum(character.isdigit() for character in telephone) < 3:
        raise MembershipRefused("Write a telephone number.", field="telephone")


def too_many_guests(most: int) -> str:
    """What is said to who would bring more than the lab allows."""
    if not most:
        return "This lab allows no guests on a booking."
    return f"At most {most} {'guest comes' if most == 1 else 'guests come'} along on a booking here."
