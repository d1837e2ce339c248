"""What people type about uses: how many of each size went through, and what it really was."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from wtforms import Field, IntegerField, RadioField, StringField, SubmitField
from wtforms.utils import unset_value
from wtforms.validators import InputRequired, Length, NumberRange, Optional, ValidationError

from labsys.baths.models import LateUse, Use, Work
from labsys.chemistry.sizes import MATERIAL_NAMES, SIZES, Material, Pieces, Size, size_of
from labsys.forms import InstantField, LabForm, given, options

_BEYOND = f"Enter a number from 1 to {Use.LARGEST_COUNT}."


@dataclass
class CountCell:
    """One size in one material, and how many of it somebody typed."""

    name: str
    size: Size
    material: Material
    typed: str = ""
    error: str = ""

    @property
    def id(self) -> str:
        return self.name.replace(" ", "-")

    def read(self) -> Pieces | None:
        """What was typed, or None for nothing. Raises ValueError for what is no count."""
        if not self.typed:
            return None
        try:
            count = int(self.typed)
        except ValueError:
            raise ValueError("Write a whole number, such as 12.") from None
        if not 0 <= count <= Use.LARGEST_COUNT:
            raise ValueError(_BEYOND)
        return Pieces(self.size, self.material, count) if count else None


class CountsField(Field):
    """How many of each size: one small field for each size and material, named `went-film-120`; `data` are pieces."""

    cells: Sequence[CountCell] = ()
    data: list[Pieces]

    def process(self, formdata: Any, data: Any = unset_value, extra_filters: Any = None) -> None:
        self.process_errors: list[str] = []
        self.typed = {name: formdata[name].strip() for name in formdata or () if name.startswith(f"{self.name}-")}
        self.data = []

    def offer(self, work: Work) -> None:
        """Hand in what goes through the line."""
        made = [(size, material) for material in work.materials for size in SIZES.values()]
        self.cells = [
            self._cell(size, material, self.typed.get(self._named(size, material), ""))
            for size, material in made
            if size.is_made_in(material)
        ]

    def fill(self, went: Iterable[Pieces]) -> None:
        """Write in what is likely, where nothing was typed."""
        likely = {self._named(pieces.size, pieces.material): str(pieces.count) for pieces in went}
        if not self.typed:
            self.cells = [self._cell(cell.size, cell.material, likely.get(cell.name, "")) for cell in self.cells]

    def pre_validate(self, form: Any) -> None:
        wrong = []
        if not_made := sorted(set(self.typed) - {cell.name for cell in self.cells}):
            wrong.append(f"“{not_made[0].removeprefix(f'{self.name}-')}” does not go through this line.")
        for cell in self.cells:
            try:
                pieces = cell.read()
            except ValueError as error:
                cell.error = f"{cell.size.key}: {error}"
                wrong.append(cell.error)
            else:
                self.data.extend([pieces] if pieces else [])
        if wrong:
            raise ValidationError(" ".join(wrong))
        if not self.data:
            raise ValidationError("Say how many went through: touch a size, or write a number beside it.")

    def _named(self, size: Size, material: Material) -> str:
        return f"{self.name}-{material}-{size.key}"

    def _cell(self, size: Size, material: Material, typed: str) -> CountCell:
        return CountCell(self._named(size, material), size, material, typed)


class UseForm(LabForm):
    """What went through, done unless it says otherwise."""

    went = CountsField("What went through")
    started = RadioField("The work is", choices=options({"done": "Done", "before": "About to start"}), default="done")
    class_name = StringField(
        "Class",
        [Optional(), Length(max=80)],
        description="One entry for the work of a whole class. Leave empty for yourself.",
    )
    used_at = InstantField("When", [Optional()], description="Leave empty for now.")
    record_done = SubmitField("The work is done already: record it")

    @property
    def asks_first(self) -> bool:
        return self.started.data == "before" and not self.record_done.data


class CorrectionForm(LabForm):
    """What it really was."""

    size = RadioField("Size", [InputRequired("Choose the size.")], validate_choice=False)
    material = RadioField(
        "Paper",
        [InputRequired("Choose RC or fibre.")],
        choices=options({material: MATERIAL_NAMES[material] for material in (Material.RC, Material.FIBRE)}),
        coerce=Material,
    )
    count = IntegerField(
        "How many it really was",
        [
            InputRequired("Enter how many, as a whole number; 0 takes the entry back."),
            NumberRange(min=0, max=Use.LARGEST_COUNT, message=f"Enter a number from 0 to {Use.LARGEST_COUNT}."),
        ],
        description="0 takes the entry back.",
    )

    only: Material | None = None

    def offer(self, *, sizes: Sequence[Size], work: Work) -> None:
        """Hand in the sizes of a line; where one material alone goes through, it is not asked."""
        self.size.choices = [(size.key, size.key) for size in sizes]
        self.only = work.materials[0] if len(work.materials) == 1 else None
        if self.only:
            del self.material

    @property
    def pieces(self) -> Pieces:
        """What it was; only of a valid form."""
        material = self.only or self.material.data
        return Pieces(size_of(key=self.size.data), material, given(self.count.data))


class RefusalForm(LabForm):
    """Why late work does not count."""

    LONGEST = LateUse.REASON_LENGTH

    reason = StringField("Why it does not count", [InputRequired("Write why it does not count."), Length(max=LONGEST)])
