"""Forms of cylinders, tanks and trays: a tank with what it takes by size and number, a tray with its measures."""

from typing import Any, ClassVar

from wtforms import BooleanField, FieldList, FormField, RadioField, SelectField, StringField
from wtforms.validators import DataRequired, InputRequired, Length, Optional, ValidationError

from labsys.chemistry.care import KIND_NAMES
from labsys.chemistry.sizes import SIZES
from labsys.chemistry.volumes import LEAST_TRAY_DEPTH_MM
from labsys.forms import FigureField, FormRow, LabForm, VolumeField, filled, options, refuse_twins
from labsys.labware.models import WorkingVessel, WorkingVesselKind
from labsys.labware.rules import CLASS_NAMES
from labsys.labware.service import FillEntry, VesselEntry
from labsys.products.models import Product

FILL_ROWS = 6
LEAST_TRAY_SIDE_MM = 50  # of `tray_litres`


class CylinderForm(LabForm):
    nominal_ml = FigureField("It holds", [DataRequired("Enter what it holds.")], highest=10_000, unit="mL")
    division = FigureField(
        "One division of its scale",
        [DataRequired("Enter what one division stands for.")],
        scale=1_000,
        highest=10_000,
        unit="mL",
        description="The step from one mark to the next.",
    )
    least = FigureField(
        "Its lowest mark",
        scale=1_000,
        highest=10_000,
        unit="mL",
        description="Nothing under it can be read. Left empty, a tenth of what it holds is taken.",
    )
    accuracy_class = RadioField(
        "Class printed on it", [InputRequired("Choose the class.")], choices=options(CLASS_NAMES)
    )
    kept_for = SelectField("Kept for", choices=options(KIND_NAMES, first="any solution"))

    def validate_division(self, field: FigureField) -> None:
        if field.amount and self.nominal_ml.amount and field.amount > self.nominal_ml.amount * 1_000:
            raise ValidationError("One division cannot be more than the cylinder holds.")

    def validate_least(self, field: FigureField) -> None:
        if field.amount and self.nominal_ml.amount and field.amount > self.nominal_ml.amount * 1_000:
            raise ValidationError("Its lowest mark cannot be more than the cylinder holds.")


class VesselForm(LabForm):
    """What tanks and trays have in common."""

    kind: ClassVar[WorkingVesselKind]

    name = StringField(
        "Name",
        [DataRequired("Name it as it is marked."), Length(max=WorkingVessel.NAME_LENGTH)],
        description="As it is marked, so that people find it.",
    )
    capacity = VolumeField(
        "Takes at most", [DataRequired("Enter what it takes at most.")], description="2.6 L, 500 mL.", unit="mL"
    )
    source = StringField(
        "Source of its figures",
        [Optional(), Length(max=Product.SOURCE_LENGTH)],
        description="Such as: engraved on its base, or measured with water and the date.",
    )
    in_use = BooleanField("In use", default=True)

    @property
    def entry(self) -> VesselEntry:
        """What was entered; only of a valid form."""
        return VesselEntry(
            name=self.name.data or "",
            kind=self.kind,
            capacity_ul=self.capacity.amount or 0,
            source=self.source.data or "",
            **self._own(),
        )

    def _own(self) -> dict[str, Any]:
        raise NotImplementedError


class FillRow(FormRow):
    size = SelectField(
        "Size", choices=options({key: key for key, size in SIZES.items() if size.is_film}, first="Choose…")
    )
    count = FigureField("How many", highest=40)
    volume = VolumeField("Volume that covers them", unit="mL")

    needed: ClassVar[dict[str, str]] = {
        "size": "Choose the size.",
        "count": "Enter how many go in at once.",
        "volume": "Enter the volume that covers them.",
    }

    def read(self) -> None:
        """Its fields read themselves."""

    @property
    def key(self) -> tuple[object, ...]:
        return self.size.data or None, self.count.amount


class TankForm(VesselForm):
    kind = WorkingVesselKind.TANK
    fills = FieldList(FormField(FillRow, "Filling"), min_entries=FILL_ROWS)

    def validate(self, extra_validators: Any = None) -> bool:
        super().validate(extra_validators)
        refuse_twins(self.fills, at="count")
        self.fills.errors = [entry.errors for entry in self.fills.entries if entry.errors]
        return not self.errors

    def _own(self) -> dict[str, Any]:
        rows = filled(self.fills)
        return {"fills": [FillEntry(row.size.data, row.count.amount, row.volume.amount) for row in rows]}


class TrayForm(VesselForm):
    kind = WorkingVesselKind.TRAY
    length_mm = FigureField("Length inside", [DataRequired("Measure its length inside.")], highest=2_000, unit="mm")
    width_mm = FigureField("Width inside", [DataRequired("Measure its width inside.")], highest=2_000, unit="mm")
    depth_mm = FigureField(
        "Depth of solution",
        [DataRequired("Enter how deep it is usually filled.")],
        highest=150,
        unit="mm",
        description="At least 13 mm: less does not cover a moving sheet.",
    )

    def validate_length_mm(self, field: FigureField) -> None:
        _check_side(field)

    def validate_width_mm(self, field: FigureField) -> None:
        _check_side(field)

    def validate_depth_mm(self, field: FigureField) -> None:
        if field.amount and field.amount < LEAST_TRAY_DEPTH_MM:
            raise ValidationError("Less than 13 mm does not cover a moving sheet. Fill it deeper.")

    def _own(self) -> dict[str, Any]:
        return {name: self[name].amount for name in ("length_mm", "width_mm", "depth_mm")}


def _check_side(field: FigureField) -> None:
    if field.amount and field.amount < LEAST_TRAY_SIDE_MM:
        raise ValidationError("That is smaller than any tray. Measure it inside, in millimetres.")


VESSEL_FORMS = {WorkingVesselKind.TANK: TankForm, WorkingVesselKind.TRAY: TrayForm}
