"""Decisions about chemicals people bring in: what may be declared and decided, and what it must not meet here."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from labsys.brought_in.models import Declaration, DeclaredIngredient, Ending
from labsys.hazards.cas import check_cas
from labsys.hazards.classes import Family
from labsys.hazards.errors import BadCas, UnknownSubstance
from labsys.hazards.incompatibility import Group, conflicts_between, groups_for
from labsys.hazards.restricted import Restricted, restricted_in
from labsys.hazards.statements import printed_text
from labsys.hazards.substances import substance
from labsys.ledger.models import Unit
from labsys.people.models import Person
from labsys.people.permissions import Permission, may
from labsys.quantities import QuantityError, parse_mass, parse_volume
from labsys.records.errors import Refused

LEAD_DAYS = 3  # common practice, no source

# What stands in the darkroom; standard chemistry, from memory.
_HERE = {
    "developer, which is alkaline": {Group.ALKALINE_SULFITE},
    "stop bath, which is acid": {Group.ACID},
    "fixer, which holds thiosulfate and sulfite": {Group.FIXER},
    "bleach for prints or reversal": {Group.CYANIDE_COMPLEX, Group.OXIDISER},
}
_STOP_BATH = "stop bath, which is acid"
_GAS_WITH_ACID = ("EUH031", "EUH032")


class DeclarationRefused(Refused):
    """It cannot be declared, decided or ended so; the message says why and what to do."""


@dataclass(frozen=True)
class Named:
    """An ingredient by name and CAS number."""

    name: str
    cas: str


@dataclass(frozen=True)
class Meeting:
    """A solution of the darkroom that what is declared must not meet, and all that happens if it does."""

    solution: str
    hazards: tuple[str, ...]


@dataclass(frozen=True)
class KeepApart:
    """What it must not meet here, and the ingredients about which nothing is on file."""

    meetings: tuple[Meeting, ...]
    not_known: tuple[str, ...]


def parse_ingredients(text: str) -> tuple[Named, ...]:
    """Read ingredients, one a line as "name, CAS"; a comma within the name is part of it.

    >>> parse_ingredients("acetic acid, 64-19-7")
    (Named(name='acetic acid', cas='64-19-7'),)
    """
    ingredients: dict[str, Named] = {}
    for line in filter(None, (line.strip() for line in text.splitlines())):
        name, _, number = (part.strip() for part in line.rpartition(","))
        if not name:
            raise _unreadable(f"“{line}”: write the name, a comma and the CAS number.")
        if len(name) > DeclaredIngredient.NAME_LENGTH:
            raise _unreadable(f"“{name[:40]}…” is too long: use at most {DeclaredIngredient.NAME_LENGTH} characters.")
        try:
            cas = check_cas(number)
        except BadCas as error:
            raise _unreadable(f"{name}: {number} is not a CAS number: {error.reason}. Copy it from the SDS.") from error
        ingredients.setdefault(cas, Named(name, cas))
    return tuple(ingredients.values())


def _unreadable(message: str) -> DeclarationRefused:
    return DeclarationRefused(message, field="ingredients")


def parse_amount(text: str) -> tuple[int, Unit]:
    """Read a volume or a mass with its unit.

    >>> parse_amount("250 mL"), parse_amount("40 g")
    ((250000, <Unit.UL: 'µL'>), (40000, <Unit.MG: 'mg'>))
    """
    try:
        return parse_volume(text), Unit.UL
    except QuantityError:
        pass
    try:
        return parse_mass(text), Unit.MG
    except QuantityError as error:
        raise DeclarationRefused("Write how much, with its unit: 250 mL, 1 L or 40 g.", field="amount") from error


def check_days(*, first_on: date, last_on: date) -> None:
    """Raise DeclarationRefused when the last day comes before the first."""
    if last_on < first_on:
        raise DeclarationRefused("The last day comes before the first. Check both.", field="last_on")


def is_late(*, declared_on: date, first_on: date) -> bool:
    """Whether less notice was given than the lab asks for.

    >>> is_late(declared_on=date(2026, 3, 2), first_on=date(2026, 3, 5))
    False
    """
    return (first_on - declared_on).days < LEAD_DAYS


def restricted(declaration: Declaration) -> tuple[Restricted, ...]:
    """What of a declaration is on the list of restricted things."""
    names = [declaration.name, *(ingredient.name for ingredient in declaration.ingredients)]
    return restricted_in(names=names, cas=[ingredient.cas for ingredient in declaration.ingredients])


def check_decision(
    *,
    is_decided: bool,
    is_ended: bool,
    accepts: bool,
    sds_shown: bool,
    reasons: str,
    restricted: Sequence[Restricted] = (),
) -> None:
    """Raise DeclarationRefused unless this is the one decision, a yes with the SDS seen or a no with its reasons.

    A yes to something restricted needs its reasons too.
    """
    if is_ended:
        raise DeclarationRefused("It was withdrawn: it was never brought.")
    if is_decided:
        raise DeclarationRefused("This is decided already. For anything else, a new declaration is made.")
    if accepts and not sds_shown:
        raise DeclarationRefused("Look at its SDS first: nothing is brought in without one.", field="sds_shown")
    if accepts and restricted and not reasons:
        named = ", ".join(entry.name for entry in restricted)
        raise DeclarationRefused(f"{named}: restricted. Write why it may come in all the same.", field="reasons")
    if not accepts and not reasons:
        raise DeclarationRefused("Write the reasons, so that the person can do better next time.", field="reasons")


def check_ending(*, is_decided: bool, is_ended: bool, ending: Ending, container_label: str) -> None:
    """Raise DeclarationRefused for a second ending, one that needs a decision first, or a container that is not named.

    What was refused and brought all the same ends like anything else: it happened.
    """
    if not is_decided and ending is not Ending.NOT_BROUGHT:
        raise DeclarationRefused("Nobody has decided about it yet. Decide first, then say what became of it.")
    if is_ended:
        raise DeclarationRefused("It has ended already.")
    if ending is Ending.DISPOSED_OF and not container_label:
        raise DeclarationRefused("Enter the label of the container it went to.", field="container")


def sees_all(person: Person) -> bool:
    """Whether somebody sees what everybody declared: those who decide, and those who oversee the lab."""
    return may(person, Permission.DECIDE_CHEMICAL) or may(person, Permission.SEE_RECORD)


def may_see(person: Person, *, owner_id: int, is_accepted: bool | None) -> bool:
    """What was let in stands in the lab, so everybody may know what it is; the rest only who has to do with it."""
    return bool(is_accepted) or person.id == owner_id or sees_all(person)


def may_end(person: Person, *, owner_id: int) -> bool:
    return person.id == owner_id or may(person, Permission.DECIDE_CHEMICAL)


def keep_apart(ingredients: Iterable[Named | DeclaredIngredient], *, h_codes: str) -> KeepApart:
    """Say which of the darkroom's solutions it must not meet, by its ingredients' families and its EUH codes.

    Nothing found is no promise that it may meet them.
    """
    families: set[Family] = set()
    not_known = []
    for ingredient in ingredients:
        try:
            families |= substance(ingredient.cas).families
        except UnknownSubstance:
            not_known.append(ingredient.name)
    groups = groups_for(families)
    hazards = {
        solution: [conflict.hazard for conflict in conflicts_between(present, groups)]
        for solution, present in _HERE.items()
    }
    hazards[_STOP_BATH] += [printed_text(code) for code in h_codes.split() if code in _GAS_WITH_ACID]
    meetings = (Meeting(solution, tuple(dict.fromkeys(told))) for solution, told in hazards.items() if told)
    return KeepApart(tuple(meetings), tuple(not_known))
