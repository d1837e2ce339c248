"""Inviting many at once, and the links that are printed for them where no mail leaves the lab."""

from collections.abc import Collection, Iterable, Sequence

from labsys.inviting import letters, queries, rules
from labsys.jobs import service as jobs
from labsys.jobs.queries import job_or_raise
from labsys.people import service as people
from labsys.people.acts import Act, act
from labsys.people.models import Person, Role
from labsys.people.permissions import Permission, require
from labsys.people.roster import Row
from labsys.people.service import Invitation

PART = 200  # people invited in one act
INVITE_MANY = "invite people"


@act
def invite_many(act: Act, *, rows: Sequence[Row], roles: Iterable[Role], by_mail: bool) -> list[Person]:
    """Make an account for each who is not here yet; whoever is stays as they are. Returns the new ones.

    By mail each gets a link. Else no link is made before it is printed. Raises NotPermitted or PersonRefused.
    """
    require(act.actor, Permission.KEEP_PEOPLE)
    wanted = rules.check_roles(roles)
    here = queries.accounts(act.session, emails=[row.email for row in rows])
    named = {row.email: row.name for row in rows if row.email not in here}
    new = people.add_people(act, [(name, email) for email, name in named.items()], roles=wanted)
    for person in new:
        act.tell("person.invited", about=person, facts={"roles": sorted(wanted)})
    if by_mail and new:
        letters.write_links(act, people.make_links(act, new))
    return new


@act
def ask_to_invite(act: Act, *, rows: Sequence[Row], roles: Iterable[Role]) -> int:
    """Have a long list invited in the background, in parts; its job. Raises NotPermitted or PersonRefused."""
    require(act.actor, Permission.KEEP_PEOPLE)
    wanted = sorted(rules.check_roles(roles))
    asked = {"by": act.actor.id, "roles": wanted, "rows": [[row.name, row.email] for row in rows]}
    job_id = jobs.queue(
        act.session, kind=INVITE_MANY, due_at=act.now, now=act.now, parameters=asked, asked_by=act.actor
    )
    assert job_id is not None  # noqa: S101 - without a key nothing stands against it
    facts = {"kind": INVITE_MANY, "rows": len(rows), "roles": wanted}
    act.tell("job.asked", about=job_or_raise(act.session, job_id), facts=facts)
    return job_id


@act
def make_card_links(act: Act, *, person_ids: Collection[int]) -> list[Invitation]:
    """Make a new link for each of these who have not come yet, to be printed; earlier ones stop working.

    Whoever has come or left meanwhile is passed over. Raises NotPermitted or PersonRefused.
    """
    require(act.actor, Permission.KEEP_PEOPLE)
    waiting = queries.not_come_yet(act.session, person_ids=person_ids)
    if not waiting:
        raise rules.nobody_to_print()
    return people.new_links(act, waiting)
