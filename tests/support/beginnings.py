"""What many tests begin with is done once a worker, kept, and from then on copied.

An untouched lab can begin so; where anything was written before, or a row is held, the acts are done then and there.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING, Any, Concatenate, NamedTuple, ParamSpec, TypeVar

from tests.support.application import LentApplication
from tests.support.lab_databases import LabDatabase

if TYPE_CHECKING:
    from tests.support.lab import SmallLab

Details = ParamSpec("Details")
Made = TypeVar("Made")
Key = tuple[object, ...]


class Beginning(NamedTuple):
    """How a lab was left, and what its acts gave: plain values, such as the keys of rows."""

    content: Any
    now: datetime
    ids: dict[str, int]
    made: Any


@dataclass
class SharedLab:
    """What the tests of a worker on one kind of database share."""

    database: LabDatabase[Any]
    lent: LentApplication
    known: dict[Key, Beginning] = field(default_factory=dict)


@dataclass
class Beginnings:
    """What one test begins with; `known` is what others began with before."""

    database: LabDatabase[Any]
    put_behind_application: Callable[[str], None]
    known: dict[Key, Beginning]
    path: Key | None = ()  # what was begun with so far; None while that is being done

    def begin(
        self,
        lab: "SmallLab",
        acts: "Callable[Concatenate[SmallLab, Details], Made]",
        *details: Details.args,
        **named: Details.kwargs,
    ) -> Made:
        """What these acts give, done or copied."""
        path = self._extended(lab, acts.__qualname__, repr((details, sorted(named.items()))))
        if path is None:
            return acts(lab, *details, **named)
        if path not in self.known:
            self.path = None
            made = acts(lab, *details, **named)
            self.known[path] = Beginning(self.database.keep(), lab.now, dict(lab.ids), made)
            self.path = path
            return made
        beginning = self.known[path]
        lab.session.remove()
        self.put_behind_application(self.database.fill(beginning.content))
        lab.now, lab.ids = beginning.now, dict(beginning.ids)
        self.path = path
        return beginning.made

    def _extended(self, lab: "SmallLab", *step: str) -> Key | None:
        """The path with one more step; None where this lab cannot begin so."""
        if self.path is None or " at 0x" in step[-1] or self.database.is_touched():
            return None
        if lab.session.new or lab.session.identity_map.values():
            return None  # somebody holds a row, which would be cut off from the database put in place of this one
        return (*self.path, lab.now, *sorted(lab.ids.items()), *step)
