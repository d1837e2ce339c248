"""Decisions about inviting many."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from labsys.people.models import Person, Role
from labsys.people.roster import Row
from labsys.people.rules import PersonRefused


def check_roles(roles: Iterable[Role]) -> set[Role]:
    """Return the roles that everybody on a list gets. Raises PersonRefused for none."""
    wanted = set(roles)
    if not wanted:
        raise PersonRefused("Choose at least one role.", field="roles")
    return wanted


def nobody_to_print() -> PersonRefused:
    return PersonRefused("Choose at least one who is invited and has not come yet.", field="people")


def with_accounts(rows: Sequence[Row], *, here: Mapping[str, Person]) -> list[Row]:
    """The rows of a list, with those told whose address somebody here has already."""
    return [
        row if row.problem or row.email not in here else replace(row, problem=_already(here[row.email])) for row in rows
    ]


def _already(person: Person) -> str:
    if not person.is_active:
        return f"{person.name} was here and has left. Let them back in on their page."
    if not person.password_hash:
        return f"{person.name} is invited already, and has not come yet."
    return f"Here already, as {person.name}."
