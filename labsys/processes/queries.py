"""What pages and other rooms read of processes."""

from sqlalchemy import select
from sqlalchemy.orm import selectinload

from labsys.database import DbSession
from labsys.people.row_kinds import NEVER, NOTHING, Page, RowKind, Search
from labsys.processes.models import Process, ProcessStep
from labsys.records.queries import get_or_raise


def processes(session: DbSession) -> list[Process]:
    return list(session.execute(select(Process).order_by(Process.name)).scalars())


def process_by_name(session: DbSession, name: str) -> Process | None:
    return session.execute(select(Process).where(Process.name == name)).scalar_one_or_none()


def process_or_raise(session: DbSession, process_id: int, *, lock: bool = False) -> Process:
    steps = selectinload(Process.steps).joinedload(ProcessStep.product)
    return get_or_raise(session, Process, process_id, "process", lock=lock, options=[steps])


PROCESS = RowKind(
    table=Process,
    called="process",
    many="processes",
    pages=(Page("processes.show", "process_id"),),
    search=Search(select(Process.id, Process.name, NOTHING, NOTHING, NEVER), by=(Process.name,)),
)
