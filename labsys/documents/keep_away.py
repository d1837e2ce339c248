"""What a label says to keep away from a bath: a line for each gas that would come off, four lines at most.

A label is read at a glance, so everyday partners come first, partners that free the same gas share a line, and the
rest are named without a reason. The page of the label tells each pair in full.
"""

from collections.abc import Iterable

from labsys.hazards.incompatibility import Group, conflicts_between
from labsys.waste.meeting import keep_apart

MOST_LINES = 4

# As they are called beside a bath; in the order in which they are likely to stand near one (common practice, no
# source).
_CALLED = {
    Group.ACID: "acid",
    Group.FIXER: "fixer",
    Group.ALKALINE_SULFITE: "developer",
    Group.HYPOCHLORITE: "bleach",
    Group.OXIDISER: "oxidiser",
    Group.CYANIDE_COMPLEX: "ferricyanide",
    Group.SULFIDE_SELENIUM: "toner",
    Group.AMMONIA: "ammonia or its salts",
    Group.ORGANIC: "alcohol or formaldehyde",
}


def keep_away(groups: Iterable[Group]) -> tuple[str, ...]:
    """Return the lines of a label that say what must not meet a solution.

    Parameters:
        groups: All groups that the solution belongs to. [-]
    Returns:
        At most `MOST_LINES` lines; none where nothing is on file. [-]

    >>> keep_away([Group.ALKALINE_SULFITE])[0]
    'Acid: frees sulfur dioxide (poisonous gas)'
    """
    own = frozenset(groups)
    if Group.SILVER_AMMONIA in own:  # meets nothing because it may not stand: there is no other line to give
        return tuple(conflict.hazard for conflict in conflicts_between({Group.SILVER_AMMONIA}, {Group.SILVER_AMMONIA}))
    gas_of = {Group(apart.name): apart.gas for apart in keep_apart(own)}
    freeing: dict[str, list[str]] = {}
    quiet: list[str] = []
    for group, called in _CALLED.items():
        if gas := gas_of.get(group):
            freeing.setdefault(gas, []).append(called)
        elif group in gas_of:
            quiet.append(called)
    lines = [f"{_joined(called)}: frees {gas} (poisonous gas)" for gas, called in freeing.items()]
    room = MOST_LINES - bool(quiet)
    if len(lines) > room:
        merged = [each for called in list(freeing.values())[room - 1 :] for each in called]
        lines[room - 1 :] = [f"{_joined(merged)}: other poisonous gases"]
    return (*lines, _joined(quiet)) if quiet else tuple(lines)


def _joined(called: list[str]) -> str:
    told = " · ".join(called)
    return told[0].upper() + told[1:]
