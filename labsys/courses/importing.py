"""A long roster, put on file in the background: in parts, so that nobody waits long to write."""

from labsys.courses import service
from labsys.courses.roster import Row
from labsys.jobs.kinds import JobFailed, Kind, Made, Task
from labsys.people.acts import Act
from labsys.people.permissions import NotPermitted, Permission
from labsys.people.queries import person_or_raise
from labsys.records.errors import NotFound, Refused


def add_in_parts(task: Task) -> Made:
    """Add a roster part by part. Begun again it adds nobody twice."""
    rows = [Row(number, name, email) for number, (name, email) in enumerate(task.parameters["rows"], 1)]
    course_id, by_id = int(task.parameters["course"]), int(task.parameters["by"])
    for begin in range(0, len(rows), service.PART):
        task.tell(done=begin, of=len(rows), doing="adding people to the roster")
        by = person_or_raise(task.session, by_id)
        try:
            act = Act(task.session, by=by, now=task.now())
            service.add_students(act, course_id=course_id, rows=rows[begin : begin + service.PART])
        except (NotPermitted, NotFound, Refused) as refusal:
            raise JobFailed(str(refusal), for_good=True) from refusal
    return Made(f"{len(rows)} people are on the roster.")


ADD_LONG_ROSTER = Kind(
    name=service.ADD_STUDENTS, title="Add people to a roster", run=add_in_parts, needs=Permission.BOOK_CLASS
)
