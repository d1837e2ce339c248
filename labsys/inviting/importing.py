"""A long list, invited in the background: in parts, so that nobody waits long to write."""

from labsys.inviting import service
from labsys.jobs.kinds import JobFailed, Kind, Made, Task
from labsys.mail.rules import why_mail_waits
from labsys.people.acts import Act
from labsys.people.models import Role
from labsys.people.permissions import NotPermitted, Permission
from labsys.people.queries import person_or_raise
from labsys.people.roster import Row
from labsys.records import queries as records
from labsys.records.errors import NotFound, Refused


def invite_in_parts(task: Task) -> Made:
    """Invite a list part by part. Begun again it invites nobody twice."""
    rows = [Row(number, name, email) for number, (name, email) in enumerate(task.parameters["rows"], 1)]
    roles = [Role(role) for role in task.parameters["roles"]]
    why = why_mail_waits(mail_server=task.config.mail_server, is_demo=records.the_lab(task.session).is_demo)
    for begin in range(0, len(rows), service.PART):
        task.tell(done=begin, of=len(rows), doing="inviting people")
        by = person_or_raise(task.session, int(task.parameters["by"]))
        try:
            act = Act(task.session, by=by, now=task.now())
            service.invite_many(act, rows=rows[begin : begin + service.PART], roles=roles, by_mail=not why)
        except (NotPermitted, NotFound, Refused) as refusal:
            raise JobFailed(str(refusal), for_good=True) from refusal
    how = f"{why}: print their cards from People, Invite many." if why else "Each gets a link by mail."
    return Made(f"{len(rows)} people are invited. {how}")


INVITE_MANY = Kind(
    name=service.INVITE_MANY, title="Invite many people", run=invite_in_parts, needs=Permission.KEEP_PEOPLE
)
