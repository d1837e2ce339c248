"""Whether the used solution of a class will have somewhere to go: what its baths hold beside the room that is left."""

from collections import Counter
from collections.abc import Collection

from labsys.baths import queries as baths
from labsys.baths.models import Bath
from labsys.courses.models import Course
from labsys.database import DbSession
from labsys.processes.models import Process
from labsys.quantities import show_volume
from labsys.waste import queries as waste
from labsys.waste.pages import view_of

IF_EMPTIED = "If the baths that are in service now are emptied after it."


def too_little_room(session: DbSession, course: Course) -> list[str]:
    """A sentence for each stream whose containers have less room than the baths of a course hold.

    The baths are those in service now in the lines of its processes: an estimate of what the class makes.
    """
    held: Counter[str] = Counter()
    for bath in baths.baths_here(session):
        if bath.is_in_service and _serves(bath, course.processes):
            held[bath.product.waste_code] += bath.vessel.level
    if course.processes and not held:
        return ["What this class makes is not known: no bath of its processes is in service."]
    containers = waste.containers_here(session)
    contents = waste.contents(session, containers, with_hazards=False)
    room: Counter[str] = Counter()
    for view in (view_of(contents[container.id]) for container in containers):
        if view.takes_more:
            room[view.container.code] += view.room_ul
    names = {stream.code: stream.name for stream in waste.streams(session)}
    return [
        f"{names.get(code, code)} has room for {show_volume(volume - room[code])} less than this class makes."
        for code, volume in sorted(held.items())
        if volume > room[code]
    ]


def _serves(bath: Bath, processes: Collection[Process]) -> bool:
    """Whether a bath stands in a line of one of these processes, or in one for any process of its material."""
    if bath.line.process_id is not None:
        return bath.line.process_id in {process.id for process in processes}
    return any(process.material in bath.line.work.materials for process in processes)
