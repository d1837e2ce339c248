"""What pages and other rooms read of processes."""

from sqlalchemy import select
from sqlalchemy.orm import selectinload

from labsys.database import DbSession
from labsys.people.row_kinds import NEVER, NOTHING, Page, RowKind, Search
from labsys.processes.models import Process, ProcessStep
from labsys.records.errors import NotFound


def processes(session: DbSession) -> list[Process]:
    return list(session.execute(select(Process).order_by(Process.name)).scalars())


def process_by_name(session: DbSession, name: str) -> Process | None:
    return session.execute(select(Process).where(Process.name == name)).scalar_one_or_none()


def process_or_raise(session: DbSession, process_id: int, *, lock: bool = False) -> Process:
    query = (
        select(Process)
        .where(Process.id == process_id)
        .options(selectinload(Process.steps).joinedload(ProcessStep.product))
    )
    if lock:
        query = query.with_for_update(of=Process).execution_options(populate_existing=True)
    process = session.execute(query).scalar_one_or_none()
    if process is None:
        raise NotFound("process", process_id)
    return process


PROCESS = RowKind(
    table=Process,
    called="process",
    many="processes",
    pages=(Page("processes.show", "process_id"),),
    search=Search(select(Process.id, Process.name, NOTHING, NOTHING, NEVER), by=(Process.name,)),
)
