"""Whether record and ledger hold: asked on the command line, after a restore, and as a job every day."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta

from labsys.database import DbSession, db
from labsys.jobs.kinds import File, JobFailed, Kind, Made, Task
from labsys.ledger import queries as ledger
from labsys.people.permissions import Permission
from labsys.records import queries as records
from labsys.records.chain import canonical


@dataclass(frozen=True)
class Proof:
    """What was found: the head of the record as it was read, and the first fault, empty where all of it holds."""

    head: records.Head
    fault: str = ""

    @property
    def holds(self) -> str:
        return f"The record holds: {self.head.number} entries, head {self.head.number}:{self.head.short_hash}."


def prove(session: DbSession, *, tell: Callable[[int, int], None] = lambda _done, _of: None) -> Proof:
    """Walk record and ledger as they stand at one moment, while people work. Ends the session's transaction first."""
    session.rollback()
    if db.engine.dialect.name == "postgresql":
        session.connection(execution_options={"isolation_level": "REPEATABLE READ"})
    return Proof(records.head(session), first_fault(session, tell=tell))


def first_fault(session: DbSession, *, tell: Callable[[int, int], None] = lambda _done, _of: None) -> str:
    """The first thing in record and ledger that does not hold, or an empty text."""
    if fault := records.find_fault(session, tell=tell):
        return f"The record does not hold. {fault}"
    if wrong := ledger.wrong_levels(session):
        return f"The ledger does not hold: the level of vessel {wrong[0].vessel_id} is not the sum of its postings."
    if unbalanced := ledger.unbalanced_movements(session):
        return f"The ledger does not hold: the postings of movement {unbalanced[0]} do not sum to zero."
    return ""


def verify(task: Task) -> Made:
    """Prove the record as a job. Raises JobFailed with the first fault."""
    doing = "Entries of the record that hold"
    proof = prove(task.session, tell=lambda done, of: task.tell(done=done, of=of, doing=doing))
    if proof.fault:
        raise JobFailed(proof.fault, for_good=True)
    proven = {
        "entries": proof.head.number,
        "head": proof.head.hash,
        "ledger": "holds",
        "record": "holds",
        "verified_at": task.now().isoformat(),
    }
    content = canonical(proven).encode("utf-8")
    file = File(f"record-{proof.head.number}.json", "application/json", content)
    return Made(f"{proof.holds} The ledger holds.", file)


VERIFY = Kind(
    name="verify",
    title="Verify the record",
    run=verify,
    heavy=True,
    every=timedelta(days=1),
    needs=Permission.SEE_RECORD,
    button="Verify the record",
)
