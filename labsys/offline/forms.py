"""What people type about entries made without a network, and from paper after the power was gone."""

import re
from collections.abc import Iterable
from datetime import UTC, date, datetime, time, timedelta
from typing import Any, ClassVar
from zoneinfo import ZoneInfo

from flask import g
from wtforms import FieldList, FormField, HiddenField, IntegerField, SelectField, StringField
from wtforms.fields import DateField
from wtforms.validators import InputRequired, Length, NumberRange, Optional

from labsys import clock
from labsys.baths.models import BathLine, Use
from labsys.chemistry.sizes import MATERIAL_NAMES, SIZES, Material, Pieces, size_of
from labsys.forms import CLOCK_TOLERANCE, FormRow, LabForm, check_year, complain, filled, new_key
from labsys.offline.models import KeptEntry
from labsys.timetable.local_time import NoSuchLocalTime, to_instant

ROWS = 12  # as many as a page of a tally sheet has lines for
_TEXT = Length(max=KeptEntry.TEXT_LENGTH)
_CLOCK = re.compile(r"([01]?[0-9]|2[0-3])[:.]([0-5][0-9])")


class SettleForm(LabForm):
    """Whose an entry is, or what became of it."""

    whose = StringField("Whose it is", [Optional(), _TEXT], description="Their name as the lab has it, or e-mail.")
    came_to = StringField("What became of it", [Optional(), _TEXT], description="Such as: entered by hand.")


class _PaperRow(FormRow):
    """One line of a sheet, with a key of its own: sent again with the others it is entered only once."""

    presets: ClassVar[tuple[str, ...]] = ("line_key",)
    is_done = False

    line_key = HiddenField(filters=[lambda typed: typed if typed and 8 <= len(typed) <= 32 else new_key()[:32]])
    who = StringField("Who", [Length(max=KeptEntry.TEXT_LENGTH)])

    def read(self) -> None:
        """Times are read once the day is known."""

    def refuse(self, message: str) -> None:
        complain(self.who, message)
        self.is_done = False


class CameRow(_PaperRow):
    """Who came, when, and when they went."""

    needed: ClassVar[dict[str, str]] = {"who": "Write who came.", "came": "Write when they came."}

    came = StringField("Came")
    left = StringField("Went")


class WentRow(_PaperRow):
    """What went through a line."""

    presets: ClassVar[tuple[str, ...]] = ("line_key", "line", "what")
    needed: ClassVar[dict[str, str]] = {
        "who": "Write whose work it was.",
        "at": "Write when it was.",
        "count": "Write how many.",
    }

    at = StringField("When")
    line = SelectField("Line", coerce=int, validate_choice=False)
    what = SelectField("What", validate_choice=False)
    count = IntegerField("How many", [Optional(), NumberRange(min=1, max=Use.LARGEST_COUNT)])
    class_name = StringField("Class", [Length(max=80)])

    @property
    def pieces(self) -> Pieces:
        """Only of a valid row."""
        material, _, size = self.what.data.partition(" ")
        return Pieces(size_of(key=size), Material(material), self.count.data or 0)


class DowntimeForm(LabForm):
    """What was on paper of one day."""

    day = DateField("Day", [InputRequired("Write which day it was."), check_year])
    came = FieldList(FormField(CameRow, "Line"), min_entries=ROWS)
    went = FieldList(FormField(WentRow, "Line"), min_entries=ROWS)

    def offer(self, lines: Iterable[BathLine]) -> None:
        """Hand in the lines of baths; where there are none to log for, nothing is asked of them."""
        choices = [(line.id, line.name) for line in lines]
        if not choices:
            del self.went
            return
        what = [
            (f"{material.value} {size.key}", f"{size.key}, {MATERIAL_NAMES[material]}")
            for material in Material
            for size in SIZES.values()
            if size.is_made_in(material)
        ]
        for row in self.went.entries:
            row.form.line.choices, row.form.what.choices = choices, what

    @property
    def rows(self) -> list[CameRow | WentRow]:
        return [*filled(self.came), *(filled(self.went) if self.went else [])]

    def validate(self, extra_validators: Any = None) -> bool:
        super().validate(extra_validators)
        if self.went:
            self._check_choices()
        for several in (self.came, self.went):
            if several:
                several.errors = [entry.errors for entry in several.entries if entry.errors]
        if not self.rows:
            self.form_errors.append("Copy the first line of a sheet.")
        return not self.errors

    def _check_choices(self) -> None:
        for row in filled(self.went):
            if row.line.data not in dict(row.line.choices) or row.what.data not in dict(row.what.choices):
                complain(row.who, "Choose the line and the size from the lists.")


def instant_on(day: date, typed: str, *, after: datetime | None = None) -> datetime:
    """Read a time of day as on the lab's clock; one before `after` is on the day that follows.

    Raises ValueError, saying why.
    """
    read = _CLOCK.fullmatch(typed.strip())
    if read is None:
        raise ValueError(f"“{typed}” is no time of day. Write it as 14:05.")
    zone: ZoneInfo = g.zone
    at = time(int(read[1]), int(read[2]))
    try:
        instant = to_instant(datetime.combine(day, at), zone=zone)
        if after is not None and instant < after:
            instant = to_instant(datetime.combine(day + timedelta(days=1), at), zone=zone)
    except NoSuchLocalTime as error:
        raise ValueError(str(error)) from error
    now = clock.now()
    if instant > now + CLOCK_TOLERANCE:
        raise ValueError(f"{typed} is in the future. Check the day.")
    return min(instant, now).astimezone(UTC)
