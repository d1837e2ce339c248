"""What somebody asked to have planned: it stands in the address of the plan, on its code to scan, and on the record."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from labsys.chemistry.sizes import Size
from labsys.planning.facts import NOT_MEASURED, Conditions
from labsys.quantities import typed_volume

ANOTHER_FILM = "another"


@dataclass(frozen=True, slots=True)
class AskedPlan:
    """A plan as it is asked for. `volume_ul` None takes the usual one; `water_parts_milli` None that of the process.
    `vessel_id` names a tank or tray of the lab. `film` is the row of the lab's developing times whose film, exposure
    index and agitation are meant, `ANOTHER_FILM` for one that has no row, empty where nobody said.

    With a booking the plan is for its person, without one for whoever asks; `is_blank` leaves the name open.
    """

    process_id: int
    size: Size
    count: int
    volume_ul: int | None = None
    vessel_id: int | None = None
    water_parts_milli: int | None = None
    conditions: Conditions = NOT_MEASURED
    film: str = ""
    booking_id: int | None = None
    is_blank: bool = False

    @property
    def address(self) -> Mapping[str, Any]:
        """The arguments of the plan's address, as they read back; what was left open is left out."""
        return {
            "process_id": self.process_id,
            "size": self.size.key,
            "count": self.count,
            **{name: told for name, told in self._told().items() if told},
        }

    def _told(self) -> dict[str, str]:
        day = self.conditions
        return {
            "volume": typed_volume(self.volume_ul) if self.volume_ul else "",
            "vessel": "" if self.vessel_id is None else str(self.vessel_id),
            "dilution": "" if self.water_parts_milli is None else str(self.water_parts_milli),
            "film": self.film,
            "celsius": _number(day.developer_celsius),
            "room": _number(day.room_celsius),
            "cold": _number(day.cold_celsius),
            "hot": _number(day.hot_celsius),
            "booking_id": "" if self.booking_id is None else str(self.booking_id),
            "blank": "y" if self.is_blank else "",
        }


def _number(celsius: float | None) -> str:
    return "" if celsius is None else f"{celsius:g}"
