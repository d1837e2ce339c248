"""The form of one row of the lab's own developing times."""

from collections.abc import Iterable
from typing import Any

from wtforms import RadioField, SelectField, StringField
from wtforms.validators import DataRequired, InputRequired, Length, Optional

from labsys.chemistry.sizes import FilmFormat
from labsys.forms import FigureField, LabForm, VersionField, complain, given, options, parsed
from labsys.processes.film_times import PPM_OF_PERCENT, FilmTimeEntry
from labsys.processes.models import FilmTime
from labsys.processes.rules import read_duration
from labsys.products.models import Product
from labsys.products.rules import read_dilution, show_dilution
from labsys.quantities import MILLI, duration

_REUSE = {"": "Not stated", "same": "The time stays the same", "longer": "Longer for each further roll in a litre"}


class FilmTimeForm(LabForm):
    film = StringField(
        "Film",
        [DataRequired("Name the film."), Length(max=FilmTime.FILM_LENGTH)],
        description="As it stands on the box.",
    )
    exposure_index = FigureField(
        "Exposure index", [InputRequired("Enter the exposure index, such as 400.")], highest=25_600
    )
    product_id = SelectField("Developer", [InputRequired("Choose the developer.")])
    dilution = StringField(
        "Dilution", [InputRequired("Write the dilution, such as 1+6, or stock.")], description="1+6, stock"
    )
    celsius = FigureField("Temperature", [InputRequired("Enter the temperature.")], scale=MILLI, highest=60, unit="°C")
    agitation = StringField(
        "Agitation",
        [DataRequired("Say how it is agitated."), Length(max=FilmTime.AGITATION_LENGTH)],
        description="Such as 30 s, then 5 s each minute; or rotary.",
    )
    film_format = SelectField(
        "Format", [InputRequired("Choose the format.")], choices=options({each: each.value for each in FilmFormat})
    )
    time = StringField("Time", [InputRequired("Write the time, such as 8:30.")], description="8:30, 8 min")
    reuse = RadioField("In a developer that film went through already", choices=options(_REUSE), default="")
    longer = FigureField(
        "Longer by",
        [Optional()],
        scale=PPM_OF_PERCENT,
        highest=100,
        unit="%",
        description="For each further roll in a litre.",
    )
    free = FigureField(
        "But not for the first",
        [Optional()],
        scale=MILLI,
        highest=100,
        description="As many rolls in a litre leave the time as it is.",
    )
    source = StringField(
        "Source",
        [DataRequired("Say where this time is given, such as the data sheet, its page and edition, or your own test.")],
        description="Data sheet, page, edition; or whose test, and when.",
    )

    def offer(self, developers: Iterable[Product]) -> None:
        """Hand in the developers there are."""
        named = {str(product.id): f"{product.name}, {product.supplier}" for product in developers}
        self.product_id.choices = list(options(named, first="Choose…").items())

    def validate(self, extra_validators: Any = None) -> bool:
        super().validate(extra_validators)
        self.milli = parsed(self.dilution, read_dilution)
        self.seconds = parsed(self.time, read_duration)
        if len(self.source.data or "") > Product.SOURCE_LENGTH:
            complain(self.source, f"Use at most {Product.SOURCE_LENGTH} characters.")
        if self.reuse.data == "longer" and not self.longer.data:
            complain(self.longer, "Enter by how much longer, or choose that it is not stated.")
        if self.reuse.data != "longer" and (self.longer.data or self.free.data):
            complain(self.reuse, "Choose that it is longer, or empty the two figures below.")
        return not self.errors

    @property
    def entry(self) -> FilmTimeEntry:
        """What was entered; only of a valid form."""
        stated = {"": None, "same": 0, "longer": self.longer.amount}
        return FilmTimeEntry(
            film=self.film.data or "",
            exposure_index=given(self.exposure_index.amount),
            product_id=int(self.product_id.data),
            water_parts_milli=given(self.milli),
            temperature_milli_c=given(self.celsius.amount),
            agitation=self.agitation.data or "",
            film_format=FilmFormat(self.film_format.data),
            seconds=given(self.seconds),
            source=self.source.data or "",
            free_milli=self.free.amount or 0,
            longer_ppm=stated[self.reuse.data or ""],
        )


class ChangeFilmTimeForm(FilmTimeForm):
    """The same, and which version it started from."""

    version = VersionField()


def typed(row: FilmTime) -> dict[str, Any]:
    """Return a row as it would be typed, to begin a change from; figures are shown by their fields."""
    return {
        **{name: getattr(row, name) for name in ("film", "exposure_index", "agitation", "film_format", "source")},
        "product_id": str(row.product_id),
        "dilution": show_dilution(row.water_parts_milli),
        "celsius": row.temperature_milli_c,
        "time": duration(row.seconds),
        "reuse": "" if row.longer_ppm is None else "longer" if row.longer_ppm else "same",
        "longer": row.longer_ppm or None,
        "free": row.free_milli or None,
        "version": str(row.version),
    }
