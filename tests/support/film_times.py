"""Rows of the lab's own developing times, made up for the tests."""

from typing import Any

from labsys.chemistry.sizes import FilmFormat
from labsys.processes import film_times
from labsys.processes.models import FilmTime
from tests.support.lab import SOURCE, SmallLab


def add_film_time(lab: SmallLab, **changes: Any) -> FilmTime:
    """An invented film at EI 400 in the developer of the small lab, 1+6: 9 min 30 s at 20 °C, in 120."""
    fields: dict[str, Any] = {
        "film": "Quarry pan 400",
        "exposure_index": 400,
        "product_id": lab.ids["product developer"],
        "water_parts_milli": 6_000,
        "temperature_milli_c": 20_000,
        "agitation": "5 s each minute",
        "film_format": FilmFormat.ROLL,
        "seconds": 570,
        "source": SOURCE,
    }
    entry = film_times.FilmTimeEntry(**{**fields, **changes})
    return film_times.add_film_time(lab.act("technician"), entry=entry)
