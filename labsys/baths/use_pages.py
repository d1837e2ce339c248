"""What the pages about uses show: uses in words, what was booked, and the sizes in groups to touch."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from labsys.baths import queries, rules
from labsys.baths.models import BathLine, Use, UseBath, Work
from labsys.baths.use_forms import CountCell
from labsys.bookings import queries as bookings
from labsys.bookings.models import Booking
from labsys.bookings.rules import EARLIEST_ARRIVAL
from labsys.chemistry.sizes import MATERIAL_NAMES, SIZES, Material, Pieces, Size, size_of
from labsys.database import DbSession

_AS_BEFORE = 3  # of what somebody did last, offered again


@dataclass(frozen=True)
class CellGroup:
    """Sizes that stand together on the page, such as all in inches."""

    name: str
    unit: str
    cells: tuple[CountCell, ...]


@dataclass(frozen=True)
class MaterialCells:
    """All sizes of one material."""

    material: Material
    groups: tuple[CellGroup, ...]

    @property
    def name(self) -> str:
        words = MATERIAL_NAMES[self.material]
        return words[:1].upper() + words[1:]

    @property
    def is_typed_in(self) -> bool:
        return any(cell.typed for group in self.groups for cell in group.cells)


@dataclass(frozen=True)
class Likely:
    """What somebody most likely came to log: what they booked, or else what they did before."""

    booking: Booking | None
    booked: Pieces | None
    before: tuple[Pieces, ...]


def likely_work(session: DbSession, *, person_id: int, line: BathLine, now: datetime) -> Likely:
    """Look up what a person booked for now on this line and has not logged yet, and what they did last."""
    before = tuple(queries.last_saved(session, person_id=person_id, line_id=line.id, limit=_AS_BEFORE))
    for booking in bookings.running(session, person_id=person_id, now=now):
        if (booked := _booked(booking, line)) is None:
            continue
        since = booking.starts_at - EARLIEST_ARRIVAL
        is_logged = queries.has_logged(session, person_id=person_id, line_id=line.id, since=since)
        return Likely(booking, None if is_logged else booked, before)
    return Likely(None, None, before)


def _booked(booking: Booking, line: BathLine) -> Pieces | None:
    """What a booking means to put through a line, or None where it says nothing of it."""
    material, size = booking.planned_material, SIZES.get(booking.planned_size)
    if material is None and line.work.is_film:
        material = Material.FILM
    if material is None or size is None or not booking.planned_count:
        return None
    is_for_line = line.process_id is None or booking.process_id in (None, line.process_id)
    is_of_line = material in line.work.materials and size.is_made_in(material)
    return Pieces(size, material, booking.planned_count) if is_for_line and is_of_line else None


def in_groups(cells: Sequence[CountCell]) -> list[MaterialCells]:
    """Put the sizes into groups to look through, by material and by the unit they are called in."""
    materials = dict.fromkeys(cell.material for cell in cells)
    return [
        MaterialCells(
            material,
            tuple(
                CellGroup(name, unit, tuple(cell for cell in cells if cell.material is material and _is_in(cell, unit)))
                for name, unit in (("Rolls", "roll"), ("Inches", "in"), ("Centimetres", "cm"), ("A sizes", "A"))
                if any(cell.material is material and _is_in(cell, unit) for cell in cells)
            ),
        )
        for material in materials
    ]


def _is_in(cell: CountCell, unit: str) -> bool:
    return unit == _unit(cell.size)


def _unit(size: Size) -> str:
    if size.sides_mm is None:
        return "roll"
    return size.key.rpartition(" ")[2] if " " in size.key else "A"


def pieces_in_words(pieces: Pieces) -> str:
    """Say what is put through: "2 of 120", "5 of 8x10 in on RC paper"."""
    on = "" if pieces.material is Material.FILM else f" on {MATERIAL_NAMES[pieces.material]}"
    return f"{pieces.count} of {pieces.size.key}{on}"


def use_in_words(use: Use) -> str:
    """Say what was put through."""
    if not use.count:
        return "nothing: the entry is taken back"
    return pieces_in_words(Pieces(size_of(key=use.size), use.material, use.count))


def counted_in(use: Use) -> list[UseBath]:
    """The baths a use counts in, in working order."""
    return sorted(use.baths, key=lambda part: (rules.WORKING_ORDER[part.bath.place], part.bath_id))


def sizes_for(work: Work, *, first: str) -> list[Size]:
    """Return the sizes that go through a line, one of them first."""
    made = [size for size in SIZES.values() if any(size.is_made_in(material) for material in work.materials)]
    return sorted(made, key=lambda size: size.key != first)
